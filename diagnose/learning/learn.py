"""The story of learning: cases -> survey -> what counts, in groups on the disk -> passes of EM -> new
numbers.

Nothing is written but in a folder for the time being; an interruption leaves everything as it was.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.records import Knowledge
from diagnose.learning import spool
from diagnose.learning.accelerate import Accelerator
from diagnose.learning.counts import School, known_of, left_out
from diagnose.learning.doubts import SURPRISING, Doubt, doubts, limit
from diagnose.learning.em import maximised, objective, of_roots, trials
from diagnose.learning.expect import tally_of
from diagnose.learning.fleet import Fleet
from diagnose.learning.graph import Graph
from diagnose.learning.groups import grouped
from diagnose.learning.lesson import Lesson
from diagnose.learning.numbers import Numbers
from diagnose.learning.sources import Chunk, Source, chunk_size
from diagnose.learning.survey import Survey, repeated, survey, useful
from diagnose.learning.tally import Tally
from diagnose.learning.work import Crew, crew
from diagnose.network.network import Array

PASSES, PASSES_OF_MANY, MANY = 20, 8, 20_000
"""Passes over all cases at most; and of so many cases or more, where each takes a minute and tells little
new."""
STILL, STILL_A_CASE = 0.05, 1e-5
"""Learning ends when a pass raises the logarithm of the posterior density by less than this, or than this for
each case: far less than what thousands of numbers are uncertain by."""
SHARES = 4
"""Into how many tasks the groups of a chunk are dealt out, on however many processors."""
ALONE = 100
"""Cases that are not worth a second process."""

Told = Callable[[str, int, int], None]
"""Progress: what is being done, done so far, of how many."""


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


@dataclass(frozen=True, eq=False)
class Learnt:
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
    survey: Survey
    weight: float
    repeated: tuple[tuple[str, str], ...]
    suspects: tuple[Suspect, ...]
    found: Counter[str]
    counted: int
    passes: int
    objective: tuple[float, ...]
    fleet_hours: float | None
    hours: float


def silent(what: str, done: int, of: int) -> None:
    """Tells nobody."""


def learn(
    knowledge: Knowledge,
    source: Source,
    *,
    passes: int | None = None,
    set_aside: bool = True,
    fleet_hours: float | None = None,
    processes: int = 2,
    told: Told = silent,
) -> Learnt:
    """Learn from all closed cases of a source. `passes`: at most (None: as above). `set_aside`: surprising
    cases do not count. `fleet_hours`: running hours of all machines, those that did not come in among them, in the
    time that the cases cover; None: rates are learnt in their mix only. Raises DataError where a case cannot be
    read."""
    count = source.count()
    with crew(knowledge, processes if count > ALONE else 1) as work, TemporaryDirectory() as folder:
        chunks = _Chunks(source, chunk_size(count), count, told)
        seen = Survey().merge(work(_look, chunks.each("Reading cases")))
        again, pairs = repeated(seen)
        orders = _orders(chunks, seen, again, set_aside, Path(folder))
        prepared = list(work(_prepare, orders))
        told_hours = None if fleet_hours is None else fleet_hours / max(seen.cases - len(again), 1)
        fit = _Fit(knowledge, work, seen, prepared, told_hours, told)
        fit.run(passes or (PASSES if count < MANY else PASSES_OF_MANY))
    return Learnt(
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


@dataclass(frozen=True, slots=True)
class _Chunks:
    source: Source
    size: int
    count: int
    told: Told

    def each(self, what: str) -> Iterator[Chunk]:
        for number, chunk in enumerate(self.source.chunks(self.size)):
            self.told(what, min(number * self.size, self.count), self.count)
            yield chunk
        self.told(what, self.count, self.count)


def _look(school: School, chunk: Chunk) -> Survey:
    return survey(school, chunk.read(school.knowledge))


# --- what counts --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Order:
    """One chunk to prepare. `skip`: places of cases, among those that count, that stood there before."""

    chunk: Chunk
    useful: frozenset[str]
    skip: frozenset[int]
    set_aside: bool
    path: Path


@dataclass(frozen=True, slots=True, eq=False)
class _Prepared:
    """A chunk whose groups, and trials as in `em`, are in the file. `found`: cause -> in how many of the cases that
    count it was confirmed. `kinds`: what cases of machines with the same facts are worth."""

    path: Path
    found: Counter[str]
    counted: int
    weight: float
    suspects: tuple[Suspect, ...]
    kinds: Kinds


def _orders(
    chunks: _Chunks, seen: Survey, again: set[int], set_aside: bool, folder: Path
) -> Iterator[_Order]:
    teaching, at = useful(seen), 0
    for number, chunk in enumerate(chunks.each("Sorting cases")):
        size = seen.sizes[number]
        skip = frozenset(place - at for place in range(at, at + size) if place in again)
        at += size
        yield _Order(chunk, teaching, skip, set_aside, folder / f"{number}.groups")


def _prepare(school: School, order: _Order) -> _Prepared:
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
    return _Prepared(order.path, found, len(kept), weight, tuple(strange.values()), kinds)


def _strange(school: School, lessons: Sequence[Lesson]) -> dict[int, Suspect]:
    """The surprising cases by place."""
    graph, findings = school.graph, school.knowledge.findings
    cases = [known_of(school, lesson, place) for place, lesson in enumerate(lessons)]
    complaints = frozenset(graph.findings[id] for id, one in findings.items() if one.other)
    found = list(doubts(graph, graph.numbers.values, cases, complaints))
    least = limit(found)
    strange = (one for one in found if one.chance <= least or one.decades >= SURPRISING)
    return {one.case: _suspect(graph, lessons[one.case], one) for one in strange}


def _suspect(graph: Graph, lesson: Lesson, doubt: Doubt) -> Suspect:
    names, states = graph.network.names, graph.network.states
    findings = tuple((names[v], states[v][state], share) for v, state, share in doubt.findings)
    causes = tuple(one.cause for one in lesson.confirmed)
    aside = doubt.decades >= SURPRISING
    return Suspect(lesson.case, causes, doubt.chance, doubt.decades, aside, findings)


# --- passes -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    """A share of the groups of a chunk: every SHARES-th from `first` on."""

    path: Path
    first: int
    values: Array


def _expect(school: School, task: _Task) -> Tally:
    return tally_of(school.graph, task.values, spool.read(task.path)[task.first :: SHARES])


class _Fit:
    """EM. In the first pass the numbers follow after each chunk (Neal & Hinton 1998, from memory), so that
    many cases take few passes; then all cases are looked at by the same numbers, with longer steps where EM
    creeps.

    `told_hours`: running hours of the fleet to each case. Where nobody tells, as many are taken as the
    knowledge's own rates need for what has happened by the first look at all cases."""

    def __init__(
        self,
        knowledge: Knowledge,
        work: Crew,
        seen: Survey,
        prepared: Sequence[_Prepared],
        told_hours: float | None,
        told: Told,
    ):
        self.work, self.told, self.prepared = work, told, prepared
        self.school = School(knowledge)
        self.graph: Graph = self.school.graph
        self.values = self.graph.numbers.values
        self.may_change = _may_change(knowledge, self.graph, useful(seen))
        self.weight = sum(one.weight for one in prepared)
        self.passes = 0
        self.objective: list[float] = []
        self.tally, self.before = Tally.empty(self.graph), self.values
        self.told_hours = told_hours
        self.hours = 0.0
        self.fleet = self._fleet(())
        self._count_windows()

    def run(self, passes: int) -> None:
        """Passes until there is nothing more to gain."""
        follows = len(self.prepared) > 1 and passes > 1
        if follows:
            self._follow()
        quick = Accelerator(self.graph.numbers)
        for number in range(2 if follows else 1, passes + 1):
            self.passes = number
            tally = self._look(number)
            gained = self._gained(tally)
            if gained < 0 and quick.safe is not None:
                self.values, quick.safe = quick.safe, None  # the long step went too far
                continue
            self.objective.append(
                self.objective[-1] + gained if self.objective else self._density(tally, self.values)
            )
            self.tally, self.before = tally, self.values
            self._count_windows()
            after = self._maximised(tally, self.prepared)
            if gained < max(STILL, STILL_A_CASE * self.weight):
                self.values = after
                break
            self.values = quick.next(self.values, after) if number < passes else after

    def _gained(self, tally: Tally) -> float:
        """By how much the step has raised the density, at the time at risk by which it was made."""
        if not self.objective:
            return float("inf")
        return self._density(tally, self.values) - self._density(self.tally, self.before)

    def _density(self, tally: Tally, values: Array) -> float:
        looked = self._trials(self.prepared)
        return objective(self.graph.numbers, tally.log_probability, values, looked, self.at_risk)

    def _look(self, number: int) -> Tally:
        """The expectation of all cases by the present numbers."""
        tallies = []
        for place, chunk in enumerate(self.prepared):
            self.told(f"Learning, pass {number}", place, len(self.prepared))
            tallies.append(self._expected(chunk))
        total = self._with_roots(Tally.empty(self.graph).merge(tallies), self.prepared)
        if not self.objective:
            self.fleet = self._fleet(self.prepared)
            self._count_hours(total, self.prepared)
            self._count_windows()
        return total

    def _fleet(self, chunks: Sequence[_Prepared]) -> Fleet:
        """The machines of these chunks."""
        kinds: Kinds = {}
        for one in chunks:
            for kind, weight in one.kinds.items():
                kinds[kind] = kinds.get(kind, 0.0) + weight
        by_facts = self.school.factors.by_facts
        return Fleet(
            self.graph.numbers, [(weight, by_facts(dict(kind)).factor) for kind, weight in kinds.items()]
        )

    def _count_hours(self, tally: Tally, chunks: Sequence[_Prepared]) -> None:
        """The running hours that belong to these chunks."""
        if self.told_hours is None:
            self.hours = self.fleet.hours_needed(tally.events)
        else:
            self.hours = self.told_hours * sum(one.weight for one in chunks)

    def _count_windows(self) -> None:
        """The time at risk by the present numbers."""
        self.at_risk = self.fleet.at_risk(self.fleet.windows(self.hours, self.values))

    def _follow(self) -> None:
        """One pass in which the numbers follow chunk by chunk."""
        total = Tally.empty(self.graph)
        for place, chunk in enumerate(self.prepared):
            self.told("Learning, pass 1", place, len(self.prepared))
            total.merge([self._expected(chunk)])
            known = self.prepared[: place + 1]
            so_far = self._with_roots(Tally.empty(self.graph).merge([total]), known)
            self.fleet = self._fleet(known)
            self._count_hours(so_far, known)
            self._count_windows()
            self.values = self._maximised(so_far, known)

    def _expected(self, chunk: _Prepared) -> Tally:
        tasks = (_Task(chunk.path, first, self.values) for first in range(SHARES))
        return Tally.empty(self.graph).merge(self.work(_expect, tasks))

    def _with_roots(self, tally: Tally, chunks: Sequence[_Prepared]) -> Tally:
        return tally.merge([of_roots(self.graph, self.values, self._trials(chunks))])

    def _maximised(self, tally: Tally, chunks: Sequence[_Prepared]) -> Array:
        numbers, looked = self.graph.numbers, self._trials(chunks)
        return maximised(numbers, tally, looked, self.at_risk, self.may_change, self.values)

    def _trials(self, chunks: Sequence[_Prepared]) -> Array:
        total = trials(self.graph, ())
        for one in chunks:
            total += spool.trials(one.path)
        return total


def _may_change(knowledge: Knowledge, graph: Graph, teaching: frozenset[str]) -> NDArray[np.bool_]:
    """All rows but those of findings that do not teach, and the leaks of conditions that can bring a cause
    about: among machines that came in these are too common, and would take from the cause what its own rate
    explains."""
    above_causes = {id for id, variable in graph.conditions.items() if variable in graph.inner}
    still = knowledge.findings.keys() - teaching
    return np.array(
        [
            row.effect not in still and not (row.kind == "leak" and row.effect in above_causes)
            for row in graph.numbers.rows
        ],
        dtype=bool,
    )
