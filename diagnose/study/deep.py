"""What the knowledge can tell apart: pairs of causes, idle findings, checks that another check makes needless, and
causes that do not lead even in cases of their own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.dismantling import both_ways
from diagnose.knowledge.records import Check, Knowledge
from diagnose.network.network import Array
from diagnose.planning.options import LOOK_MINUTES, access_path
from diagnose.study.leading import Leads, Told, lead_in_own_cases, silent
from diagnose.study.signatures import Signatures, signatures

COMPARABLE = 3.0
"""Priors within this factor are comparable (judgement)."""
SHARED = 0.2
"""Both causes of a pair bring one complaint about at least this often; else nobody confuses them (judgement)."""
WELL, NEARLY = 0.7, 0.05
"""A check that tells a pair apart so well (85 right in 100 at even odds), or so nearly as well as the best, is good
enough: among these the quickest counts (judgement)."""
NOTHING = 0.3
"""Total variation below which nothing separates a pair: at best 65 right in 100 at even odds (judgement)."""
IDLE = 0.15
"""A finding that no cause alone shifts by this much never matters (judgement)."""
LONG = 120.0
"""Minutes from which it is worth a word that only this separates a pair (judgement)."""


@dataclass(frozen=True, slots=True)
class ConfusablePair:
    """Two causes that can be taken for each other, and the check that best tells them apart: by which finding, how
    well (total variation), in how many minutes with dismantling. `check`: "" where it takes only looking."""

    first: str
    second: str
    check: str
    finding: str
    apart: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Dominated:
    """A check that shows nothing that the other one does not show with no more time, dismantling or hazard."""

    check: str
    by: str
    minutes: float
    by_minutes: float


@dataclass(frozen=True, slots=True)
class Idle:
    """A finding that no cause shifts much, with the most that one does."""

    finding: str
    most: float


@dataclass(frozen=True, slots=True)
class DeepReport:
    """All that a deep check found. `samples`: cases drawn at most for each cause."""

    pairs: tuple[ConfusablePair, ...]
    idle: tuple[Idle, ...]
    dominated: tuple[Dominated, ...]
    never_leading: tuple[Leads, ...]
    causes: int
    samples: int

    @property
    def not_separated(self) -> tuple[ConfusablePair, ...]:
        """The pairs that nothing separates, the worst first."""
        return tuple(pair for pair in self.pairs if pair.apart < NOTHING)

    @property
    def long(self) -> tuple[ConfusablePair, ...]:
        """The pairs that only a long check separates, the longest first."""
        found = [pair for pair in self.pairs if pair.apart >= NOTHING and pair.minutes >= LONG]
        return tuple(sorted(found, key=lambda pair: -pair.minutes))


def deep(knowledge: Knowledge, samples: int, seed: int = 0, told: Told = silent) -> DeepReport:
    """Look through the whole knowledge; `told` hears how far it is, by causes."""
    known = signatures(knowledge)
    return DeepReport(
        tuple(sorted(pairs(known), key=lambda pair: (pair.apart, -pair.minutes, pair.first, pair.second))),
        tuple(idle(known)),
        tuple(dominated(knowledge)),
        tuple(lead_in_own_cases(known, comparable(known), samples, seed, told)),
        len(known.causes),
        samples,
    )


def pairs(known: Signatures) -> Iterator[ConfusablePair]:
    """Every pair that can be confused, with the check that best tells it apart."""
    looks = sorted(_looks(known), key=lambda look: look.minutes)
    seen = np.array([look.finding for look in looks], dtype=np.intp)
    rivals = comparable(known)
    for first in range(len(known.causes)):
        seconds = np.flatnonzero(rivals[first, first + 1 :]) + first + 1
        if len(seconds):
            apart = known.apart(first)[:, seconds]
            for column, second in enumerate(seconds):
                yield _best(known, first, int(second), apart[seen, column], looks)


def comparable(known: Signatures) -> NDArray[np.bool_]:
    """Which causes can be taken for each other: on one machine, of comparable likelihood, with one complaint."""
    priors = np.array([known.priors[id] for id in known.causes])
    ratio = priors[:, None] / priors[None]
    often = (known.complaints >= SHARED).astype(int)
    near = (ratio <= COMPARABLE) & (ratio >= 1 / COMPARABLE)
    found: NDArray[np.bool_] = near & known.together & ((often.T @ often) > 0)
    np.fill_diagonal(found, False)
    return found


@dataclass(frozen=True, slots=True)
class _Look:
    """One way to see one finding."""

    check: str
    finding: int
    minutes: float


def _looks(known: Signatures) -> Iterator[_Look]:
    knowledge, number = known.knowledge, {id: i for i, id in enumerate(known.findings)}
    revealed: set[str] = set()
    for check in knowledge.checks.values():
        took = whole_minutes(knowledge, check)
        revealed.update(check.reveals)
        yield from (_Look(check.id, number[id], took) for id in check.reveals)
    for id, position in number.items():
        if id not in revealed:
            yield _Look("", position, LOOK_MINUTES.get(knowledge.findings[id].kind, 0.0))


def _best(known: Signatures, first: int, second: int, apart: Array, looks: Sequence[_Look]) -> ConfusablePair:
    """`apart`: how well each of the looks, the quickest first, tells the pair."""
    ids = known.causes[first], known.causes[second]
    most = float(apart.max(initial=0.0))
    if most <= 0:
        return ConfusablePair(*ids, "", "", 0.0, 0.0)
    at = int(np.argmax(apart >= min(WELL, most - NEARLY)))
    return ConfusablePair(
        *ids, looks[at].check, known.findings[looks[at].finding], float(apart[at]), looks[at].minutes
    )


def idle(known: Signatures) -> Iterator[Idle]:
    """Findings that hardly any cause shifts, the idlest first."""
    shift = np.abs(known.shown - known.sound[:, :, None]).sum(axis=1).max(axis=1) / 2
    for position in np.argsort(shift, kind="stable"):
        if shift[position] < IDLE:
            yield Idle(known.findings[position], float(shift[position]))


def dominated(knowledge: Knowledge) -> Iterator[Dominated]:
    """Checks that another check makes needless."""
    for check in knowledge.checks.values():
        others = (other for other in knowledge.checks.values() if _dominates(knowledge, other, check))
        if best := next(others, None):
            yield Dominated(
                check.id, best.id, whole_minutes(knowledge, check), whole_minutes(knowledge, best)
            )


def _dominates(knowledge: Knowledge, other: Check, check: Check) -> bool:
    """Whether the other shows as much on as many machines with no more time, dismantling and hazards, and is
    better in one of these."""
    if other.id == check.id or not set(check.reveals) <= set(other.reveals):
        return False
    if other.only_if and {(r.fact, r.values) for r in other.only_if} != {
        (r.fact, r.values) for r in check.only_if
    }:
        return False
    theirs, ours = ((one.minutes.value, _opened(knowledge, one), set(one.hazards)) for one in (other, check))
    no_worse = theirs[0] <= ours[0] and theirs[1] <= ours[1] and theirs[2] <= ours[2]
    return no_worse and (theirs != ours or set(other.reveals) > set(check.reveals))


def whole_minutes(knowledge: Knowledge, check: Check) -> float:
    """With dismantling from nothing and closing up again."""
    path = access_path(knowledge, check.access, ())
    return check.minutes.value + both_ways(path)


def _opened(knowledge: Knowledge, check: Check) -> set[str]:
    return {state.id for state in access_path(knowledge, check.access, ())}
