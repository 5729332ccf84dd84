"""What counts of the cases, in groups on the disk, and what is strange among them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose.learning import spool
from diagnose.learning.case_sources import CaseChunk
from diagnose.learning.case_survey import CaseSurvey, useful
from diagnose.learning.counts import School, known_of, left_out
from diagnose.learning.em import trials
from diagnose.learning.groups import grouped
from diagnose.learning.lesson import Lesson
from diagnose.learning.progress import Chunks
from diagnose.learning.review import SURPRISING, CaseToReview, doubts, limit
from diagnose.learning.whole_network import Graph

Kinds = dict[tuple[tuple[str, str], ...], float]
"""Facts of machines -> what the cases of such machines are worth."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A case whose findings hardly go with its causes; `probability` and `decades` as in `doubts`. `aside`: so
    many that it does not count. `findings`: (finding, state, how often these causes show it), the strangest
    first."""

    case: str
    causes: tuple[str, ...]
    probability: float
    decades: float
    aside: bool
    findings: tuple[tuple[str, str, float], ...]


@dataclass(frozen=True, slots=True)
class ChunkOrder:
    """One chunk to prepare. `skip`: places of cases, among those that count, that stood there before."""

    chunk: CaseChunk
    useful: frozenset[str]
    skip: frozenset[int]
    set_aside: bool
    path: Path


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A chunk whose groups, and trials as in `em`, are in the file. `found`: cause -> in how many of the cases that
    count it was confirmed. `kinds`: what cases of machines with the same facts are worth."""

    path: Path
    found: Counter[str]
    counted: int
    weight: float
    suspects: tuple[Suspect, ...]
    kinds: Kinds


def orders(
    chunks: Chunks, seen: CaseSurvey, again: set[int], set_aside: bool, folder: Path
) -> Iterator[ChunkOrder]:
    """Every chunk with what counts of it."""
    teaching, at = useful(seen), 0
    for number, chunk in enumerate(chunks.each("Sorting cases")):
        size = seen.sizes[number]
        skip = frozenset(place - at for place in range(at, at + size) if place in again)
        at += size
        yield ChunkOrder(chunk, teaching, skip, set_aside, folder / f"{number}.groups")


def prepare(school: School, order: ChunkOrder) -> Prepared:
    """The groups of a chunk, written to its file, with what was counted."""
    counting = (one for one in order.chunk.read(school.knowledge) if not left_out(school, one))
    lessons = [one for place, one in enumerate(counting) if place not in order.skip]
    strange = _strange(school, lessons)
    kept = [
        known_of(school, lesson, place, order.useful)
        for place, lesson in enumerate(lessons)
        if not (order.set_aside and place in strange and strange[place].aside)
    ]
    spool.write(order.path, list(grouped(school.graph, kept)), trials(school.graph, kept))
    found = Counter(one.cause for known in kept for one in lessons[known.case].confirmed)
    weight = sum(known.weight for known in kept)
    kinds: Kinds = {}
    for known in kept:
        kind = tuple(sorted(lessons[known.case].machine.facts.items()))
        kinds[kind] = kinds.get(kind, 0.0) + known.weight
    return Prepared(order.path, found, len(kept), weight, tuple(strange.values()), kinds)


def _strange(school: School, lessons: Sequence[Lesson]) -> dict[int, Suspect]:
    """The surprising cases by place."""
    graph, findings = school.graph, school.knowledge.findings
    cases = [known_of(school, lesson, place) for place, lesson in enumerate(lessons)]
    complaints = frozenset(graph.findings[id] for id, one in findings.items() if one.other)
    found = list(doubts(graph, graph.numbers.values, cases, complaints))
    least = limit(found)
    strange = (one for one in found if one.chance <= least or one.decades >= SURPRISING)
    return {one.case: _suspect(graph, lessons[one.case], one) for one in strange}


def _suspect(graph: Graph, lesson: Lesson, doubt: CaseToReview) -> Suspect:
    names, states = graph.network.names, graph.network.states
    findings = tuple((names[v], states[v][state], share) for v, state, share in doubt.findings)
    causes = tuple(one.cause for one in lesson.confirmed)
    aside = doubt.decades >= SURPRISING
    return Suspect(lesson.case, causes, doubt.chance, doubt.decades, aside, findings)
