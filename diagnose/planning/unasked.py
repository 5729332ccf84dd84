"""What nobody is asked: what was told, what codes or another finding say already, what this machine cannot have,
and what no cause in question brings about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache, partial

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.observable import is_question, is_where, noted, observable
from diagnose.knowledge.paths import links_of, strengths_below
from diagnose.knowledge.records import Knowledge

TOLD = "question"
"""The kind of finding that a person tells."""
IN_QUESTION, LIKELY_ENOUGH = 20, 0.01
"""Causes for which a person is asked: so many of the first, and all from this probability on (judgement)."""
BEARS = 0.05
"""How surely at least a cause must bring about what is asked for (judgement)."""


def not_asked(diagnosis: Diagnosis) -> set[str]:
    """The findings of which nothing is to be asked."""
    said = _said_more_closely(diagnosis) | _said_by_codes(diagnosis)
    return said | _never_shown(diagnosis) | _told_of_the_past(diagnosis) | _beside_the_point(diagnosis)


def may_come_back(knowledge: Knowledge, id: str) -> bool:
    """Whether the rest of a check that was done may be asked for it: what is told or seen in passing."""
    return id in knowledge.findings and knowledge.findings[id].in_passing


@lru_cache(maxsize=4)
def in_question(diagnosis: Diagnosis) -> tuple[tuple[float, frozenset[str]], ...]:
    """Of each cause for which a person is asked, its probability and all that it can well bring about."""
    relevant = [cause for cause in diagnosis.causes if cause.relevant]
    likely = [
        cause for n, cause in enumerate(relevant) if n < IN_QUESTION or cause.probability >= LIKELY_ENOUGH
    ]
    links = partial(links_of, diagnosis.knowledge)
    return tuple((one.probability, frozenset(strengths_below(links, one.id, BEARS))) for one in likely)


def bearing(diagnosis: Diagnosis, findings: Iterable[str]) -> float:
    """The share of what is in question that can well bring one of these findings about."""
    known, wanted = in_question(diagnosis), set(findings)
    whole = sum(probability for probability, _ in known)
    return sum(p for p, below in known if not below.isdisjoint(wanted)) / whole if whole else 0.0


def _told_of_the_past(diagnosis: Diagnosis) -> set[str]:
    """What a person told before the last repair, of what was or of how it comes: a repair does not change that."""
    told = (seen.finding for epoch in diagnosis.case.epochs[:-1] for seen in epoch.observations)
    return {id for id in told if (finding := noted(diagnosis.knowledge, id)) and finding.kind == TOLD}


def _beside_the_point(diagnosis: Diagnosis) -> set[str]:
    """What is told or seen in passing and no cause in question brings about: of a belt that squeals nobody is asked
    whether bearings fail again soon after an overhaul, of an engine that overheats not whether the dash is dark."""
    if not diagnosis.shown:
        return set()
    below = frozenset[str]().union(*(below for _, below in in_question(diagnosis)))
    findings = diagnosis.knowledge.findings
    return {id for id, one in findings.items() if one.in_passing and id not in below}


def _said_more_closely(diagnosis: Diagnosis) -> set[str]:
    """General findings (smoke) of which a kind (black smoke) was found: nobody asks for them any more."""
    shown = (observable(diagnosis.knowledge, item.observation.finding) for item in diagnosis.shown)
    return {general for one in shown for general in one.kind_of}


def _said_by_codes(diagnosis: Diagnosis) -> set[str]:
    """What the number of stored codes says, where codes were read: nobody is asked for it."""
    findings, read = diagnosis.knowledge.findings, diagnosis.case.epochs[-1].observations
    if not any(findings[one.finding].kind == "code" for one in read if one.finding in findings):
        return set()
    return {id for id, one in findings.items() if one.circuit_codes}


def _never_shown(diagnosis: Diagnosis) -> set[str]:
    """Findings that nothing on this machine leads to: a code of an injection system that it does not have."""
    built = diagnosis.built
    return {id for id in diagnosis.knowledge.findings if not built.network.parents(built.variable(id))}


def not_yet(diagnosis: Diagnosis) -> Mapping[str, float]:
    """What cannot be seen again right after a repair, with the hours until it can: a level that falls from week to
    week. Only a check that waits as long can show it."""
    if len(diagnosis.case.epochs) == 1:
        return {}
    found = diagnosis.knowledge.findings.values()
    return {one.id: one.after_hours for one in found if one.after_hours > 0}


def asked_before(diagnosis: Diagnosis) -> Iterator[str]:
    """The questions for facts of the machine that nobody could answer, in this visit or before a repair."""
    done = (id for epoch in diagnosis.case.epochs[:-1] for id in epoch.checks)
    return (id for id in done if is_question(id) or is_where(id))
