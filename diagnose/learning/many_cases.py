"""Many cases ranked, one after the other and on all processors: the same numbers as one by one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.diagnosis import RankedCause, diagnose
from diagnose.knowledge.records import Knowledge
from diagnose.learning.case_sources import CaseChunk, CaseSource
from diagnose.learning.counts import School
from diagnose.learning.lesson import Lesson
from diagnose.learning.parallel import crew
from diagnose.network.observed import ImpossibleEvidence

SOME = 25
"""Cases of a task."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """One case ranked: the causes by probability. `error`: why it could not be, else ""."""

    case: str
    machine: str
    causes: tuple[RankedCause, ...] = ()
    other_cause: float = 0.0
    unused: tuple[str, ...] = ()
    error: str = ""


def rank_all(
    knowledge: Knowledge, source: CaseSource, limit: int | None = None, processes: int = 2
) -> Iterator[Ranked]:
    """Every case of a source, in order, with its first `limit` causes (None: all). Raises DataError."""
    with crew(knowledge, processes if source.count() > SOME else 1) as work:
        tasks = ((chunk, limit) for chunk in source.chunks(SOME))
        for some in work(_rank, tasks):
            yield from some


def _rank(school: School, task: tuple[CaseChunk, int | None]) -> list[Ranked]:
    chunk, limit = task
    return [ranked(school.knowledge, lesson, limit) for lesson in chunk.read(school.knowledge)]


def ranked(knowledge: Knowledge, lesson: Lesson, limit: int | None = None) -> Ranked:
    """One case."""
    try:
        diagnosis = diagnose(knowledge, lesson.as_case())
    except ImpossibleEvidence as error:
        return Ranked(lesson.case, lesson.machine.number, error=str(error))
    return Ranked(
        lesson.case,
        lesson.machine.number,
        diagnosis.causes[:limit],
        diagnosis.other_cause,
        diagnosis.unused,
    )
