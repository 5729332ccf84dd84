"""May the machine run on? For each cause that wrecks more than itself: stop, move only, watch, or run to the shop.

The expected damage of running on, P(cause) x P(damage) x cost, stands against an hour of the machine in the shop:
what it takes to stop and look. That the cause is dear to rule out makes it no lighter. So two per cent of something
loose on the crankshaft outrank sixty per cent of a bad sensor. A cause that the findings have not made likelier
than on any machine stops nobody, and a machine that cannot run as it stands harms nothing by running.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.knowledge.dismantling import both_ways
from diagnose.knowledge.observable import observable
from diagnose.knowledge.paths import links_of, strengths_below
from diagnose.knowledge.records import Knowledge
from diagnose.planning.options import (
    CheckOption,
    access_path,
    check_options,
    held_back,
    lost_now,
    open_states,
    suspected,
)
from diagnose.planning.shop import Shop

STOP, MOVE, WATCH, RUN, STILL = "stop now", "move only", "watch", "run to the shop", "does not run"
FORBIDS: Mapping[str, frozenset[str]] = {STOP: frozenset({"running", "load"}), MOVE: frozenset({"load"})}
"""What is not to be asked of the machine under an advice (`dismantling.ABILITIES`)."""
RAISED = 1.5
"""How much likelier than on any machine a cause must be (judgement)."""
URGENT = 5.0
"""Expected damage of running, in hours of the shop, from which the machine stops at once (judgement)."""
NOTABLE = 0.5
"""The same from which somebody keeps an eye on it (judgement)."""
TELLING = 0.6
"""How surely a cause must bring about what a check looks for, so that not finding it says much (judgement)."""
SELDOM = 0.05
"""How often at most it may show without reason (judgement)."""
PROVING = ("inspection", "reading")
"""Kinds of findings that can settle a danger: words of a driver and stored codes prove no part sound."""


@dataclass(frozen=True, slots=True)
class KeepRunning:
    """The advice for one cause. `running`, `moving`: expected damage in money, 0 where the machine cannot run;
    `ruling_out`: what the cheapest check that settles it costs, and that check: after its good result the advice
    would fall, and it asks nothing that the advice forbids."""

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
    runs = "running" not in lost_now(diagnosis)
    settling = _settling(diagnosis, costly, shop) if runs else {}
    found = [_advice(diagnosis, cause, settling.get(cause.id, ()), shop, runs) for cause in costly]
    return tuple(sorted(found, key=lambda one: -one.running))


def forbidden(running: Iterable[KeepRunning]) -> frozenset[str]:
    """What is not to be asked of the machine until the causes that forbid it are settled."""
    return frozenset().union(*(FORBIDS.get(one.advice, frozenset()) for one in running))


@dataclass(frozen=True, slots=True)
class _Settling:
    """A check that can settle a cause: its price, and P(the good result | the cause is there)."""

    price: float
    check: CheckOption
    missed: float


def _advice(
    diagnosis: Diagnosis, cause: RankedCause, settling: Sequence[_Settling], shop: Shop, runs: bool
) -> KeepRunning:
    damage = diagnosis.knowledge.causes[cause.id].damage
    assert damage is not None
    if not runs:
        return KeepRunning(cause, STILL, damage.what, 0.0, 0.0, 0.0, None)
    running, moving = damage.running.value * damage.cost.value, damage.moving.value * damage.cost.value
    hour = shop.time(60)
    one = next((one for one in settling if not _serious(_after(cause, one), running, moving, hour)), None)
    price = one.price if one else hour
    advice = RUN
    if cause.probability >= RAISED * cause.prior:
        advice = _word(cause.probability, running, moving, hour)
    return KeepRunning(
        cause,
        advice,
        damage.what,
        cause.probability * running,
        cause.probability * moving,
        price,
        one.check if one else None,
    )


def _word(p: float, running: float, moving: float, bar: float) -> str:
    if p * moving > bar or p * running > URGENT * bar:
        return STOP
    if p * running > bar:
        return MOVE
    return WATCH if p * running > NOTABLE * bar else RUN


def _serious(p: float, running: float, moving: float, bar: float) -> bool:
    return _word(p, running, moving, bar) in FORBIDS


def _after(cause: RankedCause, one: _Settling) -> float:
    """P(the cause | the check's good result)."""
    there = cause.probability * one.missed
    return there / (there + 1 - cause.probability) if there else 0.0


def _settling(
    diagnosis: Diagnosis, causes: Sequence[RankedCause], shop: Shop
) -> dict[str, tuple[_Settling, ...]]:
    """For each cause the checks, cheapest first, that show a finding which the cause mostly brings about, and which
    seldom shows without reason: not found, it leaves little of the cause. None that runs the machine or that a stop
    hazard holds back: nobody runs it to find out whether it may run."""
    knowledge, live = diagnosis.knowledge, suspected(diagnosis)
    allowed = [
        option
        for option in check_options(diagnosis)
        if held_back(option.hazards, option.id, live, option.wants) is None
        and not FORBIDS[STOP].intersection(option.wants)
        and not _asks(knowledge, option)
    ]
    priced = sorted(((_cost(diagnosis, option, shop), option) for option in allowed), key=lambda one: one[0])
    return {cause.id: tuple(_of_cause(knowledge, cause.id, priced)) for cause in causes}


def _of_cause(
    knowledge: Knowledge, id: str, priced: Sequence[tuple[float, CheckOption]]
) -> Iterator[_Settling]:
    shown = strengths_below(lambda id: links_of(knowledge, id), id, TELLING)
    telling = {id: p for id, p in shown.items() if _proves(knowledge, id)}
    for price, option in priced:
        if found := [telling[id] for id in option.findings if id in telling]:
            yield _Settling(price, option, 1 - max(found))


def _asks(knowledge: Knowledge, option: CheckOption) -> bool:
    """Whether it is done by asking: most of what it tells is the driver's word."""
    kinds = [observable(knowledge, id).kind for id in option.findings]
    return 2 * sum(kind in PROVING for kind in kinds) < len(kinds)


def _proves(knowledge: Knowledge, id: str) -> bool:
    """Whether it is seen or measured, and seldom there without reason."""
    if id not in knowledge.findings:
        return False
    finding = observable(knowledge, id)
    return finding.kind in PROVING and sum(number.value for number in finding.leak) <= SELDOM


def _cost(diagnosis: Diagnosis, option: CheckOption, shop: Shop) -> float:
    opened = open_states(diagnosis.knowledge, diagnosis.case.access_open)
    path = access_path(diagnosis.knowledge, option.access, opened)
    return shop.time(option.minutes + both_ways(path))
