"""Why a cause stands where it stands, what would settle it, what would change it: put together for one cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.explaining.codes_explained import Codes, codes
from diagnose.explaining.intervals import Interval, intervals
from diagnose.explaining.mistaken import Rival, mistaken_for
from diagnose.explaining.reasons import Reason, reasons, seen_words, weighing
from diagnose.explaining.relevant import Explained, best_explanations
from diagnose.explaining.settling import Telling, telling_findings
from diagnose.explaining.turning import Turn, turns
from diagnose.knowledge.records import Knowledge, Link, Repair
from diagnose.network.engine import Engine
from diagnose.network.messages import TooWide
from diagnose.network.weighing import DECIBANS, story
from diagnose.study.lines import LaidOpen, lay_open

WIDEST_OPENED, LARGEST_OPENED = 1 << 14, 1 << 15
"""Largest table with which it is still told how far the numbers can be trusted."""


@dataclass(frozen=True, slots=True)
class EvidenceStep:
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
class Uncertainty:
    """What the numbers of the knowledge leave open: the 90 % interval of the cause's probability, and the numbers
    nearest to taking the first place from it or giving it to it."""

    interval: Interval
    turns: tuple[Turn, ...]


@dataclass(frozen=True, slots=True)
class Explanation:
    """One cause: its reasons, its effects, what could bring it about, what would settle it, what cures it.

    `before`: its probability before anything was seen, what other causes bring about counted in (which its own
    `prior` does not). `story`: how each finding moved it, in the order noted. `best`: the sets of causes that
    explain all findings best, whether or not this one is among them. `rivals`: what it is often mistaken for.
    `doubt`: None where the case is too tangled.
    """

    cause: RankedCause
    rank: int
    before: float
    about: str
    reasons: tuple[Reason, ...]
    story: tuple[EvidenceStep, ...]
    codes: Codes
    best: tuple[Explained, ...]
    doubt: Uncertainty | None
    effects: tuple[Effect, ...]
    brought_about_by: tuple[str, ...]
    tests: tuple[Telling, ...]
    repairs: tuple[tuple[Repair, float], ...]
    rivals: tuple[Rival, ...] = ()


def explain(diagnosis: Diagnosis, ranked: RankedCause, most_tests: int = 5) -> Explanation:
    """Everything about one cause of the ranking."""
    knowledge, id = diagnosis.knowledge, ranked.id
    before = _before(diagnosis, id)
    return Explanation(
        ranked,
        diagnosis.causes.index(ranked) + 1,
        before,
        knowledge.causes[id].about,
        reasons(diagnosis, ranked),
        _story(diagnosis, id, before),
        codes(diagnosis, id),
        best_explanations(diagnosis.focused),
        _doubt(diagnosis, ranked),
        tuple(_effect(knowledge, link) for link in knowledge.causes[id].leads_to),
        tuple(c.id for c in knowledge.causes.values() if any(link.effect == id for link in c.leads_to)),
        telling_findings(diagnosis, id)[:most_tests],
        _cures(diagnosis, id),
        mistaken_for(diagnosis, ranked),
    )


def opened(diagnosis: Diagnosis) -> LaidOpen | None:
    """The numbers behind the diagnosis, laid open; None where it is too tangled."""
    if diagnosis.engine.tree.size > LARGEST_OPENED:
        return None
    try:
        return lay_open(diagnosis, WIDEST_OPENED)
    except TooWide:
        return None


def _before(diagnosis: Diagnosis, id: str) -> float:
    column = diagnosis.built.variable(id)
    return 1 - float(Engine(diagnosis.built.network, {}, [column]).marginal(column)[0])


def _story(diagnosis: Diagnosis, id: str, before: float) -> tuple[EvidenceStep, ...]:
    """What each item of evidence in its turn made of the cause's probability."""
    column = diagnosis.built.variable(id)
    steps = np.diff(story(weighing(diagnosis, column), [column])[:, 0])
    factors = np.exp(np.cumsum(steps) / DECIBANS)
    after = factors * before / (factors * before + 1 - before)
    told = zip(diagnosis.evidence, steps.tolist(), after.tolist(), strict=True)
    return tuple(EvidenceStep(s.observation.finding, seen_words(diagnosis, s), by, p) for s, by, p in told)


def _doubt(diagnosis: Diagnosis, cause: RankedCause) -> Uncertainty | None:
    numbers = opened(diagnosis)
    if numbers is None:
        return None
    return Uncertainty(intervals(numbers, [cause.id])[cause.id], turns(numbers, cause))


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
    fitting = [repair for repair in diagnosis.knowledge.repairs.values() if machine.fits(repair.only_if)]
    return tuple((r, c.effectiveness.value) for r in fitting for c in r.cures if c.cause == id)
