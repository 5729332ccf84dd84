"""What of a check of questions was left out comes back when other causes come up; what nobody could tell does not;
a test of each cylinder is told with the cylinder (common practice)."""

from __future__ import annotations

from pathlib import Path

from diagnose.cases.events import Checked, Noted
from diagnose.cases.waiting import done_in_part
from diagnose.cli.bay.placing import ask_place
from diagnose.cli.bay.results import ask_results, ask_together
from diagnose.diagnosis import diagnose
from diagnose.knowledge.observable import LOOKED, WHERE
from diagnose.planning.options import check_options
from tests.cli.test_bay_readings import session
from tests.shipped import shipped_knowledge

LAMPS = "ask_which_lamp"
MISS, CUT_OUT = "misfire_one_cylinder", "cutout_no_change"


def left_of(here: object, check: str) -> tuple[str, ...]:
    case = here.case  # type: ignore[attr-defined]
    found = check_options(diagnose(shipped_knowledge(), case))
    return next((one.findings for one in found if one.id == check), ())


def test_the_rest_comes_back_when_other_causes_come_up(tmp_path: Path) -> None:
    """Which lamp, of a belt that squeals: that of the oil comes up once it knocks."""
    here = session(tmp_path, "?1")
    here.record((Noted("belt_squeals", "present"),))
    asked = left_of(here, LAMPS)
    assert asked
    assert "oil_gauge_low" not in asked
    ask_together(here, [here.knowledge.findings[id] for id in asked], LAMPS)
    assert done_in_part(here.case) == {LAMPS}
    assert left_of(here, LAMPS) == ()
    here.record((Noted("knock_any", "present"),))
    again = left_of(here, LAMPS)
    assert "oil_gauge_low" in again
    assert not set(again) & set(asked)


def test_what_nobody_could_tell_is_not_asked_again(tmp_path: Path) -> None:
    here = session(tmp_path, "3")
    finding = here.knowledge.findings["flat_after_running"]
    ask_results(here, [finding])
    assert here.case.epochs[-1].checks == (f"{LOOKED}{finding.id}",)


def test_a_test_of_each_cylinder_is_told_with_the_cylinder(tmp_path: Path) -> None:
    here = session(tmp_path, "1", "cylinder 99", "4")
    ask_results(here, [here.knowledge.findings[CUT_OUT]])
    (seen,) = here.case.observations
    assert (seen.finding, seen.state, seen.place) == (CUT_OUT, "present", "cylinder 4")


def test_a_place_is_asked_for_what_was_told_without(tmp_path: Path) -> None:
    here = session(tmp_path, "3", "")
    here.record((Noted(MISS, "present"),))
    ask_place(here, f"{WHERE}{MISS}")
    assert here.case.observations[-1].place == "cylinder 3"
    ask_place(here, f"{WHERE}{MISS}")
    assert isinstance(here.case.history[-1], Checked)
