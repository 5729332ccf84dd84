"""The story of learning: cases -> survey -> what counts, in groups on the disk -> passes of EM -> new
numbers.

Nothing is written but in a folder for the time being; an interruption leaves everything as it was.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.records import Knowledge
from diagnose.learning.case_sources import CaseChunk, CaseSource, chunk_size
from diagnose.learning.case_survey import CaseSurvey, repeated, survey
from diagnose.learning.counts import School
from diagnose.learning.fit import Fit
from diagnose.learning.learnable import Numbers
from diagnose.learning.parallel import crew
from diagnose.learning.prepared import Suspect, orders, prepare
from diagnose.learning.progress import Chunks, Told, silent
from diagnose.network.network import Array

PASSES, PASSES_OF_MANY, MANY = 20, 8, 20_000
"""Passes over all cases at most; and of so many cases or more, where each takes a minute and tells little
new."""
ALONE = 100
"""Cases that are not worth a second process."""


@dataclass(frozen=True, eq=False)
class LearntNumbers:
    """What was learnt. `values`: the new cells of the numbers; `cases`: how many fully seen cases each row
    has been learnt from; `may_change`: whether it may. `weight`: of all cases together. `repeated`: (case,
    the same case before). `found`: cause -> in how many of the `counted` cases it was confirmed. `objective`:
    the logarithm of the posterior density before each pass (up to a constant), in each at the time at risk of that
    pass. `fleet_hours`: running hours of the
    whole fleet, as told; `hours`: those at risk that rates are learnt from."""

    knowledge: Knowledge
    numbers: Numbers
    values: Array
    cases: Array
    may_change: NDArray[np.bool_]
    survey: CaseSurvey
    weight: float
    repeated: tuple[tuple[str, str], ...]
    suspects: tuple[Suspect, ...]
    found: Counter[str]
    counted: int
    passes: int
    objective: tuple[float, ...]
    fleet_hours: float | None
    hours: float


def learn(
    knowledge: Knowledge,
    source: CaseSource,
    *,
    passes: int | None = None,
    set_aside: bool = True,
    fleet_hours: float | None = None,
    processes: int = 2,
    told: Told = silent,
) -> LearntNumbers:
    """Learn from all closed cases of a source. `passes`: at most (None: as above). `set_aside`: surprising
    cases do not count. `fleet_hours`: running hours of all machines, those that did not come in among them, in the
    time that the cases cover; None: rates are learnt in their mix only. Raises DataError where a case cannot be
    read."""
    count = source.count()
    with crew(knowledge, processes if count > ALONE else 1) as work, TemporaryDirectory() as folder:
        chunks = Chunks(source, chunk_size(count), count, told)
        seen = CaseSurvey().merge(work(_look, chunks.each("Reading cases")))
        again, pairs = repeated(seen)
        prepared = list(work(prepare, orders(chunks, seen, again, set_aside, Path(folder))))
        told_hours = None if fleet_hours is None else fleet_hours / max(seen.cases - len(again), 1)
        fit = Fit(knowledge, work, seen, prepared, told_hours, told)
        fit.run(passes or (PASSES if count < MANY else PASSES_OF_MANY))
    return LearntNumbers(
        knowledge,
        fit.graph.numbers,
        fit.values,
        fit.tally.cases(fit.graph, fit.at_risk),
        fit.may_change,
        seen,
        fit.weight,
        tuple(pairs),
        tuple(suspect for one in prepared for suspect in one.suspects),
        sum((one.found for one in prepared), Counter()),
        sum(one.counted for one in prepared),
        fit.passes,
        tuple(fit.objective),
        fleet_hours,
        fit.hours,
    )


def _look(school: School, chunk: CaseChunk) -> CaseSurvey:
    return survey(school, chunk.read(school.knowledge))
