"""What counts of a case in learning, and how much; or why none of it does."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diagnose.cases.events import CONFIDENCES, Confirmed
from diagnose.knowledge.records import Knowledge
from diagnose.learning.groups import ABSENT, EXCLUDED, OPEN, PRESENT, CaseEvidence
from diagnose.learning.lesson import Lesson
from diagnose.learning.multipliers import ByFacts, Factors
from diagnose.learning.whole_network import Graph, graph_of
from diagnose.network.facts import ImpossibleFacts

WEIGHTS: Mapping[Confirmed, float] = {"by sight": 1.0, "by repair": 0.8, "assumed": 0.1}
"""How much of a case a closed case is worth, by how its causes were confirmed; the least of several
(judgement).

Not 0 for `assumed`, but little: whoever takes the first of the ranking for granted would teach the program
its own opinion."""
UNPROVEN = 0.5
"""What that is worth where the repair was not proven (judgement)."""


@dataclass(frozen=True)
class School:
    """What every case is looked at with; made when first asked for."""

    knowledge: Knowledge

    @cached_property
    def graph(self) -> Graph:
        """The knowledge as one network."""
        return graph_of(self.knowledge)

    @cached_property
    def factors(self) -> Factors:
        """What machines do to what is to be expected."""
        return Factors(self.knowledge)


def known_of(
    school: School, lesson: Lesson, case: int = 0, useful: Container[str] | None = None
) -> CaseEvidence:
    """What is known of a case that is not left out. `useful`: the findings that count (None: all)."""
    standing, kind = _standing(school.graph, lesson), school.factors.by_facts(lesson.machine.facts)
    standing[~kind.possible] = EXCLUDED
    return CaseEvidence(
        _readable(school, _findings(school, lesson.while_broken(), useful), standing, kind),
        standing,
        school.factors.bins(lesson.machine),
        _lacking(school.graph, kind),
        weight_of(lesson),
        case,
    )


def left_out(school: School, lesson: Lesson) -> str:
    """Why a case teaches nothing; "" where it does."""
    if not lesson.is_closed:
        return "not closed"
    if not lesson.confirmed:
        return "closed without a cause"
    try:
        possible = school.factors.by_facts(lesson.machine.facts).possible
    except ImpossibleFacts:
        return "no machine has its facts together"
    for one in lesson.confirmed:
        if one.cause not in school.knowledge.causes:
            return f"its cause {one.cause} is not in the knowledge"
        if not possible[school.factors.number[one.cause]]:
            return f"its cause {one.cause} cannot be on this machine, by its facts"
    return ""


def weight_of(lesson: Lesson) -> float:
    """How much of a case it is worth."""
    least = min(WEIGHTS[one.how] for one in lesson.confirmed)
    return least if lesson.proven else least * UNPROVEN


def _standing(graph: Graph, lesson: Lesson) -> NDArray[np.int8]:
    """Those listed were there. What these may have wrecked may have been there unlisted; so may every other
    cause where no proven repair rules it out."""
    standing = np.full(len(graph.cause_of), ABSENT if lesson.proven else OPEN, dtype=np.int8)
    listed = [graph.variable_of[one.cause] for one in lesson.confirmed]
    for variable in listed:
        standing[[graph.cause_of[v] for v in graph.consequences[variable]]] = OPEN
    standing[[graph.cause_of[variable] for variable in listed]] = PRESENT
    return standing


def _lacking(graph: Graph, kind: ByFacts) -> frozenset[int]:
    """What the machine cannot have, and something could bring about: that it is not there says nothing of
    that."""
    causes = (v for v, c in graph.cause_of.items() if not kind.possible[c] and v not in graph.roots)
    return frozenset(graph.conditions[id] for id in kind.lacking).union(causes)


Seen = dict[int, tuple[int, int]]
"""Variable -> (state, number of the confidence)."""


def _readable(school: School, seen: Seen, standing: NDArray[np.int8], kind: ByFacts) -> Seen:
    """The findings that no gate can have silenced. The others are left out whatever they showed, so that what
    is left out says nothing of what was seen."""
    graph = school.graph
    doubtful = [graph.conditions[id] for id in kind.doubtful]
    silent = {graph.findings[id] for id in kind.silent}
    return {
        variable: told
        for variable, told in seen.items()
        if variable not in silent
        and not graph.above[variable, doubtful].any()
        and _cleared(school, graph.network.names[variable], seen, standing, kind)
    }


def _cleared(school: School, finding: str, seen: Seen, standing: NDArray[np.int8], kind: ByFacts) -> bool:
    """Whether all that the finding clears is known to be sound."""
    knowledge, graph = school.knowledge, school.graph
    for one in knowledge.findings[finding].clears:
        if one in knowledge.causes:
            sound = standing[school.factors.number[one]] in (ABSENT, EXCLUDED)
        elif one in knowledge.findings:
            sound = seen.get(graph.findings[one]) == (0, 0)
        else:
            sound = one in kind.lacking
        if not sound:
            return False
    return True


def _findings(school: School, lesson: Lesson, useful: Container[str] | None) -> Seen:
    """The latest state of each finding that the knowledge still understands."""
    found = {}
    for epoch in lesson.epochs:
        for seen in epoch.observations:
            finding = school.knowledge.findings.get(seen.finding)
            if finding and seen.state in finding.states and (useful is None or finding.id in useful):
                state = finding.states.index(seen.state)
                found[school.graph.findings[finding.id]] = (state, CONFIDENCES.index(seen.confidence))
    return found
