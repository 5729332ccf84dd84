"""What must not be done with a machine, and what is repaired though nobody complains any more: on records by
hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event, Noted, Opened, OpenedUp, Repaired
from diagnose.diagnosis import Diagnosis, RankedCause, diagnose
from diagnose.knowledge.records import Access, Cure, Hazard, Knowledge, Repair
from diagnose.moves.advice import Advice
from diagnose.moves.move import PROVE, REPAIR
from diagnose.moves.stops import DO_NOT_CRANK, STAYS, stops
from diagnose.planning.keep_running import MOVE, RUN, STOP, WATCH, KeepRunning, keep_running
from diagnose.planning.shop import Shop
from tests.knowledge_by_hand import HERE, cause, finding, knowledge, number
from tests.planning.test_keep_running import damage
from tests.planning.test_running_by_hand import look

ROUGH = Noted("rough", "present")
TURNS = Noted("bolt_turns", "present")


def case(*events: Event) -> Case:
    told = [Opened("M-1"), *events]
    return fold(1, [replace(event, sequence=n) for n, event in enumerate(told, 1)])


def renew(id: str, cures: str) -> Repair:
    cure = Cure(cures, number(1.0), HERE)
    return Repair(id, id, "test", number(30), (), (), (), (cure,), None, (), ("Try it.",), (), HERE)


def world(cost: float = 1e6, **hazard: Any) -> Knowledge:
    """A sensor, and something loose that wrecks the engine; a stop hazard that a rough run makes likely."""
    plain = knowledge(
        cause("sensor", 0.3, {"rough": 0.9}),
        cause("loose", 0.02, {"rough": 0.9, "bolt_turns": 0.97}, damage=damage("all", cost, 1.0, 0.0)),
        finding("rough", 0.01, other=0.05),
        replace(finding("bolt_turns", 0.005), kind="inspection"),
        replace(finding("does_not_run", 0.01), without=("running",)),
    )
    repairs = {id: renew(id, cures) for id, cures in (("renew_sensor", "sensor"), ("refit", "loose"))}
    checks = [
        look("long", 60, "bolt_turns"),
        look("b_short", 10, "bolt_turns"),
        look("a_short", 10, "bolt_turns"),
    ]
    values: dict[str, Any] = {
        "suspect": ("rough",), "above": 0.5, "forbids": ("cranking",),
        "cleared_by": tuple(one.id for one in checks), **hazard,
    }  # fmt: skip
    liquid = Hazard("liquid", "Liquid", "Bar it.", "", (), True, HERE, **values)
    return replace(
        plain,
        repairs=repairs,
        checks={one.id: one for one in checks},
        hazards={"liquid": liquid},
        access={"cover": Access("cover", "cover", (), 5, 5, (), HERE, without=("running",))},
    )


def seen(known: Knowledge, *events: Event) -> Diagnosis:
    return diagnose(known, case(*events))


# ---- stops ----


def test_a_hazard_stops_what_it_forbids_and_all_that_follows_from_it() -> None:
    (one,) = stops(seen(world(), ROUGH), ())
    assert (one.word, one.name, one.words) == (STOP, "Liquid", "Bar it.")
    assert one.forbids == {"cranking", "running", "load"}
    assert one.hazard is not None
    assert (one.cause, one.probability, one.running, one.moving) == ("", 0, 0, 0)
    assert [check.id for check in one.clearing] == ["a_short", "b_short", "long"]


@pytest.mark.parametrize("event", [Noted("does_not_run", "present"), OpenedUp("cover")], ids=str)
def test_a_machine_that_cannot_run_is_told_not_to_crank(event: Event) -> None:
    """It still cranks, so the hazard stands; nobody can run it, so nobody is told to stop."""
    (one,) = stops(seen(world(), ROUGH, event), ())
    assert one.word == DO_NOT_CRANK
    assert one.forbids == {"cranking", "running", "load"}


def test_what_clears_it_is_among_its_own_checks() -> None:
    (one,) = stops(seen(world(cleared_by=("long",)), ROUGH), ())
    assert [check.id for check in one.clearing] == ["long"]


def running(word: str, probability: float = 0.3, worth: float = 7.0) -> KeepRunning:
    ranked = RankedCause("loose", "Loose", "test", 0.02, probability, "", True)
    (check,) = keep_running(seen(world(1000.0, above=1.0), ROUGH), Shop())
    return replace(check, cause=ranked, advice=word, what="all", running=worth, moving=3.0)


@pytest.mark.parametrize(
    ("word", "forbids", "cleared"),
    [(STOP, {"running", "load"}, True), (MOVE, {"load"}, True), (WATCH, set(), False)],
)
def test_a_cause_stops_what_its_advice_forbids(word: str, forbids: set[str], cleared: bool) -> None:
    (one,) = stops(seen(world(above=1.0), ROUGH), [running(word)])
    assert (one.word, one.name, one.words, one.hazard, one.cause) == (word, "Loose", "all", None, "loose")
    assert one.forbids == forbids
    assert (one.probability, one.running, one.moving) == (0.3, 7.0, 3.0)
    assert bool(one.clearing) is cleared


def test_a_cause_that_nothing_settles_is_a_stop_that_nothing_clears() -> None:
    (one,) = stops(seen(world(above=1.0), ROUGH), [replace(running(STOP), check=None)])
    assert one.clearing == ()


def test_the_worst_comes_first() -> None:
    """By word; of one word the hazard before the causes, and these by what they wreck. "Run to the shop" is
    none."""
    told = [running(WATCH), running(MOVE), running(RUN), running(STOP, worth=1.0), running(STOP, worth=9.0)]
    found = stops(seen(world(above=1.0), ROUGH), told)
    assert [(one.word, one.running) for one in found] == [
        (STOP, 9.0), (STOP, 1.0), (MOVE, 7.0), (WATCH, 7.0),
    ]  # fmt: skip


def test_what_must_not_run_at_all_is_not_told_how_far_it_may() -> None:
    told = [running(WATCH), running(MOVE), running(STOP)]
    found = stops(seen(world(), ROUGH), told)
    assert [(one.word, one.hazard is None) for one in found] == [(STOP, False), (STOP, True)]
    found = stops(seen(world(), ROUGH, Noted("does_not_run", "present")), told)
    assert [one.word for one in found] == [STOP, DO_NOT_CRANK]


REPAIRED = Repaired(("renew_sensor",), ("sensor",))
GONE = Noted("rough", "absent")


@pytest.mark.parametrize(
    ("events", "told"),
    [
        ([ROUGH], [0.49, 0.51]),  # nothing was repaired
        ([ROUGH, REPAIRED], [0.51]),  # to be tried
        ([ROUGH, REPAIRED, GONE], [0.51]),  # to be proven
        ([ROUGH, REPAIRED, ROUGH], [0.49, 0.51]),  # in vain
    ],
)
def test_a_machine_just_repaired_is_run_to_try_it_unless_a_cause_likely_stays(
    events: Sequence[Event], told: list[float]
) -> None:
    given = [running(STOP, STAYS + off) for off in (-0.01, 0.01)]
    found = stops(seen(world(above=1.0), *events), given)
    assert [one.probability for one in found] == told


def test_just_so_likely_it_stays() -> None:
    assert stops(seen(world(above=1.0), ROUGH, REPAIRED), [running(STOP, STAYS)])


# ---- what is left in ----


def move(known: Knowledge, *events: Event) -> tuple[str, str]:
    one = Advice(known, case(*events), Shop()).move
    return one.kind, one.id


def left(known: Knowledge, *events: Event) -> float:
    return next(one.probability for one in seen(known, *events).causes if one.id == "loose")


def test_what_is_still_there_and_wrecks_more_is_repaired_though_nobody_complains() -> None:
    events = (ROUGH, TURNS, REPAIRED, GONE)
    known = world(above=1.0)
    weak = cause("loose", 0.02, {"rough": 0.3, "bolt_turns": 0.97}, damage=known.causes["loose"].damage)
    known = replace(known, causes={**known.causes, "loose": weak})
    assert left(known, *events) > STAYS
    assert move(known, *events) == (REPAIR, "refit")


def test_what_is_hardly_there_or_wrecks_little_is_not() -> None:
    assert move(world(above=1.0), ROUGH, REPAIRED, GONE)[0] == PROVE
