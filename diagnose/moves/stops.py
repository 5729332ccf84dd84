"""What must not be done with the machine as it stands, in words of its own for each kind of harm.

Told only where the machine can still do it: a machine that does not run is not told to stop running. Each stop
names the check that settles it only where that check is the next thing to do.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.dismantling import with_all_after
from diagnose.knowledge.records import Hazard
from diagnose.moves.ending import tried
from diagnose.planning.keep_running import FORBIDS, MOVE, STOP, WATCH, KeepRunning
from diagnose.planning.options import CheckOption, check_options, lost_now, suspected

DO_NOT_CRANK = "do not crank"
STAYS = 0.5
"""Probability of a cause from which it is not left in, though the machine was repaired, where it wrecks more; a
machine with less is run to try and to prove the repair."""
ORDER = (STOP, DO_NOT_CRANK, MOVE, WATCH)
"""The worst first."""


@dataclass(frozen=True, slots=True)
class Stop:
    """`word`: one of ORDER. `forbids`: what must not be asked of the machine. `probability`, `running` and `moving`
    (expected damage in money): of a cause that wrecks more; 0 of a hazard, which is told with its caution.
    `clearing`: the checks that settle it, the cheapest first."""

    word: str
    name: str
    words: str
    forbids: frozenset[str]
    clearing: tuple[CheckOption, ...] = ()
    hazard: Hazard | None = None
    cause: str = ""
    probability: float = 0.0
    running: float = 0.0
    moving: float = 0.0


def stops(diagnosis: Diagnosis, advice: Iterable[KeepRunning]) -> tuple[Stop, ...]:
    """Every standing stop, the worst first."""
    least = STAYS if tried(diagnosis.knowledge, diagnosis.case) else 0.0
    found = [*_of_hazards(diagnosis), *(_of_cause(one) for one in advice if one.cause.probability >= least)]
    held = any(one.hazard and "running" in one.forbids for one in found)
    words = (STOP, DO_NOT_CRANK) if held else ORDER  # what may not run needs no word on how far
    standing = [one for one in found if one.word in words]
    return tuple(sorted(standing, key=lambda one: (ORDER.index(one.word), one.hazard is None, -one.running)))


def _of_hazards(diagnosis: Diagnosis) -> Iterable[Stop]:
    options, lost = check_options(diagnosis), lost_now(diagnosis)
    for hazard in suspected(diagnosis):
        forbids = with_all_after(hazard.forbids)
        clearing = [one for one in options if one.id in hazard.cleared_by]
        clearing.sort(key=lambda one: (one.minutes, one.id))
        word = STOP if "running" in forbids - lost else DO_NOT_CRANK
        yield Stop(word, hazard.name, hazard.caution, forbids, tuple(clearing), hazard)


def _of_cause(one: KeepRunning) -> Stop:
    return Stop(
        one.advice,
        one.cause.name,
        one.what,
        FORBIDS.get(one.advice, frozenset()),
        (one.check,) if one.check and one.advice in FORBIDS else (),
        None,
        one.cause.id,
        one.cause.probability,
        one.running,
        one.moving,
    )
