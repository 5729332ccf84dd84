"""Expected counts added up, and how much of what they would tell is known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from diagnose.learning.whole_network import Graph
from diagnose.network.network import Array


@dataclass(slots=True, eq=False)
class ExpectedCounts:
    """Sums over cases, each times its weight. `counts`: expected counts, shape (cells,); `events`: how often each
    cause is to be expected to have occurred of itself, shape (causes,); `known`, `whole`: for each row the
    square of its score as it is known, and as it would be on average were all seen, shape (rows,);
    `log_probability`: natural logarithm."""

    counts: Array
    events: Array
    known: Array
    whole: Array
    log_probability: float

    @classmethod
    def empty(cls, graph: Graph) -> ExpectedCounts:
        """Of no case."""
        numbers = graph.numbers
        rows = len(numbers.rows)
        events = np.zeros(len(numbers.causes))
        return cls(np.zeros(len(numbers.values)), events, np.zeros(rows), np.zeros(rows), 0.0)

    def merge(self, others: Iterable[ExpectedCounts]) -> ExpectedCounts:
        """These and the others together, in place."""
        for other in others:
            self.counts += other.counts
            self.events += other.events
            self.known += other.known
            self.whole += other.whole
            self.log_probability += other.log_probability
        return self

    def cases(self, graph: Graph, at_risk: Array) -> Array:
        """For each row how many fully seen cases tell as much as these, shape (rows,): the expected number of
        cases times the share of the information that is not missing (Louis, JRSS B 44, 1982, from memory; in
        the log odds of a row, S = z - theta x, the missing part is the variance of S given the evidence). Of
        a cause that happens a case is the reference machine's window: `at_risk`, shape (causes,), of these
        there were."""
        trials = np.add.reduceat(self.counts, graph.numbers.start[:-1])
        count = len(at_risk)
        trials[:count] = np.where(graph.numbers.happens, at_risk, trials[:count])
        return trials * np.divide(self.known, self.whole, out=np.zeros_like(trials), where=self.whole > 0)


def scores(counts: Array, theta: Array) -> tuple[Array, Array]:
    """Of one row in each case, with expected counts c (cells, cases) and n their sum: sum of (c - theta n)^2
    / theta, and sum of E[(z - theta x)^2] / theta = (c (1 - theta)^2 + (n - c) theta^2) / theta, over the
    cells."""
    trials = counts.sum(axis=0)
    inverse = np.divide(1.0, theta, out=np.zeros_like(theta), where=theta > 0)
    known = (counts - theta * trials) ** 2 * inverse
    whole = (counts * (1 - 2 * theta) + trials * theta**2) * inverse
    return known.sum(axis=0), whole.sum(axis=0)
