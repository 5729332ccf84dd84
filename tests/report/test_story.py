"""The steps of a case: what was known after each, checked against published and twice derived numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Closed, Event, Learnt, Noted, Opened, Repaired, Withdrawn
from diagnose.knowledge.records import Cure, Knowledge, Repair
from diagnose.planning.shop import Shop
from diagnose.report.document.case_record import CaseReport
from diagnose.report.document.gather import case_report
from diagnose.report.document.replay import entries
from tests.knowledge_by_hand import HERE, cause, condition, finding, knowledge, number
from tests.report.cases import CAME_BACK, DONE, METAL, NO_START, OPENED, SEEN, case_of, small, told


def of(known: Knowledge, *events: Event) -> CaseReport:
    numbered = [replace(event, sequence=n) for n, event in enumerate((Opened("M"), *events), 1)]
    return case_report(known, fold(0, numbered), Shop())


def trace(report: CaseReport, id: str) -> tuple[float, ...]:
    return next(one.values for one in report.story.traces if one.id == id)


def test_each_step_weighs_what_good_says() -> None:
    """Weight of evidence (Good 1950) on the network of Lauritzen & Spiegelhalter 1988: an abnormal X-ray speaks
    for lung cancer with P(x | lung) / P(x | no lung) = 16.4231130178, 12.1545548155 decibans; derived from the
    published tables, P(lung) = 0.055, P(tuberculosis) = 0.0104."""
    asia = knowledge(
        cause("lung", 0.055, {"either": 1.0}),
        cause("tub", 0.0104, {"either": 1.0}),
        condition("either", 0.0, {"xray": 1 - 0.02 / 0.95}),
        finding("xray", 0.05),
    )
    (step,) = [step for step in of(asia, Noted("xray", "present")).story.steps if step.kind == "noted"]
    move = next(move for move in step.moves if move.id == "lung")
    assert move.before == pytest.approx(0.055, abs=1e-12)
    assert move.decibans == pytest.approx(12.1545548155, abs=1e-8)


def test_the_traces_are_the_posteriors_before_and_after_a_repair() -> None:
    """The numbers of tests/network/test_epochs.py, derived there by enumeration and in closed form."""
    plain = knowledge(cause("a", 0.10, {"c": 0.9}), cause("b", 0.04, {"c": 0.7}), finding("c", 0.02))
    cures = Cure("a", number(0.95), HERE)
    mend = Repair("mend", "Mend a", "test", number(60), (), (), (), (cures,), None, (), (), (), HERE)
    known = replace(plain, repairs={"mend": mend})
    report = of(
        known, Noted("c", "present"), Repaired(("mend",), ("a",)), Noted("c", "present"), Closed(("b",))
    )
    assert report.story.moments == (0, 2, 3, 4)
    assert trace(report, "a") == pytest.approx(
        (0.10, 0.679388212396, 0.05 * 0.679388212396, 0.087454559093), abs=1e-11
    )
    assert trace(report, "b") == pytest.approx(
        (0.04, 0.220006848369, 0.220006848369, 0.546971263483), abs=1e-11
    )


def test_a_withdrawn_entry_moves_nothing_and_is_listed() -> None:
    wrong = Noted("smoke_warm", "present")
    taken_back = told(OPENED, NO_START, wrong, Withdrawn(3, "a cold morning"), METAL)
    without = told(OPENED, NO_START, METAL)
    assert taken_back.causes == without.causes
    assert [step.moves for step in taken_back.story.steps] == [step.moves for step in without.story.steps]
    assert taken_back.withdrawn == ("3: White smoke with the engine warm",)


def test_what_one_value_or_code_sets_is_one_step() -> None:
    rest = Noted("battery_rest", "dead", text="battery 11.2 V", value=11.2, unit="V")
    case = case_of(
        OPENED,
        rest,
        replace(rest, finding="battery_cranking", state="low"),
        replace(NO_START, text="same remark"),
        replace(METAL, text="same remark"),
    )
    assert [len(entry.events) for entry in entries(case)] == [1, 2, 1, 1]
    assert sum((entry.events for entry in entries(case)), ()) == case.history


def test_only_what_tells_something_is_a_moment() -> None:
    """The check and the closing change nothing; facts of the machine do."""
    report = told(*DONE)
    kinds = [report.story.steps[number - 1].kind for number in report.story.moments if number]
    assert kinds == ["noted", "noted", "noted", "repaired", "noted", "noted"]
    learnt = told(OPENED, NO_START, Learnt({"duty": "long haul"}))
    assert learnt.story.moments == (0, 2, 3)
    assert any(move.id == "seal_out" for move in learnt.story.steps[2].moves)


def test_a_cause_is_excluded_by_what_speaks_against_it() -> None:
    """A heater that warms is not dead, batteries at 12.8 V are not flat (common practice)."""
    warm = Noted("heater_cold", "absent")
    full = Noted("battery_rest", "normal", text="battery at rest 12.8 V", value=12.8, unit="V")
    report = told(OPENED, NO_START, warm, full, METAL)
    gone = {one.id: one for one in report.excluded}
    assert {"heater_dead", "batteries_flat"} <= set(gone)
    assert gone["heater_dead"].because[0].plain == "Heater stays cold: no"
    assert gone["heater_dead"].because[0].decibans < -10
    assert gone["heater_dead"].now < 0.05 < gone["heater_dead"].highest
    assert "pump_worn" not in gone


def test_what_was_found_at_the_end_is_not_excluded_though_it_is_repaired() -> None:
    report = told(*DONE)
    assert trace(report, "pump_worn")[-1] < 0.05
    assert "pump_worn" not in {one.id for one in report.excluded}
    assert (report.arguments[0].cause.id, report.arguments[0].step) == ("pump_worn", 6)
    (found,) = report.closing.found if report.closing else ()
    assert found.probability == pytest.approx(report.arguments[0].cause.probability)


def test_visits_tell_a_comeback_from_the_first_time() -> None:
    first, second = told(*CAME_BACK).visits
    assert (first.why, first.comeback, first.closing is not None) == ("no start since Monday", False, True)
    assert (second.why, second.comeback, second.closing) == ("no start again", True, None)


def test_findings_that_cannot_all_be_true_are_told_and_lose_nothing() -> None:
    """Nothing in this knowledge can bring `never` about."""
    known = knowledge(cause("a", 0.1, {"c": 0.9}), finding("c", 0.02), finding("never", 0.0))
    report = of(known, Noted("c", "present"), Noted("never", "present"), Noted("c", "absent"))
    assert report.impossible == ("never",)
    assert len(report.story.steps) == 4
    assert (report.causes, report.proposal, report.checks) == ((), None, ())
    assert report.doubts[0].full.startswith("These cannot all be true")


def test_a_void_and_an_empty_case_tell_nothing_more_than_they_know() -> None:
    empty, void = told(OPENED), told(OPENED, Withdrawn(1))
    assert (empty.causes, empty.works, empty.proposal, empty.checks, empty.arguments) == (
        (),
        (),
        None,
        (),
        (),
    )
    assert not empty.void
    assert void.void
    assert void.doubts == ()
    assert case_report(small(), Case(3), Shop()).story.steps == ()


def test_going_through_tells_how_far_it_is() -> None:
    heard: list[tuple[int, int]] = []
    case_report(small(), case_of(*SEEN), Shop(), tell=lambda done, of: heard.append((done, of)))
    assert heard == [(n, 5) for n in range(1, 6)]
