"""May the machine run on? What is rare and wrecks the engine outranks what is likely and harmless."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Noted, Opened
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Check, Damage, Knowledge
from diagnose.planning.keep_running import MOVE, RUN, STOP, keep_running
from diagnose.planning.options import held_back, suspected
from diagnose.planning.shop import Shop
from tests.knowledge_by_hand import HERE, cause, finding, knowledge, number
from tests.shipped import diagnosed


def damage(what: str, cost: float, running: float, moving: float) -> Damage:
    return Damage(what, number(cost), number(running), number(moving), HERE)


def engine(cost: float = 150_000, running: float = 0.5, moving: float = 0.05) -> Knowledge:
    """A likely sensor that costs little, and something loose on the crankshaft that wrecks the engine."""
    plain = knowledge(
        cause("sensor", 0.3, {"rough": 0.9}, damage=damage("a spoilt filter", 400, 0.1, 0.0)),
        cause("loose_on_crankshaft", 0.015, {"rough": 0.9, "bolt_turns": 0.97},
              damage=damage("crankshaft and block", cost, running, moving)),
        finding("rough", 0.01, other=0.15),
        finding("bolt_turns", 0.001),
    )  # fmt: skip
    look = Check(
        "try_bolt", "Try the bolt", "test", number(90), (), (), (), ("bolt_turns",), ("Try it.",), (), HERE
    )
    return replace(plain, checks={"try_bolt": look})


def seen(known: Knowledge) -> Diagnosis:
    return diagnose(known, fold(1, [Opened("M-1"), Noted("rough", "present")]))


def test_three_per_cent_of_something_loose_outrank_sixty_of_a_sensor() -> None:
    """150,000 of damage at 3 %: stop now; the sensor at over 60 % may run to the shop (design of the decision; the
    sums are the test's own)."""
    diagnosis = seen(engine())
    probability = {one.id: one.probability for one in diagnosis.causes}
    assert probability["sensor"] > 0.6
    assert 0.02 < probability["loose_on_crankshaft"] < 0.04
    first, second = keep_running(diagnosis, Shop())
    assert (first.cause.id, first.advice) == ("loose_on_crankshaft", STOP)
    assert (second.cause.id, second.advice) == ("sensor", RUN)
    assert first.running == pytest.approx(probability["loose_on_crankshaft"] * 0.5 * 150_000)
    assert first.moving == pytest.approx(probability["loose_on_crankshaft"] * 0.05 * 150_000)


def test_the_check_that_settles_it_is_named_with_its_price() -> None:
    shop = Shop(labour=100, downtime=20)
    first = keep_running(seen(engine()), shop)[0]
    assert first.check is not None
    assert first.check.id == "try_bolt"
    assert first.ruling_out == pytest.approx(90 / 60 * 120)


@pytest.mark.parametrize(("cost", "advice"), [(150_000, STOP), (40_000, MOVE), (4_000, RUN)])
def test_the_dearer_the_damage_the_stronger_the_advice(cost: float, advice: str) -> None:
    """Ruling it out costs 210 (90 min); expected damage of running is about 1,000, 300 and 30 of it."""
    (found,) = [one for one in keep_running(seen(engine(cost, 0.5, 0.0)), Shop()) if one.cause.id != "sensor"]
    assert found.advice == advice


@pytest.mark.parametrize(("moving", "advice"), [(0.1, STOP), (0.0, MOVE)])
def test_what_wrecks_it_while_it_is_moved_stops_it_where_running_alone_would_not(
    moving: float, advice: str
) -> None:
    """About 450 of damage either way stand against 210 for the check: too little to stop for running on (five
    times 210), but moving it costs more than ruling it out."""
    found = keep_running(seen(engine(150_000, 0.1, moving)), Shop())[0]
    assert found.cause.id == "loose_on_crankshaft"
    assert found.ruling_out < found.running < 5 * found.ruling_out
    assert found.advice == advice


def test_a_cause_that_cannot_be_behind_it_gives_no_advice() -> None:
    """Nothing but the sensor is above a finding that only the sensor can bring about."""
    known = engine()
    loose = known.causes["loose_on_crankshaft"]
    apart = replace(loose, leads_to=loose.leads_to[1:])
    only = replace(known, causes={**known.causes, loose.id: apart})
    assert [one.cause.id for one in keep_running(seen(only), Shop())] == ["sensor"]


def test_nothing_that_a_stop_hazard_holds_back_settles_a_cause() -> None:
    stopped_hard = diagnosed("turned_half_a_turn_tipper")
    live = suspected(stopped_hard)
    assert live
    checks = [one.check for one in keep_running(stopped_hard, Shop()) if one.check]
    assert checks
    assert all(held_back(check.hazards, check.id, live, check.wants) is None for check in checks)
