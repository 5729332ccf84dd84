"""Which checks would settle a question: single findings not yet known, with the time to get at them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.dismantling import both_ways
from diagnose.knowledge.records import Check
from diagnose.network.engine import Engine
from diagnose.network.network import Array, below
from diagnose.network.predict import predict
from diagnose.planning.information import QUICK_TABLE, bits, entropy
from diagnose.planning.options import access_path, lost_now, open_states

LOOKED_INTO = 8
"""How many questions are worked out exactly, one a check; which, is chosen by quick predictions."""


@dataclass(frozen=True, slots=True)
class UnknownFinding:
    """A finding that a check would reveal. `minutes`: dismantling included."""

    check: Check
    finding: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Answer:
    """One result: how likely it is, and the cause's probability after it."""

    state: str
    probability: float
    after: float


@dataclass(frozen=True, slots=True)
class Telling:
    """A question that would confirm or rule out a cause; `bits`: what it tells about this cause."""

    question: UnknownFinding
    bits: float
    answers: tuple[Answer, ...]


def telling_findings(diagnosis: Diagnosis, id: str, least: float = 0.001) -> tuple[Telling, ...]:
    """Single findings of checks that tell about a cause, the most telling first, one a check."""
    column = diagnosis.built.variable(id)
    p = 1 - float(diagnosis.engine.marginal(column)[0])
    asked = questions(diagnosis, below(diagnosis.built.network, column))
    asked = promising(diagnosis, [{column: 1}, {column: 0}], (p, 1 - p), asked, lambda told, _: told)
    items = [(diagnosis.built.variable(one.finding),) for one in asked]
    base = float(entropy(np.array([p]))[0])
    outcomes = diagnosis.engine.outcomes_within(QUICK_TABLE, items, [column])
    found = [
        Telling(one, bits(outcome, base), _answers(diagnosis, one, outcome.probabilities, outcome.causes))
        for one, outcome in zip(asked, outcomes, strict=True)
        if outcome is not None
    ]
    found.sort(key=lambda one: (-one.bits, one.question.minutes, one.question.check.id))
    return tuple(one for one in found if one.bits > least)


def questions(diagnosis: Diagnosis, shown: Collection[int]) -> tuple[UnknownFinding, ...]:
    """What the checks that fit the machine can still reveal of the variables `shown`."""
    known = {seen.variable for seen in diagnosis.evidence}
    variable = diagnosis.built.variable
    return tuple(
        UnknownFinding(check, finding, minutes(diagnosis, check))
        for check in _checks(diagnosis)
        for finding in check.reveals
        if variable(finding) in shown and variable(finding) not in known
    )


def _checks(diagnosis: Diagnosis) -> Iterator[Check]:
    """The checks that fit the machine and can be done as it stands."""
    machine, gone = diagnosis.case.machine, lost_now(diagnosis)
    fitting = (check for check in diagnosis.knowledge.checks.values() if machine.fits(check.only_if))
    return (check for check in fitting if not gone.intersection(check.wants))


def minutes(diagnosis: Diagnosis, check: Check) -> float:
    """The work, and to reach and restore what is not open yet."""
    opened = open_states(diagnosis.knowledge, diagnosis.case.access_open)
    path = access_path(diagnosis.knowledge, check.access, opened)
    return check.minutes.value + both_ways(path)


def promising(
    diagnosis: Diagnosis,
    rows: Sequence[Mapping[int, int]],
    shares: Sequence[float],
    asked: Sequence[UnknownFinding],
    worth: Callable[[float, UnknownFinding], float],
) -> tuple[UnknownFinding, ...]:
    """The questions, one a check, that by prediction tell best which of the rows (states of some causes) holds, if
    they are so likely; `worth`: what so many bits are worth."""
    engine = diagnosis.engine
    held = {variable for row in rows for variable in row}
    if not held <= engine.region:
        engine = Engine(engine.network, engine.evidence, held)
    variables = [diagnosis.built.variable(one.finding) for one in asked]
    shown = predict(engine, rows, variables)
    told = [worth(separation(shown[v], shares), one) for v, one in zip(variables, asked, strict=True)]
    order = sorted(range(len(asked)), key=lambda i: (-told[i], asked[i].check.id))
    best: dict[str, UnknownFinding] = {}
    for i in order:
        best.setdefault(asked[i].check.id, asked[i])
    return tuple(best.values())[:LOOKED_INTO]


def separation(shown: Array, shares: Sequence[float]) -> float:
    """How well a result tells in bits which distribution it came from: their Jensen-Shannon divergence with weights
    (Lin 1991, from memory). `shown`: shape (card, distributions); with two, equally likely: 0 .. 1."""
    whole = shown @ np.array(shares)
    return max(0.0, _entropy(whole) - sum(s * _entropy(p) for s, p in zip(shares, shown.T, strict=True)))


def _entropy(p: Array) -> float:
    return float(-(p * np.log2(np.where(p > 0, p, 1.0))).sum())


def _answers(diagnosis: Diagnosis, one: UnknownFinding, chances: Array, after: Array) -> tuple[Answer, ...]:
    states = diagnosis.knowledge.findings[one.finding].states
    return tuple(Answer(*row) for row in zip(states, chances.tolist(), after[..., 0].tolist(), strict=True))
