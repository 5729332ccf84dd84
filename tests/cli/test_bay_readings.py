"""A value whose limits depend on the machine, typed in the bay: the fact is asked for, and nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.cases.events import Learnt, Measured, Noted, Opened
from diagnose.cases.store import Store
from diagnose.cases.understood import understood
from diagnose.cli.bay.results import ask_results
from diagnose.cli.bay.session import BaySession
from diagnose.cli.context import CommandContext
from diagnose.cli.talk import Talk
from tests.shipped import shipped_knowledge


def session(tmp_path: Path, *answers: str) -> BaySession:
    """A case of a machine of which nothing is known, and these answers."""
    path = tmp_path / "cases.sqlite"
    with Store(path) as store:
        store.new_case(Opened("L-04"))
    left = iter(answers)
    return BaySession(CommandContext(None, path), Talk(lambda _: next(left)), 1)


def test_the_fact_is_asked_for_and_learnt(tmp_path: Path) -> None:
    here = session(tmp_path, "2")
    assert here.note("battery voltage cranking 14 V")
    told, noted = here.case.history[1:]
    assert isinstance(told, Learnt)
    assert isinstance(noted, Noted)
    assert told.facts == {"system_voltage": "24 V"}
    assert (noted.finding, noted.state, noted.value) == ("cranking_voltage_low", "present", 14)


def test_where_nobody_knows_it_the_value_is_kept_and_read_later(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    here = session(tmp_path, "")
    assert here.note("battery voltage cranking 14 V")
    (kept,) = here.case.history[1:]
    assert isinstance(kept, Measured)
    capsys.readouterr()
    here.note("charging voltage 28 V")
    assert "14 V (number 2) means now: Battery voltage while cranking low" in capsys.readouterr().out
    now = {seen.finding: seen.state for seen in understood(shipped_knowledge(), here.case).case.observations}
    assert now["cranking_voltage_low"] == "present"


def test_the_result_of_a_check_asks_likewise_and_shows_the_limits(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    here = session(tmp_path, "14 V", "1")
    ask_results(here, [here.knowledge.findings["cranking_voltage_low"]])
    shown = " ".join(capsys.readouterr().out.split())
    assert "24 V: present below 19.2 V" in shown
    assert "ambient temperature below -7 degC, 24 V: present below 12 V" in shown
    assert here.case.machine.facts == {"system_voltage": "12 V"}
    assert {seen.finding: seen.state for seen in here.case.observations} == {"cranking_voltage_low": "absent"}
