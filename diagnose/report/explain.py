"""Why a cause stands where it stands, what would settle it, what would change it: put together for one cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis, RankedCause, Seen
from diagnose.explaining.codes import Codes, codes
from diagnose.explaining.intervals import Interval, intervals
from diagnose.explaining.relevant import Explained, best_explanations
from diagnose.explaining.settling import Telling, telling_findings
from diagnose.explaining.turning import Turn, turns
from diagnose.knowledge.records import Finding, Knowledge, Link, Repair
from diagnose.network.buckets import TooWide
from diagnose.network.engine import Engine
from diagnose.network.weighing import DECIBANS, Weighing, story, weigh
from diagnose.planning.options import applies
from diagnose.study.lines import Opened, lay_open

WORTH_SAYING = 0.5
"""Decibans below which evidence is not worth a word (judgement: half a deciban is 12 % of the odds)."""
WIDEST_OPENED = 1 << 16
"""Largest table with which it is still told how far the numbers can be trusted."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One item of evidence and its weight for the cause, given all the other items, in decibans."""

    finding: str
    words: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Step:
    """One item of evidence in its turn: its weight for the cause, given those noted before it, in decibans, and the
    cause's probability after it."""

    finding: str
    words: str
    decibans: float
    after: float


@dataclass(frozen=True, slots=True)
class Effect:
    """Something that a cause can lead to, with the strength of the link (the largest of several)."""

    id: str
    name: str
    strength: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """What the numbers of the knowledge leave open: the 90 % interval of the cause's probability, and the numbers
    nearest to taking the first place from it or giving it to it."""

    interval: Interval
    turns: tuple[Turn, ...]


@dataclass(frozen=True, slots=True)
class Explanation:
    """One cause: its reasons, its effects, what could bring it about, what would settle it, what cures it.

    `before`: its probability before anything was seen, what other causes bring about counted in (which its own
    `prior` does not). `story`: how each finding moved it, in the order noted. `best`: the sets of causes that
    explain all findings best, whether or not this one is among them. `doubt`: None where the case is too tangled.
    """

    cause: RankedCause
    rank: int
    before: float
    about: str
    reasons: tuple[Reason, ...]
    story: tuple[Step, ...]
    codes: Codes
    best: tuple[Explained, ...]
    doubt: Doubt | None
    effects: tuple[Effect, ...]
    brought_about_by: tuple[str, ...]
    tests: tuple[Telling, ...]
    repairs: tuple[tuple[Repair, float], ...]


def ordered(diagnosis: Diagnosis) -> tuple[RankedCause, ...]:
    """The ranking as it is shown: what can be behind the findings by probability, then what cannot."""
    return tuple(sorted(diagnosis.causes, key=lambda cause: not cause.relevant))


def explain(diagnosis: Diagnosis, ranked: RankedCause, most_tests: int = 5) -> Explanation:
    """Everything about one cause of the ranking."""
    knowledge, id = diagnosis.knowledge, ranked.id
    before = _before(diagnosis, id)
    return Explanation(
        ranked,
        ordered(diagnosis).index(ranked) + 1,
        before,
        knowledge.causes[id].about,
        reasons(diagnosis, ranked),
        _story(diagnosis, id, before),
        codes(diagnosis, id),
        best_explanations(diagnosis),
        _doubt(diagnosis, ranked),
        tuple(_effect(knowledge, link) for link in knowledge.causes[id].leads_to),
        tuple(c.id for c in knowledge.causes.values() if any(link.effect == id for link in c.leads_to)),
        telling_findings(diagnosis, id)[:most_tests],
        _cures(diagnosis, id),
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
        for seen, weight in zip(diagnosis.evidence, weights_of(diagnosis, cause.id), strict=True)
    ]
    return tuple(sorted(found, key=lambda reason: -abs(reason.decibans)))


def weights_of(diagnosis: Diagnosis, id: str) -> tuple[float, ...]:
    """What each item of evidence, in order, weighs for a cause given all others; also where the findings do not
    come from it."""
    column = diagnosis.built.variable(id)
    if column in diagnosis.engine.region:
        return diagnosis.weights(id)
    return tuple(map(float, weigh(_weighing(diagnosis, column), [column]).weights[:, 0]))


def _weighing(diagnosis: Diagnosis, column: int) -> Weighing:
    """The evidence in a tree that holds the cause: one that the findings do not come from may yet have been brought
    about by one that they do."""
    if column in diagnosis.engine.region:
        return diagnosis.weighing
    return Weighing(diagnosis.engine, diagnosis.weighing.items, [column])


def opened(diagnosis: Diagnosis) -> Opened | None:
    """The numbers behind the diagnosis, laid open; None where it is too tangled."""
    try:
        return lay_open(diagnosis, WIDEST_OPENED)
    except TooWide:
        return None


def _before(diagnosis: Diagnosis, id: str) -> float:
    column = diagnosis.built.variable(id)
    return 1 - float(Engine(diagnosis.built.network, {}, [column]).marginal(column)[0])


def _story(diagnosis: Diagnosis, id: str, before: float) -> tuple[Step, ...]:
    """What each item of evidence in its turn made of the cause's probability."""
    column = diagnosis.built.variable(id)
    steps = np.diff(story(_weighing(diagnosis, column), [column])[:, 0])
    factors = np.exp(np.cumsum(steps) / DECIBANS)
    after = factors * before / (factors * before + 1 - before)
    told = zip(diagnosis.evidence, steps.tolist(), after.tolist(), strict=True)
    return tuple(Step(s.observation.finding, seen_words(diagnosis, s), by, p) for s, by, p in told)


def _doubt(diagnosis: Diagnosis, cause: RankedCause) -> Doubt | None:
    numbers = opened(diagnosis)
    if numbers is None:
        return None
    return Doubt(intervals(numbers, [cause.id])[cause.id], turns(numbers, cause))


def _effect(knowledge: Knowledge, link: Link) -> Effect:
    target = (
        knowledge.findings.get(link.effect)
        or knowledge.conditions.get(link.effect)
        or knowledge.causes[link.effect]
    )
    rows = [sum(number.value for number in row) for row in link.strengths]
    return Effect(link.effect, target.name, max(rows))


def _cures(diagnosis: Diagnosis, id: str) -> tuple[tuple[Repair, float], ...]:
    """The repairs that fit the machine and cure the cause, with how often."""
    machine = diagnosis.case.machine
    fitting = [repair for repair in diagnosis.knowledge.repairs.values() if applies(repair.only_if, machine)]
    return tuple((r, c.effectiveness.value) for r in fitting for c in r.cures if c.cause == id)
