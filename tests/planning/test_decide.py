"""The plan of a case: its totals agree with its own tree, and a check that is held back is not in it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Checked, Noted, Opened, OpenedUp
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.planning.checks import next_checks
from diagnose.planning.decide import Decision, PlanStep, decide, ends_of, exceeded_by
from diagnose.planning.options import check_options, suspected
from diagnose.planning.shop import Shop
from diagnose.planning.situation import Situation, situation
from tests.shipped import diagnosed, shipped_knowledge

pytestmark = pytest.mark.usefixtures("counted_time")

SECONDS = 0.3
SCENARIOS = ("pump_worn_plough", "oil_in_coolant_crusher")


@cache
def noted(*findings: str, checks: tuple[str, ...] = (), opened: tuple[str, ...] = ()) -> Diagnosis:
    events = [
        Opened("M-1", "hydraulic_inline_six"),
        *map(OpenedUp, opened),
        *map(Checked, checks),
        *(Noted(f, "present") for f in findings),
    ]
    return diagnose(shipped_knowledge(), fold(1, events))


@cache
def planned(id: str) -> tuple[Situation, Decision]:
    diagnosis = diagnosed(id)
    now = situation(diagnosis, Shop())
    return now, decide(diagnosis, now, SECONDS)


def steps(step: PlanStep) -> Iterator[PlanStep]:
    yield step
    for branch in step.branches:
        yield from steps(branch.then)


@pytest.mark.parametrize("id", SCENARIOS)
def test_the_expected_cost_is_that_of_its_paths(id: str) -> None:
    now, decision = planned(id)
    ends = list(ends_of(decision.first, now.problem.comeback))
    assert sum(p for p, _ in ends) == pytest.approx(1, abs=1e-6)
    assert sum(p * cost for p, cost in ends) == pytest.approx(decision.cost, rel=1e-6)


def test_what_needs_the_engine_whole_is_not_offered_once_it_is_open() -> None:
    """Common practice: coolant is looked at, and the system put under pressure, before it is drained."""
    closed = {check.id for check in check_options(noted("coolant_loss"))}
    opened = {check.id for check in check_options(noted("coolant_loss", opened=("head_off",)))}
    whole = {"look_at_coolant", "cooling_pressure_test_cold", "compression_test", "live_pressure_cranking"}
    assert whole <= closed
    assert not whole & opened
    assert "inspect_head_off" in opened


def test_before_the_head_comes_off_stands_what_needs_it_on() -> None:
    """The check that saves the most takes the head off; what it prevents and what pays before it comes first."""
    diagnosis = diagnosed("hydraulic_lock_loader")
    checks = next_checks(diagnosis, situation(diagnosis, Shop()))
    places = {check.id: place for place, check in enumerate(checks)}
    head = max(checks, key=lambda check: check.value)
    assert head.id == "inspect_head_off"
    before = [check for check in checks if check.before == head.id]
    assert "look_at_coolant" in {check.id for check in before}
    assert all(places[check.id] < places[head.id] and check.value > 0 for check in before)


@pytest.mark.parametrize("id", SCENARIOS)
def test_totals(id: str) -> None:
    """The plan is never dearer than repairing at once, and its worst path never cheaper than what is expected."""
    now, decision = planned(id)
    assert decision.cost <= decision.repair_only + 1e-6
    assert decision.worst >= decision.cost
    dearer = [p for p, cost in ends_of(decision.first, now.problem.comeback) if cost > decision.worst]
    assert sum(dearer) <= 0.01 + 1e-9
    assert 0 < decision.hours < 1000


@pytest.mark.parametrize("id", SCENARIOS)
def test_branches_of_a_check_are_all_its_results(id: str) -> None:
    for step in steps(planned(id)[1].first):
        total = sum(branch.probability for branch in step.branches)
        if step.kind == "check":
            assert total == pytest.approx(1, abs=1e-6)
            assert all(branch.when for branch in step.branches)
        else:
            assert total <= 1 + 1e-9


def test_a_cost_that_a_share_of_the_cases_exceeds() -> None:
    ends = [(0.5, 10.0), (0.45, 20.0), (0.04, 30.0), (0.01, 1000.0)]
    assert exceeded_by(ends, 0.01) == 30
    assert exceeded_by(ends, 0.009) == 1000
    assert exceeded_by(ends, 0.06) == 20


def test_a_hard_stop_holds_back_all_cranking_until_it_was_barred_by_hand() -> None:
    """Liquid in a cylinder until proved otherwise (common practice)."""
    stopped = noted("no_crank_hard_stop")
    assert [hazard.id for hazard in suspected(stopped)] == ["hydraulic_lock"]
    now = situation(stopped, Shop())
    held = {"hydraulic_lock", "unexpected_start"}
    for check in now.checks:
        clearing = (
            "bar_with_open_cylinders",
            "bar_engine_by_hand",
        )  # barred by hand, it turns: no liquid either
        assert check.id in clearing or not held & set(check.hazards)
    assert "bar_with_open_cylinders" in {check.id for check in now.checks}
    barred = noted("no_crank_hard_stop", checks=("bar_with_open_cylinders",))
    assert suspected(barred) == ()
    assert any("unexpected_start" in check.hazards for check in situation(barred, Shop()).checks)


def test_an_engine_that_does_not_start_is_not_run() -> None:
    """Nothing that needs it running is offered (common practice); what needs it cranked is."""
    offered = check_options(noted("cranks_no_start"))
    assert not [option.id for option in offered if {"running", "load"} & set(option.wants)]
    assert {"live_pressure_cranking", "watch_smoke_cranking"} <= {option.id for option in offered}
    running = {option.id for option in check_options(noted("low_power"))}
    assert {"watch_smoke_running", "drive_pedal_idle"} <= running


def test_nobody_is_asked_what_no_cause_in_question_brings_about() -> None:
    """Of a belt that squeals: whether its bearings fail early, not whether rod bearings do (common practice)."""
    asked = {id for option in check_options(noted("belt_squeals")) for id in option.findings}
    assert "belt_bearings_fail_again" in asked
    assert "bearings_fail_again" not in asked
    assert "bearings_fail_again" in {id for o in check_options(noted("oil_gauge_low")) for id in o.findings}


def test_what_nothing_on_the_machine_can_show_is_not_looked_for() -> None:
    """An engine with hydraulically actuated injection has no common-rail codes."""
    facts = shipped_knowledge().families["hydraulic_inline_six"].facts
    case = fold(1, [Opened("M-1", "hydraulic_inline_six", facts), Noted("low_power", "present")])
    options = check_options(diagnose(shipped_knowledge(), case))
    found = {finding for option in options for finding in option.findings}
    assert "rail_low_code" in shipped_knowledge().findings
    assert not [id for id in found if id.startswith("rail_") and id.endswith("_code")]
    assert "actuation_pressure_low_code" in found


def test_something_loose_on_the_crankshaft_holds_back_all_that_runs_the_engine() -> None:
    """Stop, try the bolts first (common practice)."""
    diagnosis = diagnosed("flywheel_bolts_loader")
    assert "loose_on_crankshaft" in {hazard.id for hazard in suspected(diagnosis)}
    now = situation(diagnosis, Shop())
    assert not [check.id for check in now.checks if {"cranking", "running", "load"} & set(check.wants)]
    first, *_ = next_checks(diagnosis, now)
    assert first.id == "flywheel_bolt_torque_check"


def test_an_engine_that_does_not_crank_is_no_hard_stop() -> None:
    """Batteries and cables are looked at first (common practice); nobody opens the cylinders for a dead starter."""
    dead = noted("no_crank")
    assert suspected(dead) == ()
    assert "battery_and_cable_test" in {check.id for check in situation(dead, Shop()).checks}


def test_an_engine_that_cranks_and_does_not_start_holds_nothing_back() -> None:
    assert suspected(noted("cranks_no_start")) == ()
    assert suspected(noted("cranks_no_start", "white_smoke_cranking")) == ()


def test_coolant_gone_with_white_smoke_and_rough_mornings_is_a_warning() -> None:
    """Coolant gone overnight, white smoke and a rough first start: it may stand above a piston (common
    practice)."""
    wet = noted("coolant_loss", "white_smoke_warm", "rough_first_minutes")
    assert [hazard.id for hazard in suspected(wet)] == ["hydraulic_lock"]
