"""Why a cause stands where it stands, and what would settle it. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis, RankedCause, Seen
from diagnose.knowledge.records import Check, Finding, Knowledge, Link, Repair
from diagnose.network.engine import Engine
from diagnose.network.network import Array, below
from diagnose.planning.checks import QUICK_TABLE, bits, entropy
from diagnose.planning.options import access_path, applies, open_states

WORTH_SAYING = 0.5
"""Decibans below which evidence is not worth a word (judgement: half a deciban is 12 % of the odds)."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One item of evidence and its weight for the cause, given all the other items, in decibans."""

    finding: str
    words: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Effect:
    """Something that a cause can lead to, with the strength of the link (the largest of several)."""

    id: str
    name: str
    strength: float


@dataclass(frozen=True, slots=True)
class Answer:
    """One result of a test: how likely it is, and the cause's probability after it."""

    state: str
    words: str
    probability: float
    after: float


@dataclass(frozen=True, slots=True)
class Test:
    """A finding of a check that would confirm or rule out the cause.

    `minutes`: dismantling included. `asks`: the finding's name. `bits`: what it tells about this cause.
    """

    check: str
    name: str
    minutes: float
    finding: str
    asks: str
    bits: float
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True)
class Explanation:
    """One cause: its reasons, its effects, what could bring it about, what would settle it, what cures it.

    `before`: its probability before anything was seen, what other causes bring about counted in (which its own
    `prior` does not).
    """

    cause: RankedCause
    rank: int
    before: float
    about: str
    reasons: tuple[Reason, ...]
    effects: tuple[Effect, ...]
    brought_about_by: tuple[str, ...]
    tests: tuple[Test, ...]
    repairs: tuple[tuple[Repair, float], ...]


def ordered(diagnosis: Diagnosis) -> tuple[RankedCause, ...]:
    """The ranking as it is shown: what can be behind the findings by probability, then what cannot."""
    return tuple(sorted(diagnosis.causes, key=lambda cause: not cause.relevant))


def explain(diagnosis: Diagnosis, ranked: RankedCause, most_tests: int = 5) -> Explanation:
    """Everything about one cause of the ranking."""
    knowledge, id = diagnosis.knowledge, ranked.id
    return Explanation(
        ranked,
        ordered(diagnosis).index(ranked) + 1,
        _before(diagnosis, id),
        knowledge.causes[id].about,
        reasons(diagnosis, ranked),
        tuple(_effect(knowledge, link) for link in knowledge.causes[id].leads_to),
        tuple(c.id for c in knowledge.causes.values() if any(link.effect == id for link in c.leads_to)),
        tuple(_tests(diagnosis, id))[:most_tests],
        tuple((r, c.effectiveness.value) for r in _fitting(diagnosis) for c in r.cures if c.cause == id),
    )


def seen_words(diagnosis: Diagnosis, seen: Seen) -> str:
    """An observation in words, with how sure it is where it is not."""
    observation = seen.observation
    words = diagnosis.knowledge.findings[observation.finding].in_words(observation.state)
    sure = "" if observation.confidence == "sure" else f" ({observation.confidence})"
    before = " (before the repair)" if observation.epoch < len(diagnosis.case.epochs) - 1 else ""
    return f"{words}{sure}{before}"


def yes_or_no(finding: Finding, state: str) -> str:
    """A state as the answer to whether the finding is there; the state itself where there are several."""
    return {"absent": "no", "present": "yes"}.get(state, state) if len(finding.states) == 2 else state


def reasons(diagnosis: Diagnosis, cause: RankedCause) -> tuple[Reason, ...]:
    """The evidence by what it weighs for this cause, the heaviest first."""
    found = [
        Reason(seen.observation.finding, seen_words(diagnosis, seen), weight)
        for seen, weight in zip(diagnosis.evidence, diagnosis.weights(cause.id), strict=True)
    ]
    return tuple(sorted(found, key=lambda reason: -abs(reason.decibans)))


def _before(diagnosis: Diagnosis, id: str) -> float:
    column = diagnosis.built.variable(id)
    return 1 - float(Engine(diagnosis.built.network, {}, [column]).marginal(column)[0])


def _effect(knowledge: Knowledge, link: Link) -> Effect:
    target = (
        knowledge.findings.get(link.effect)
        or knowledge.conditions.get(link.effect)
        or knowledge.causes[link.effect]
    )
    rows = [sum(number.value for number in row) for row in link.strengths]
    return Effect(link.effect, target.name, max(rows))


def _fitting(diagnosis: Diagnosis) -> Iterator[Repair]:
    machine = diagnosis.case.machine
    return (repair for repair in diagnosis.knowledge.repairs.values() if applies(repair.only_if, machine))


def _tests(diagnosis: Diagnosis, id: str) -> Iterable[Test]:
    """Single findings of checks that tell about this cause, the most telling first, one a check."""
    column = diagnosis.built.variable(id)
    shown = below(diagnosis.built.network, column)
    pairs = [
        (check, finding)
        for check in _checks(diagnosis)
        for finding in _open(diagnosis, check)
        if diagnosis.built.variable(finding) in shown
    ]
    items = [(diagnosis.built.variable(finding),) for _, finding in pairs]
    base = float(entropy(np.array([1 - diagnosis.engine.marginal(column)[0]]))[0])
    outcomes = diagnosis.engine.outcomes_within(QUICK_TABLE, items, [column])
    told = [
        _test(diagnosis, check, finding, bits(outcome, base), outcome.probabilities, outcome.causes[..., 0])
        for (check, finding), outcome in zip(pairs, outcomes, strict=True)
        if outcome is not None
    ]
    best: dict[str, Test] = {}
    for test in sorted(told, key=lambda test: (-test.bits, test.minutes, test.check)):
        best.setdefault(test.check, test)
    return (test for test in best.values() if test.bits > 0.001)


def _checks(diagnosis: Diagnosis) -> Iterator[Check]:
    machine = diagnosis.case.machine
    return (check for check in diagnosis.knowledge.checks.values() if applies(check.only_if, machine))


def _open(diagnosis: Diagnosis, check: Check) -> Iterator[str]:
    """The findings of a check that are not known in the present epoch."""
    known = {seen.variable for seen in diagnosis.evidence}
    return (id for id in check.reveals if diagnosis.built.variable(id) not in known)


def _test(
    diagnosis: Diagnosis, check: Check, id: str, told: float, probabilities: Array, after: Array
) -> Test:
    finding = diagnosis.knowledge.findings[id]
    answers = [
        Answer(state, yes_or_no(finding, state), float(p), float(q))
        for state, p, q in zip(finding.states, probabilities, after, strict=True)
    ]
    opened = open_states(diagnosis.knowledge, diagnosis.case.access_open)
    path = access_path(diagnosis.knowledge, check.access, opened)
    minutes = check.minutes.value + sum(access.minutes + access.restore_minutes for access in path)
    return Test(check.id, check.name, minutes, id, finding.name, told, tuple(answers))
