"""May the machine run on? What is rare and wrecks the engine outranks what is likely and harmless."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Noted, Opened
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Check, Damage, Knowledge
from diagnose.planning.keep_running import MOVE, RUN, STILL, STOP, WATCH, keep_running
from diagnose.planning.options import suspected
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
        replace(finding("bolt_turns", 0.001), kind="inspection"),
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


@pytest.mark.parametrize(("cost", "advice"), [(150_000, STOP), (30_000, MOVE), (5_000, WATCH), (2_000, RUN)])
def test_the_dearer_the_damage_the_stronger_the_advice(cost: float, advice: str) -> None:
    """An hour of the shop is 140; expected damage of running is about 2,900, 580, 96 and 38, of moving a tenth."""
    (found,) = [
        one for one in keep_running(seen(engine(cost, 0.5, 0.05)), Shop()) if one.cause.id != "sensor"
    ]
    assert found.advice == advice


@pytest.mark.parametrize(("moving", "advice"), [(0.1, STOP), (0.0, MOVE)])
def test_what_wrecks_it_while_it_is_moved_stops_it_where_running_alone_would_not(
    moving: float, advice: str
) -> None:
    """About 4,500 of damage of running on stand against 140 for an hour: what wrecks much, but nothing while it is
    moved, forbids load only; where moving it costs more than to stop and look, it stops."""
    found = keep_running(seen(engine(150_000, 1.0, moving)), Shop())[0]
    assert found.cause.id == "loose_on_crankshaft"
    assert found.running > 5 * Shop().time(60)
    assert found.advice == advice


def test_a_cause_that_cannot_be_behind_it_gives_no_advice() -> None:
    """Nothing but the sensor is above a finding that only the sensor can bring about."""
    known = engine()
    loose = known.causes["loose_on_crankshaft"]
    apart = replace(loose, leads_to=loose.leads_to[1:])
    only = replace(known, causes={**known.causes, loose.id: apart})
    assert [one.cause.id for one in keep_running(seen(only), Shop())] == ["sensor"]


def test_a_machine_that_cannot_run_is_not_told_to_stop_running() -> None:
    """Common practice: an engine that stopped dead on its starter is not cranked; nobody can run it."""
    stopped_hard = diagnosed("turned_half_a_turn_tipper")
    assert {one.advice for one in keep_running(stopped_hard, Shop())} == {STILL}
    assert [hazard.id for hazard in suspected(stopped_hard)] == ["hydraulic_lock"]


@pytest.mark.parametrize("id", ["knock_told_generator", "thin_oil_crane", "milk_wet_liner_crusher"])
def test_nothing_settles_a_cause_by_asking_or_by_what_is_forbidden(id: str) -> None:
    """Common practice: a driver's word proves no part sound, and nobody runs an engine to see if it may run."""
    told = keep_running(diagnosed(id), Shop())
    checks = [one.check for one in told if one.check]
    assert checks
    assert all(check.check is not None and not {"running", "load"} & set(check.wants) for check in checks)


def test_a_dear_check_makes_no_harm_lighter() -> None:
    """The same suspicion with a check of ten hours in place of ninety minutes."""
    known = engine()
    long = replace(known.checks["try_bolt"], minutes=number(600))
    dear = keep_running(seen(replace(known, checks={"try_bolt": long})), Shop())
    assert [one.advice for one in dear] == [one.advice for one in keep_running(seen(known), Shop())]
