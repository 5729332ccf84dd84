"""Cases to look at again: what was seen hardly goes with what it is said to have been.

Each cause c that a case lists is set against every other, the rest of the list taken as it stands:

    P(c | seen) = w(c) P(seen | rest, c) / sum over d of w(d) P(seen | rest, d)

d runs over all causes that the machine can have, and over none where there is a rest; w is its prior odds, all
together 1. Of all that can be reckoned from a case this tells a right cause from one drawn at random best (Neyman &
Pearson, Phil. Trans. A 231, 1933, from memory: it is the likelihood ratio of the two, up to a factor). How small it
is in right cases is found by drawing: each case once more with the same causes, complaint and things looked at,
what they show drawn by the knowledge.

w(c) / P(c | seen) is how much better what was seen goes with some cause of this machine than with c. It holds
nothing against a cause for being rare, and a right cause seldom has much: with far more a case does not count.

Findings count as independent given the causes; what a cause may have wrecked is left open.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from diagnose.learning.expect import RATIOS, priors_by_bin
from diagnose.learning.groups import ABSENT, EXCLUDED, OPEN, PRESENT, CaseEvidence
from diagnose.learning.whole_network import Graph
from diagnose.network.network import Array
from diagnose.network.observed import likelihood

SURPRISING = 2.0
"""Decades from which a case is set aside: a cause that is right has them at most once in a hundred, whatever was
looked at (Markov's inequality: where c is right, the ratio is 1 on average)."""
UNLIKELY = 0.05
"""Share of right cases, by those drawn, that are listed to be looked at again."""
DRAWN = 2_000
"""Cases drawn at least to find from where on."""
NAMED = 3
"""Findings that are named as the reason."""
LEAST = 1e-12  # keeps a logarithm from ending; far below any strength of the knowledge

Shown = dict[int, Array]
"""Variable -> P(state <= s) with each cause alone, and with none, shape (card, causes + 1)."""


@dataclass(frozen=True, slots=True)
class CaseToReview:
    """`chance`: P(c | seen) of the cause that has the least; `drawn`: the same of cases drawn like it;
    `decades`: log10 of how much better what was seen goes with another cause, where it does so most; `findings`:
    what says so most: variable, state, and how often these causes show it."""

    case: int
    chance: float
    drawn: tuple[float, ...]
    decades: float
    findings: tuple[tuple[int, int, float], ...]


def doubts(
    graph: Graph, values: Array, cases: Sequence[CaseEvidence], complaints: Collection[int] = ()
) -> Iterator[CaseToReview]:
    """How doubtful each case is that anything was seen in. `complaints`: variables that a drawn case shows as its
    model does, for without them there would be no case."""
    random, count = np.random.default_rng(0), -(-DRAWN // max(len(cases), 1))
    tables: dict[frozenset[int], Shown] = {}
    for known in (one for one in cases if one.findings):
        if known.lacking not in tables:
            tables[known.lacking] = _alone(graph, values, known)
        judged = _Judged(graph, values, known, tables[known.lacking])
        yield judged.doubt(judged.drawn(random, count, complaints))


def limit(found: Sequence[CaseToReview]) -> float:
    """The chance below which a right case comes only so often."""
    drawn = [chance for one in found for chance in one.drawn]
    return float(np.quantile(drawn, UNLIKELY)) if drawn else 0.0


class _Judged:
    """One case, with what each cause in place of each listed one would show."""

    def __init__(self, graph: Graph, values: Array, known: CaseEvidence, alone: Shown):
        self.graph, self.known, self.alone = graph, known, alone
        self.findings = list(known.findings)
        self.listed = np.flatnonzero(known.standing == PRESENT).tolist()
        odds = priors_by_bin(graph.numbers, values, np.arange(len(known.standing)), known.bins)
        self.odds = np.where(known.standing == EXCLUDED, 0.0, odds / (1 - odds))

    def drawn(self, random: np.random.Generator, count: int, complaints: Collection[int]) -> NDArray[np.intp]:
        """States of the findings: first as they were seen, then as drawn with the causes listed, shape (1 + count,
        findings)."""
        states = np.empty((count + 1, len(self.findings)), dtype=np.intp)
        for place, variable in enumerate(self.findings):
            states[:, place] = self.known.findings[variable][0]
            if variable not in complaints:
                chances = self._shown(variable)
                states[1:, place] = random.choice(len(chances), count, p=chances)
        return states

    def doubt(self, states: NDArray[np.intp]) -> CaseToReview:
        """The doubt of the case, the first of the rows, and of the others."""
        each = [self._against(cause, states) for cause in self._answerable()]
        chances = np.min([weight * 10**-decades for weight, decades, _ in each], axis=0)
        _, most, reasons = max(each, key=lambda one: float(one[1][0]))
        return CaseToReview(
            self.known.case,
            float(chances[0]),
            tuple(chances[1:].tolist()),
            float(most[0]),
            self._named(reasons),
        )

    def _answerable(self) -> list[int]:
        """The causes listed, without those that others of them may have wrecked: these are there anyway."""
        graph, names = self.graph, {number: v for v, number in self.graph.cause_of.items()}
        wrecked = {graph.cause_of[v] for cause in self.listed for v in graph.consequences[names[cause]]}
        return [cause for cause in self.listed if cause not in wrecked] or self.listed

    def _against(self, cause: int, states: NDArray[np.intp]) -> tuple[float, Array, Array]:
        """The weight of one cause, the decades against it in each row of states, and what each finding of the
        first row adds to them."""
        rest = [one for one in self.listed if one != cause]
        weights = np.append(self.odds, 1.0 if rest else 0.0)
        weights[rest] = 0.0
        weights /= weights.sum()
        each = np.stack(
            [
                np.log10(np.maximum(self._chances(variable, rest), LEAST))[states[:, place]]
                for place, variable in enumerate(self.findings)
            ]
        )
        whole = each.sum(axis=0)
        largest = whole.max(axis=1, keepdims=True)
        mixed = weights * 10 ** (whole - largest)
        instead = mixed[0] / mixed[0].sum()
        reasons = np.log10(np.maximum(10 ** each[:, 0] @ instead, LEAST)) - each[:, 0, cause]
        return float(weights[cause]), np.log10(mixed.sum(axis=1)) + largest[:, 0] - whole[:, cause], reasons

    def _chances(self, variable: int, rest: Sequence[int], columns: slice = slice(None)) -> Array:
        """P(reported as each state | rest and one cause more, or none), up to a factor for each state."""
        alone = self.alone[variable]
        none = np.maximum(alone[:, -1:], LEAST)
        others = np.prod(alone[:, rest] / none, axis=1, keepdims=True)
        chances = alone[:, columns] * others
        chances[1:] -= chances[:-1].copy()
        told: Array = _reports(len(alone), self.known.findings[variable][1]) @ chances
        return told

    def _shown(self, variable: int) -> Array:
        """P(reported as each state | all causes listed)."""
        chances = self._chances(variable, self.listed, slice(-1, None))[:, 0]
        told: Array = chances / chances.sum()
        return told

    def _named(self, reasons: Array) -> tuple[tuple[int, int, float], ...]:
        worst = [
            place for place in np.argsort(-reasons, kind="stable")[:NAMED] if reasons[place] > np.log10(2)
        ]
        named = []
        for variable in (self.findings[place] for place in worst):
            state = self.known.findings[variable][0]
            named.append((variable, state, float(self._shown(variable)[state])))
        return tuple(named)


@cache
def _reports(card: int, confidence: int) -> Array:
    """Up to a factor, P(reported as a state | state), shape (card, card)."""
    return np.stack([likelihood(card, state, RATIOS[confidence]) for state in range(card)])


def _alone(graph: Graph, values: Array, known: CaseEvidence) -> Shown:
    """What machines like this one show with each cause alone, and with none."""
    count = len(known.standing)
    standing = np.full((count + 1, count), ABSENT, dtype=np.int8)
    for variable, cause in graph.cause_of.items():
        standing[cause, [graph.cause_of[v] for v in graph.consequences[variable]]] = OPEN
        standing[cause, cause] = PRESENT
    columns = shown(graph, values, [replace(known, standing=row) for row in standing])
    return {v: np.cumsum(columns[v], axis=0) for v in graph.findings.values()}


def shown(graph: Graph, values: Array, cases: Sequence[CaseEvidence]) -> dict[int, Array]:
    """How often each variable is in each state with exactly the causes of each case, and what these may have
    wrecked, shape (card, cases)."""
    lacking = {v: np.array([v in known.lacking for known in cases]) for v in graph.conditions.values()}
    standing = np.stack([known.standing for known in cases], axis=1)
    found: dict[int, Array] = {}
    for variable in range(len(graph.arrows)):
        found[variable] = _from_parents(graph, values, variable, found, len(cases))
        if variable in graph.cause_of:
            found[variable] = _as_told(found[variable], standing[graph.cause_of[variable]])
        elif variable in lacking:
            first = np.eye(len(found[variable]))[:1].T
            found[variable] = np.where(lacking[variable], first, found[variable])
    return found


def _from_parents(graph: Graph, values: Array, variable: int, found: dict[int, Array], columns: int) -> Array:
    """Each state of a variable, its parents as if independent."""
    if variable in graph.cause_of:
        cause = graph.cause_of[variable]
        leak = values[2 * cause : 2 * cause + 2]
    else:
        leak = graph.leak(variable, values)
    below = np.repeat(np.cumsum(leak)[:, None], columns, axis=1)
    for arrow in graph.arrows[variable]:
        link = graph.link(variable, arrow, values)
        below = below * (np.cumsum(link, axis=1).T @ found[arrow.parent])
    return np.diff(below, axis=0, prepend=0.0)


def _as_told(by_parents: Array, standing: Array) -> Array:
    """A cause that is there is there; one that may be keeps what its parents do; no other is there."""
    present = np.where(standing == PRESENT, 1.0, np.where(standing == OPEN, by_parents[1], 0.0))
    return np.stack([1 - present, present])
