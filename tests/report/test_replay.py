"""Which entries of a long case are lived through again one by one."""

from __future__ import annotations

from diagnose.cases.events import Checked, Noted, Opened, Repaired
from diagnose.report.document.replay import MOST, OF_MANY, CaseEntry, worked_out


def noted(number: int) -> list[CaseEntry]:
    return [CaseEntry((Noted(f"f{i}", "present"),)) for i in range(number)]


def test_every_entry_of_an_ordinary_case_that_tells_something() -> None:
    told = [CaseEntry((Opened("D-07"),)), CaseEntry((Checked("look"),)), *noted(MOST - 1)]
    assert worked_out(told) == {0, *range(2, MOST + 1)}


def test_a_long_case_by_its_ends_its_repairs_and_some_between() -> None:
    told = [CaseEntry((Opened("D-07"),)), *noted(500), CaseEntry((Repaired(("pump",)),)), *noted(500)]
    chosen = worked_out(told)
    assert {0, 500, 501, len(told) - 1} <= chosen
    assert len(chosen) <= OF_MANY + 2
    assert max(b - a for a, b in zip(sorted(chosen), sorted(chosen)[1:], strict=False)) < 200
