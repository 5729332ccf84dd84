"""Was the program right? What it called of closed cases, before anybody said what they were, and what they
were."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from heapq import nlargest
from itertools import islice

import numpy as np

from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Knowledge
from diagnose.learning.anonymous import quarter
from diagnose.learning.case_sources import CaseSource
from diagnose.learning.case_survey import fingerprint
from diagnose.learning.counts import School, left_out
from diagnose.learning.learn import ALONE
from diagnose.learning.lesson import Lesson
from diagnose.learning.parallel import crew
from diagnose.learning.progress import Told, silent
from diagnose.learning.scores import Tallied
from diagnose.learning.whole_network import Graph
from diagnose.network.observed import ImpossibleEvidence

SAMPLE = 2_000
"""Cases that are looked at, evenly spread over all; a diagnosis of each takes its time."""
SURPRISES = 10  # cases that are named: a screen
BLOCKS = 8
"""Parts of equal size, in order, where the cases have no days."""
FEW = 20
"""Cases of a block from which it is worth a word that it drifted."""
DRIFTED = 3.0
"""Standard errors that chance does not bring (3 in 1000)."""
SOME = 25
"""Cases of a task."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One case: what was called first, with which probability, whether it was there; the confirmed cause that
    was called least, with its probability and place in the ranking. `scores`: of every cause that could be
    behind the findings."""

    case: str
    when: str
    leading: str
    called: float
    right: bool
    missed: str
    probability: float
    place: int
    scores: Tallied

    @property
    def surprise(self) -> float:
        """Bits: -log2 of the probability that was left to what it was."""
        return -float(np.log2(max(self.probability, 1e-12)))


@dataclass(frozen=True, slots=True)
class Block:
    """Some cases together: `when`: their quarter, or which of how many parts. `called`, `right`: of the
    leading cause, the mean probability and the share that was there; `drift`: their difference in standard
    errors."""

    when: str
    cases: int
    called: float
    right: float
    brier: float
    surprise: float
    drift: float

    @property
    def drifted(self) -> bool:
        """More than chance brings."""
        return self.cases >= FEW and abs(self.drift) >= DRIFTED


@dataclass(frozen=True, slots=True)
class Calibration:
    """All cases that were judged. `closed`: how many there are; `scores`: of every cause in every case;
    `leading`: of the leading cause alone; `first`, `first_three`: share of cases whose (first confirmed)
    cause stood there."""

    closed: int
    cases: int
    scores: Tallied
    leading: Tallied
    first: float
    first_three: float
    blocks: tuple[Block, ...]
    surprises: tuple[Judged, ...]
    impossible: tuple[str, ...] = field(default=())


def calibrate(
    knowledge: Knowledge,
    source: CaseSource,
    *,
    sample: int | None = SAMPLE,
    processes: int = 2,
    told: Told = silent,
) -> Calibration:
    """Judge the closed cases of a source whose outcome is certain enough: proven, or confirmed by sight.
    `sample`: so many at most (None: all). Raises DataError."""
    school = School(knowledge)
    closed = sum(1 for _ in _certain(school, source))
    step = 1 if sample is None else -(-max(closed, 1) // sample)
    with crew(knowledge, processes if closed // step > ALONE else 1) as work:
        chosen = islice(_certain(school, source), 0, None, step)
        tasks = iter(lambda: tuple(islice(chosen, SOME)), ())
        judged: list[Judged] = []
        impossible: list[str] = []
        for some in work(_judge, tasks):
            judged.extend(one for one in some if isinstance(one, Judged))
            impossible.extend(one for one in some if isinstance(one, str))
            told("Judging cases", len(judged) + len(impossible), -(-closed // step))
    return _summed(closed, judged, impossible)


def _certain(school: School, source: CaseSource) -> Iterator[Lesson]:
    """The cases that can be judged, each once."""
    seen: set[bytes] = set()
    for chunk in source.chunks(SOME * 40):
        for lesson in chunk.read(school.knowledge):
            sure = lesson.proven or all(one.how == "by sight" for one in lesson.confirmed)
            if sure and not left_out(school, lesson) and (mark := fingerprint(lesson)) not in seen:
                seen.add(mark)
                yield lesson.while_broken()


def _judge(school: School, lessons: Sequence[Lesson]) -> list[Judged | str]:
    return [judge(school.knowledge, school.graph, lesson) for lesson in lessons]


def judge(knowledge: Knowledge, graph: Graph, lesson: Lesson) -> Judged | str:
    """One case; its name where the knowledge calls what was seen impossible."""
    try:
        diagnosis = diagnose(knowledge, lesson.as_case())
    except ImpossibleEvidence:
        return lesson.case
    return _against(graph, lesson, diagnosis)


def _against(graph: Graph, lesson: Lesson, diagnosis: Diagnosis) -> Judged:
    """The ranking against what it was. What the listed causes may have wrecked is unknown if it is not
    listed."""
    listed = {one.cause for one in lesson.confirmed}
    wrecked = {graph.consequences[graph.variable_of[id]] for id in listed}
    unknown = {graph.network.names[v] for causes in wrecked for v in causes} - listed
    ranking = [one for one in diagnosis.causes if one.relevant or one.id in listed]
    known = [one for one in ranking if one.id not in unknown]
    places = {one.id: place for place, one in enumerate(ranking, 1)}
    least = max(listed, key=lambda id: (places[id], id))
    leading = ranking[0]
    return Judged(
        lesson.case,
        lesson.closed,
        leading.id,
        leading.probability,
        leading.id in listed,
        least,
        next(one.probability for one in ranking if one.id == least),
        min(places[id] for id in listed),
        Tallied.of([one.probability for one in known], [one.id in listed for one in known]),
    )


def _summed(closed: int, judged: Sequence[Judged], impossible: Sequence[str]) -> Calibration:
    count = max(len(judged), 1)
    nothing = Tallied.of([], [])
    return Calibration(
        closed,
        len(judged),
        nothing.merge(one.scores for one in judged),
        Tallied.of([one.called for one in judged], [one.right for one in judged]),
        sum(one.place == 1 for one in judged) / count,
        sum(one.place <= 3 for one in judged) / count,
        tuple(_blocks(judged)),
        tuple(nlargest(SURPRISES, judged, key=lambda one: one.surprise)),
        tuple(impossible),
    )


def _blocks(judged: Sequence[Judged]) -> Iterator[Block]:
    """By quarter where every case has one, else parts of equal size in the order of the cases."""
    quarters = [quarter(one.when) for one in judged]
    if all(quarters):
        for when in sorted(set(quarters)):
            yield _block(when, [one for one, its in zip(judged, quarters, strict=True) if its == when])
        return
    size = -(-len(judged) // BLOCKS)
    for number, at in enumerate(range(0, len(judged), size), 1):
        yield _block(f"part {number}", judged[at : at + size])


def _block(when: str, judged: Sequence[Judged]) -> Block:
    called = np.array([one.called for one in judged])
    right = np.array([one.right for one in judged], dtype=float)
    spread = float(np.sqrt(max((called * (1 - called)).sum(), 1e-12)))
    scores = Tallied.of([], []).merge(one.scores for one in judged)
    return Block(
        when,
        len(judged),
        float(called.mean()),
        float(right.mean()),
        scores.brier,
        float(np.mean([one.surprise for one in judged])),
        float((right - called).sum()) / spread,
    )
