"""Passes of EM over prepared cases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.records import Knowledge
from diagnose.learning import spool
from diagnose.learning.accelerate import Accelerator
from diagnose.learning.case_survey import CaseSurvey, useful
from diagnose.learning.counts import School
from diagnose.learning.em import maximised, objective, of_roots, trials
from diagnose.learning.expect import tally_of
from diagnose.learning.expected_counts import ExpectedCounts
from diagnose.learning.fleet import Fleet
from diagnose.learning.parallel import Crew
from diagnose.learning.prepared import Kinds, Prepared
from diagnose.learning.progress import Told
from diagnose.learning.whole_network import Graph
from diagnose.network.network import Array

STILL, STILL_A_CASE = 0.05, 1e-5
"""Learning ends when a pass raises the logarithm of the posterior density by less than this, or than this for
each case: far less than what thousands of numbers are uncertain by."""
SHARES = 4
"""Into how many tasks the groups of a chunk are dealt out, on however many processors."""


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    """A share of the groups of a chunk: every SHARES-th from `first` on."""

    path: Path
    first: int
    values: Array


def _expect(school: School, task: _Task) -> ExpectedCounts:
    return tally_of(school.graph, task.values, spool.read(task.path)[task.first :: SHARES])


class Fit:
    """EM. In the first pass the numbers follow after each chunk (Neal & Hinton 1998, from memory), so that
    many cases take few passes; then all cases are looked at by the same numbers, with longer steps where EM
    creeps.

    `told_hours`: running hours of the fleet to each case. Where nobody tells, as many are taken as the
    knowledge's own rates need for what has happened by the first look at all cases."""

    def __init__(
        self,
        knowledge: Knowledge,
        work: Crew,
        seen: CaseSurvey,
        prepared: Sequence[Prepared],
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
        self.tally, self.before = ExpectedCounts.empty(self.graph), self.values
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

    def _gained(self, tally: ExpectedCounts) -> float:
        """By how much the step has raised the density, at the time at risk by which it was made."""
        if not self.objective:
            return float("inf")
        return self._density(tally, self.values) - self._density(self.tally, self.before)

    def _density(self, tally: ExpectedCounts, values: Array) -> float:
        looked = self._trials(self.prepared)
        return objective(self.graph.numbers, tally.log_probability, values, looked, self.at_risk)

    def _look(self, number: int) -> ExpectedCounts:
        """The expectation of all cases by the present numbers."""
        tallies = []
        for place, chunk in enumerate(self.prepared):
            self.told(f"Learning, pass {number}", place, len(self.prepared))
            tallies.append(self._expected(chunk))
        total = self._with_roots(ExpectedCounts.empty(self.graph).merge(tallies), self.prepared)
        if not self.objective:
            self.fleet = self._fleet(self.prepared)
            self._count_hours(total, self.prepared)
            self._count_windows()
        return total

    def _fleet(self, chunks: Sequence[Prepared]) -> Fleet:
        """The machines of these chunks."""
        kinds: Kinds = {}
        for one in chunks:
            for kind, weight in one.kinds.items():
                kinds[kind] = kinds.get(kind, 0.0) + weight
        by_facts = self.school.factors.by_facts
        return Fleet(
            self.graph.numbers, [(weight, by_facts(dict(kind)).factor) for kind, weight in kinds.items()]
        )

    def _count_hours(self, tally: ExpectedCounts, chunks: Sequence[Prepared]) -> None:
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
        total = ExpectedCounts.empty(self.graph)
        for place, chunk in enumerate(self.prepared):
            self.told("Learning, pass 1", place, len(self.prepared))
            total.merge([self._expected(chunk)])
            known = self.prepared[: place + 1]
            so_far = self._with_roots(ExpectedCounts.empty(self.graph).merge([total]), known)
            self.fleet = self._fleet(known)
            self._count_hours(so_far, known)
            self._count_windows()
            self.values = self._maximised(so_far, known)

    def _expected(self, chunk: Prepared) -> ExpectedCounts:
        tasks = (_Task(chunk.path, first, self.values) for first in range(SHARES))
        return ExpectedCounts.empty(self.graph).merge(self.work(_expect, tasks))

    def _with_roots(self, tally: ExpectedCounts, chunks: Sequence[Prepared]) -> ExpectedCounts:
        return tally.merge([of_roots(self.graph, self.values, self._trials(chunks))])

    def _maximised(self, tally: ExpectedCounts, chunks: Sequence[Prepared]) -> Array:
        numbers, looked = self.graph.numbers, self._trials(chunks)
        return maximised(numbers, tally, looked, self.at_risk, self.may_change, self.values)

    def _trials(self, chunks: Sequence[Prepared]) -> Array:
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
