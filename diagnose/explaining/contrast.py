"""Why one cause rather than another: which findings decide between them, and which check would.

Two statements are weighed against each other: the one cause without the other, and the other without the one.
What a finding says of them is 10 log10 of its Bayes factor P(finding | the one, rest) / P(finding | the other,
rest), in decibans (Good 1950, from memory). What a check would say is how far apart its results are under both
statements: the information in bits about which of the two it is if both were equally likely; 0 says nothing, 1
settles it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.errors import CallError
from diagnose.explaining.settling import UnknownFinding, promising, questions, separation
from diagnose.network.engine import Engine
from diagnose.network.network import Array, below
from diagnose.network.observed import ImpossibleEvidence, one_hot
from diagnose.network.weighing import DECIBANS, MOST, Weighing, between
from diagnose.planning.information import QUICK_TABLE

TELLS = 0.1
"""Bits below which a check is no way to tell two causes apart (judgement)."""
EVEN = (0.5, 0.5)  # neither of two causes is favoured: what tells them apart is asked, not which is likelier


@dataclass(frozen=True, slots=True)
class Decides:
    """What one item of the evidence, by its place in it, says for the one against the other: in its turn, and given
    all other items, in decibans."""

    place: int
    in_turn: float
    given_rest: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """One result of a check: how likely under either statement, and the odds of the one after it in decibans."""

    state: str
    if_one: float
    if_other: float
    odds: float


@dataclass(frozen=True, slots=True)
class Settles:
    """A finding of a check that tells the two apart; `bits` of 1 would settle it."""

    question: UnknownFinding
    bits: float
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True, slots=True)
class Contrast:
    """One cause against another. `before`, `now`: odds of the one without the other against the other without the
    one, in decibans, before anything was seen and by all that was; the weights in turn sum to the difference.
    `both`, `neither`: probabilities by all that was seen. `checks`: what would settle it, the most for its minutes
    first."""

    one: RankedCause
    other: RankedCause
    before: float
    now: float
    both: float
    neither: float
    evidence: tuple[Decides, ...]
    checks: tuple[Settles, ...]


def contrast(diagnosis: Diagnosis, one: RankedCause, other: RankedCause, most: int = 3) -> Contrast:
    """Why the one rather than the other. Raises CallError where both are the same."""
    if one.id == other.id:
        raise CallError(f"“{one.name}” cannot be weighed against itself.")
    pair = [diagnosis.built.variable(cause.id) for cause in (one, other)]
    weighing = Weighing(diagnosis.engine, [item.variable for item in diagnosis.evidence], pair)
    found = between(weighing, *pair)
    evidence = [
        Decides(place, float(turn), float(rest))
        for place, (turn, rest) in enumerate(zip(found.in_turn, found.given_rest, strict=True))
    ]
    return Contrast(
        one,
        other,
        found.before,
        found.now,
        float(found.together[1, 1]),
        float(found.together[0, 0]),
        tuple(evidence),
        tuple(_settling(diagnosis, pair, found.now))[:most],
    )


def _settling(diagnosis: Diagnosis, pair: Sequence[int], odds: float) -> list[Settles]:
    """One finding a check, the farthest apart for its minutes first."""
    network = diagnosis.built.network
    hold = [{pair[0]: 1, pair[1]: 0}, {pair[0]: 0, pair[1]: 1}]
    asked = questions(diagnosis, below(network, pair[0]) | below(network, pair[1]))
    asked = promising(diagnosis, hold, EVEN, asked, _for_the_time)
    items = [(diagnosis.built.variable(one.finding),) for one in asked]
    pairs = zip(*(_predicted(diagnosis, states, items) for states in hold), strict=True)
    found = [
        Settles(one, separation(np.stack([p, q], axis=1), EVEN), _outcomes(diagnosis, one, p, q, odds))
        for one, (p, q) in zip(asked, pairs, strict=True)
        if p is not None and q is not None
    ]
    found.sort(key=lambda one: (-_for_the_time(one.bits, one.question), one.question.check.id))
    return [one for one in found if one.bits >= TELLS]


def _for_the_time(bits: float, question: UnknownFinding) -> float:
    """Bits a minute; what tells too little counts for nothing, however quick."""
    return bits / max(question.minutes, 0.5) if bits >= TELLS else 0.0


def _predicted(
    diagnosis: Diagnosis, held: Mapping[int, int], items: Sequence[tuple[int, ...]]
) -> list[Array | None]:
    """The results' probabilities by the evidence and the causes held; None where they would take too long, or where
    the evidence leaves no room for these causes."""
    engine = diagnosis.engine
    fixed = {v: one_hot(engine.network.cards[v], state) for v, state in held.items()}
    try:
        outcomes = Engine(engine.network, engine.evidence | fixed).outcomes_within(QUICK_TABLE, items, ())
    except ImpossibleEvidence:
        return [None] * len(items)
    return [None if outcome is None else outcome.probabilities for outcome in outcomes]


def _outcomes(
    diagnosis: Diagnosis, one: UnknownFinding, p: Array, q: Array, odds: float
) -> tuple[Outcome, ...]:
    states = diagnosis.knowledge.findings[one.finding].states
    with np.errstate(divide="ignore", invalid="ignore"):
        after = np.clip(np.nan_to_num(odds + DECIBANS * np.log(p / q), nan=odds), -MOST, MOST)
    return tuple(Outcome(*row) for row in zip(states, p.tolist(), q.tolist(), after.tolist(), strict=True))
