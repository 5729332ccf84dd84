"""May the machine run on? For each cause that wrecks more than itself: stop, move only, or run to the shop.

The expected damage of running on, P(cause) x P(damage) x cost, stands against what it takes to rule the cause out
here and now, at least an hour's work. So two per cent of something loose on the crankshaft outrank sixty per cent
of a bad sensor. A cause that the findings have not made likelier than on any machine stops nobody.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.knowledge.paths import links_of, strengths_below
from diagnose.knowledge.records import Knowledge
from diagnose.planning.options import (
    CheckOption,
    access_path,
    check_options,
    held_back,
    open_states,
    suspected,
)
from diagnose.planning.shop import Shop

STOP, MOVE, RUN = "stop now", "move only", "run to the shop"
RAISED = 1.5
TELLING = 0.6
SELDOM = 0.05


@dataclass(frozen=True, slots=True)
class KeepRunning:
    """The advice for one cause. `running`, `moving`: expected damage in money; `ruling_out`: what the cheapest
    check that can settle it costs, and its name."""

    cause: RankedCause
    advice: str
    what: str
    running: float
    moving: float
    ruling_out: float
    check: CheckOption | None


def keep_running(diagnosis: Diagnosis, shop: Shop) -> tuple[KeepRunning, ...]:
    """Advice for every cause that can be behind what was found and has a costly consequence, worst first."""
    costly = [c for c in diagnosis.causes if c.relevant and diagnosis.knowledge.causes[c.id].damage]
    settled = _cheapest_checks(diagnosis, costly, shop)
    found = [_advice(diagnosis, cause, settled.get(cause.id), shop) for cause in costly]
    return tuple(sorted(found, key=lambda one: -one.running))


def _advice(
    diagnosis: Diagnosis, cause: RankedCause, settled: tuple[float, CheckOption] | None, shop: Shop
) -> KeepRunning:
    damage = diagnosis.knowledge.causes[cause.id].damage
    assert damage is not None
    running = cause.probability * damage.running.value * damage.cost.value
    moving = cause.probability * damage.moving.value * damage.cost.value
    ruling_out, check = settled or (shop.time(60), None)
    bar = max(ruling_out, shop.time(60))
    advice = RUN
    if cause.probability >= RAISED * cause.prior:
        advice = STOP if moving > bar or running > 5 * bar else MOVE if running > bar else RUN
    return KeepRunning(cause, advice, damage.what, running, moving, ruling_out, check)


def _cheapest_checks(
    diagnosis: Diagnosis, causes: Sequence[RankedCause], shop: Shop
) -> dict[str, tuple[float, CheckOption]]:
    """For each cause the cheapest check that shows a finding which the cause mostly brings about, and which
    seldom shows without reason: not found, it leaves little of the cause. None that a stop hazard holds back:
    nobody cranks an engine with liquid in a cylinder to settle something else."""
    knowledge, live = diagnosis.knowledge, suspected(diagnosis)
    allowed = [o for o in check_options(diagnosis) if held_back(o.hazards, o.id, live, o.wants) is None]
    priced = sorted(((_cost(diagnosis, option, shop), option) for option in allowed), key=lambda one: one[0])
    found = {}
    for cause in causes:
        shown = strengths_below(lambda id: links_of(knowledge, id), cause.id, TELLING)
        telling = {id for id in shown if _seldom(knowledge, id)}
        settling = (one for one in priced if telling.intersection(one[1].findings))
        first = next(settling, None)
        if first is not None:
            found[cause.id] = first
    return found


def _seldom(knowledge: Knowledge, id: str) -> bool:
    finding = knowledge.findings.get(id)
    return finding is not None and sum(number.value for number in finding.leak) <= SELDOM


def _cost(diagnosis: Diagnosis, option: CheckOption, shop: Shop) -> float:
    opened = open_states(diagnosis.knowledge, diagnosis.case.access_open)
    path = access_path(diagnosis.knowledge, option.access, opened)
    return shop.time(option.minutes + sum(state.minutes + state.restore_minutes for state in path))
