"""A plan in words and figures, on plans made by hand: the money of its paths, its minutes, what stands
together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from diagnose.planning.decide import TO_A_SPECIALIST, Branch, PlanStep, decide, ends_of, exceeded_by
from diagnose.planning.options import CheckOption
from diagnose.planning.problem import Test as Look
from diagnose.planning.situation import Situation
from tests.near import near
from tests.planning import test_repairs_in_money as money
from tests.planning.test_running_by_hand import look

TELLS = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
CASE = money.diagnosis(money.known(), None, {"worn": 0.7, "leaks": 0.3})


def situation(price: float = 12.0, minutes: float = 12.0, **rest: Any) -> Situation:
    """A look that tells the pump (110, 70 minutes with the cover) from the seal (60, 40 minutes)."""
    plain = money.standing([0.7, 0.3], money.BOTH, [[1, 0], [0, 1]], **rest)
    check = CheckOption(
        "look", "Look", minutes, look("look", minutes, "rough", hazards=("fuel",)), ("rough",), ()
    )
    return replace(
        plain,
        problem=replace(plain.problem, tests=(Look("look", price, 0, TELLS),)),
        checks=(check,),
        results=(({"rough": "absent"}, {"rough": "present"}),),
    )  # fmt: skip


def test_a_plan_with_a_look() -> None:
    """12 + 0.7 x 110 + 0.3 x 60 = 107; 12 + 0.7 x 70 + 0.3 x 40 = 73 minutes."""
    told = decide(CASE, situation())
    first = told.first
    assert (first.kind, first.name, first.check, first.repairs) == (
        "check",
        "Look",
        situation().checks[0],
        (),
    )
    assert (first.own_cost, first.cost, told.cost) == (12, near(107), near(107))
    assert first.minutes == near(73)
    assert told.hours == near(73 / 60)
    assert told.repair_only == near(137)
    assert told.worst == near(122)
    assert [hazard.id for hazard in first.hazards] == ["fuel"]
    pump, seal = first.branches  # the likeliest first
    assert (pump.when, pump.probability) == (({"rough": "absent"},), near(0.7))
    assert (seal.when, seal.probability) == (({"rough": "present"},), near(0.3))
    assert (pump.then.kind, pump.then.name, pump.then.repairs) == ("repair", "Pump", (money.PUMP,))
    assert (pump.then.cost, pump.then.minutes, pump.then.branches) == (near(110), 70, ())
    assert [hazard.id for hazard in pump.then.hazards] == ["fuel", "crush"]


def test_a_plan_of_repairs_alone() -> None:
    """110 + 0.3 (30 + 60) = 137; 70 + 0.3 x 40 = 82 minutes, for the cover was closed for the trial."""
    told = decide(CASE, situation(price=500.0))
    assert (told.first.name, told.first.cost, told.first.own_cost) == (
        "Pump",
        near(137),
        near(119),
    )
    (still,) = told.first.branches
    assert (still.when, still.probability, still.then.name) == ((), near(0.3), "Seal")
    assert told.first.minutes == near(82)
    assert told.worst == near(200)
    opened = decide(CASE, situation(price=500.0, open_now=1))
    assert opened.first.minutes == near(60 + 0.3 * 40)
    assert [hazard.id for hazard in opened.first.hazards] == ["fuel"]


def test_it_is_handed_over_where_that_costs_less() -> None:
    told = decide(CASE, situation(price=500.0, last_resort=80.0))
    assert (told.first.kind, told.first.name, told.first.cost) == (
        "hand over",
        TO_A_SPECIALIST,
        near(80),
    )
    assert (told.first.minutes, told.first.check, told.first.branches) == (0, None, ())
    assert told.first.own_cost == near(80)


def test_a_plan_can_begin_with_what_it_is_told_to() -> None:
    told = decide(CASE, situation(), first=("fix", 1))
    assert (told.first.kind, told.first.name) == ("repair", "Seal")
    assert told.cost == near(60 + 0.7 * (30 + 110))


def test_where_time_costs_nothing_minutes_are_those_of_the_work() -> None:
    free = replace(situation(), shop=replace(money.SHOP, labour=0.0))
    assert decide(CASE, free).first.minutes == near(12 + 0.7 * 60 + 0.3 * 30)


def test_minutes_of_dismantling_are_its_money_by_the_rate() -> None:
    """At 2 a minute the cover, which costs 10, takes 5."""
    dear = replace(situation(), shop=replace(money.SHOP, labour=120.0))
    assert decide(CASE, dear).first.minutes == near(12 + 0.7 * 65 + 0.3 * 35)


def test_what_a_check_opens_stays_open_for_the_repair_after_it() -> None:
    now = situation()
    inside = replace(now.problem.tests[0], access=1)
    told = decide(CASE, replace(now, problem=replace(now.problem, tests=(inside,))))
    assert (told.cost, told.first.minutes) == (
        near(22 + 0.7 * 100 + 0.3 * 50),
        near(22 + 0.7 * 60 + 0.3 * 30),
    )
    assert {hazard.id for hazard in told.first.hazards} == {"crush", "fuel"}
    assert [hazard.id for hazard in told.first.branches[0].then.hazards] == ["fuel"]


def three() -> Situation:
    """As before, but the look has a third result that says as little as the first one."""
    now = situation()
    table = np.array([[1.0, 0.0, 0.0], [0.25, 0.0, 0.75], [0.0, 1.0, 0.0]])
    results = (({"rough": "absent"}, {"rough": "present"}, {"rough": "much"}),)
    test = replace(now.problem.tests[0], results=table)
    return replace(now, problem=replace(now.problem, tests=(test,)), results=results)


def test_results_with_the_same_last_step_stand_together() -> None:
    pump, seal = decide(CASE, three()).first.branches
    assert pump.when == ({"rough": "absent"}, {"rough": "much"})
    assert (pump.probability, pump.then.cost) == (near(0.7), near(110))
    assert seal.when == ({"rough": "present"},)


def test_results_after_which_something_follows_stay_apart() -> None:
    """Both leave the pump first, by 0.35 to 0.18 and 0.35 to 0.12, and the seal where it was not the pump."""
    table = np.array([[1.0, 0.0], [0.5, 0.5], [0.6, 0.4]])
    now = situation(price=0.0)
    now = replace(now, problem=replace(now.problem, tests=(replace(now.problem.tests[0], results=table),)))
    found = decide(CASE, now, first=("test", 0)).first.branches
    assert [(one.then.name, one.when) for one in found] == [
        ("Pump", ({"rough": "absent"},)), ("Pump", ({"rough": "present"},))
    ]  # fmt: skip
    assert [one.then.branches[0].probability for one in found] == near([0.18 / 0.53, 0.12 / 0.47])


def test_handing_over_at_differing_cost_is_told_with_its_mean() -> None:
    """The pump costs 50 to be handed over, the seal 58, less than any repair: 0.7 x 50 + 0.3 x 58."""
    now = situation(price=0.0, last_resort=np.array([0.0, 50.0, 58.0]))
    (over,) = decide(CASE, now, first=("test", 0)).first.branches
    assert (over.then.kind, over.probability) == ("hand over", near(1))
    assert (over.then.cost, over.then.own_cost) == near((52.4, 52.4))


def end(cost: float) -> PlanStep:
    return PlanStep("hand over", "", cost, cost, 0, None, (), (), ())


def step(kind: str, own: float, *branches: tuple[float, PlanStep]) -> PlanStep:
    return PlanStep(kind, "", 0, own, 0, None, (), (), tuple(Branch((), p, then) for p, then in branches))


def test_every_end_with_what_was_spent_on_the_way() -> None:
    """A look (10); in 0.4 a repair (100, of which 0.25 x 30 for the comeback) that helps in 0.75, else
    handing over (500); in 0.6 handing over (200)."""
    plan = step("check", 10, (0.4, step("repair", 107.5, (0.25, end(500)))), (0.6, end(200)))
    found = sorted(ends_of(plan, 30.0))
    assert found == [near((0.1, 640)), near((0.3, 110)), near((0.6, 210))]


def test_the_dearest_in_a_hundred_are_left_out() -> None:
    ends = [(0.985, 10.0), (0.005, 2000.0), (0.01, 300.0)]
    assert exceeded_by(ends, 0.01) == 300
    assert exceeded_by(ends, 0.02) == 10
    assert exceeded_by([], 0.01) == 0
