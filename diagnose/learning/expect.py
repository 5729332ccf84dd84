"""What a group of cases tells of the numbers: expected counts, how much they really tell, and how likely it
all was."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diagnose.learning.expected_counts import ExpectedCounts, scores
from diagnose.learning.groups import EXCLUDED, OPEN, PRESENT, Group, region
from diagnose.learning.leak_contributions import LeakContributions
from diagnose.learning.learnable import Numbers
from diagnose.learning.multipliers import BIN
from diagnose.learning.whole_network import FIXED, Arrow, Graph
from diagnose.network.contributions import Contributions, ContributionTree
from diagnose.network.leaves import Factor
from diagnose.network.network import Array
from diagnose.network.observed import LIKELIHOOD_RATIOS, likelihood

RATIOS = tuple(LIKELIHOOD_RATIOS.values())
"""By the number of a confidence."""
MISSED = 0.2
"""P(a cause that is there is not listed), where it may have gone unlisted at all (judgement)."""


def tally_of(graph: Graph, values: Array, groups: Iterable[Group]) -> ExpectedCounts:
    """The expectation over groups of cases, by these numbers."""
    return ExpectedCounts.empty(graph).merge(_Evaluation(graph, values, group).tally() for group in groups)


def priors_by_bin(
    numbers: Numbers, values: Array, causes: NDArray[np.intp], bins: NDArray[np.int16]
) -> Array:
    """P(present) of causes (by number) on machines with factors of these bins, of the broadcast shape: with
    factor r, 1 - (1 - p)^r of what happens, odds times r of what has a share."""
    p, factor = values[2 * causes + 1], np.exp(BIN * bins)
    odds = p / (1 - p) * factor
    result: Array = np.where(numbers.happens[causes], -np.expm1(factor * np.log1p(-p)), odds / (1 + odds))
    return result


def occurrences(numbers: Numbers, causes: NDArray[np.intp], present: Array) -> Array:
    """How many occurrences are to be expected where there was one at least: of a Poisson number with P(any) =
    p, its mean over p. Of what has a share, 1."""
    mean = -np.log1p(-np.minimum(present, 1 - 1e-15))
    mean = np.divide(mean, present, out=np.ones_like(present), where=present > 0)
    found: Array = np.where(numbers.happens[causes], mean, 1.0)
    return found


class _Evaluation:
    """One group under one set of numbers."""

    def __init__(self, graph: Graph, values: Array, group: Group):
        self.graph, self.values, self.group = graph, values, group
        self.count = len(group.weights)
        self.opened = dict(zip(group.findings[: group.opened], group.states, strict=False))
        self.plain = dict(zip(group.findings[group.opened :], group.states[group.opened :] >= 0, strict=True))
        self.region = region(graph, group)
        self.held = set(self.region)
        self.there = {
            v: present
            for v, c in graph.cause_of.items()
            if v not in self.held and (present := group.standing[c] == PRESENT).any()
        }
        self.log_constant = np.zeros(self.count)
        self.weights: dict[int, Array] = {}
        self.meetings: dict[int, LeakContributions] = {}

    # --- into the tree --------------------------------------------------------------------------------------

    def solved(self) -> tuple[Contributions, list[tuple[int, Arrow]]]:
        """All expectations, and which link each factor is."""
        links = [(v, arrow) for v in self.region for arrow in self.graph.inside(v, self.held)]
        factors = [
            Factor((arrow.parent, self.graph.hub(v)), self.graph.link(v, arrow, self.values))
            for v, arrow in links
        ]
        _, cards, hubs = self.graph.shape(self.held)
        tree = ContributionTree(factors, cards, hubs, order=self.group.order)
        self._weigh()
        return tree.contributions(self.weights, self.count), links

    def _weigh(self) -> None:
        for variable in self.region:
            if self.graph.parents[variable]:
                self._gather(variable)
            elif variable not in self.graph.cause_of:
                self._times(variable, self.graph.leak(variable, self.values)[:, None])
            if variable in self.graph.cause_of:
                self._times(variable, self._standing(variable))
        for variable, row in self.opened.items():
            self._times(variable, self._likelihood(variable, row))
        for variable, seen in self.plain.items():
            self._miss(variable, seen)

    def _times(self, variable: int, weight: Array) -> None:
        known = self.weights.get(variable)
        self.weights[variable] = weight if known is None else known * weight

    def _gather(self, effect: int) -> None:
        """On its hub: the leak, and what the causes that are known to be there contribute."""
        leak = (
            self._prior(effect)
            if effect in self.graph.cause_of
            else self.graph.leak(effect, self.values)[:, None]
        )
        arrows = [arrow for arrow in self.graph.arrows[effect] if arrow.parent in self.there]
        if arrows:
            meeting = self._meeting(effect, leak, arrows)
            leak = np.array(np.broadcast_to(leak, (len(leak), self.count)))
            leak[:, meeting.columns] = meeting.largest()
            self.meetings[effect] = meeting
        self.weights[self.graph.hub(effect)] = leak

    def _meeting(self, effect: int, leak: Array, arrows: list[Arrow]) -> LeakContributions:
        columns = np.flatnonzero(np.any([self.there[arrow.parent] for arrow in arrows], axis=0))
        sources = [np.broadcast_to(leak, (len(leak), self.count))[:, columns]]
        for arrow in arrows:
            there = self.there[arrow.parent][columns]
            sources.append(self.graph.link(effect, arrow, self.values)[there.astype(int)].T)
        return LeakContributions(columns, sources, arrows)

    def _prior(self, cause: int) -> Array:
        number = self.graph.cause_of[cause]
        p = self._present(number)
        return np.stack([1 - p, p])

    def _present(self, number: int) -> Array:
        """P(present) of a cause, by its number, in each case."""
        return priors_by_bin(self.graph.numbers, self.values, np.array(number), self.group.bins[number])

    def _standing(self, cause: int) -> Array:
        """What was found at the end says of a cause; an open root has its prior too."""
        standing = self.group.standing[self.graph.cause_of[cause]]
        absent = np.where(standing == PRESENT, 0.0, 1.0)
        present = np.where(standing == PRESENT, 1.0, np.where(standing == OPEN, MISSED, 0.0))
        told = np.stack([absent, present])
        if cause in self.graph.roots:
            told = np.where(standing == OPEN, told * self._prior(cause), told)
        return told

    def _likelihood(self, finding: int, states: NDArray[np.int8]) -> Array:
        card = self.graph.network.cards[finding]
        confidences = self.group.confidences[list(self.opened).index(finding)]
        weights = np.ones((card, self.count))
        for state, confidence in {*zip(states.tolist(), confidences.tolist(), strict=True)}:
            if state >= 0:
                columns = (states == state) & (confidences == confidence)
                weights[:, columns] = likelihood(card, state, RATIOS[confidence])[:, None]
        return weights

    def _miss(self, finding: int, seen: NDArray[np.bool_]) -> None:
        """A finding that was certainly absent where it was looked at: leak and parents did nothing."""
        self.log_constant += np.where(seen, _log(float(self.graph.leak(finding, self.values)[0])), 0.0)
        for arrow in self.graph.arrows[finding]:
            nothing = self.graph.link(finding, arrow, self.values)[:, 0]
            if arrow.parent in self.there:
                self.log_constant += np.where(seen & self.there[arrow.parent], _log(nothing[1]), 0.0)
            elif arrow.parent in self.held:
                self._times(arrow.parent, np.where(seen, nothing[:, None], 1.0))

    # --- out of the tree ------------------------------------------------------------------------------------

    def tally(self) -> ExpectedCounts:
        """The sums of the group. Cases that the numbers call impossible count for nothing."""
        found, links = self.solved()
        tally = ExpectedCounts.empty(self.graph)
        log_probability = found.log_probability + self.log_constant
        weights = np.where(np.isfinite(log_probability), self.group.weights, 0.0)
        tally.log_probability = float(np.where(weights > 0, log_probability, 0.0) @ weights)
        for row, counts, counting in self._all(found, links):
            self._add(tally, row, counts, weights * counting)
        return tally

    def _all(
        self, found: Contributions, links: list[tuple[int, Arrow]]
    ) -> Iterator[tuple[int, Array, NDArray[np.bool_]]]:
        """Row, expected counts by case (cells, cases), and in which cases they count."""
        for (effect, arrow), table in zip(links, found.factors, strict=True):
            if arrow.row != FIXED:
                for state, counts in enumerate(table[1:]):
                    yield arrow.row + state, counts, self._counting(effect)
        for variable in self.region:
            yield from self._leaks(variable, found)
        for finding, seen in self.plain.items():
            yield from self._missed(finding, seen, found)

    def _leaks(self, variable: int, found: Contributions) -> Iterator[tuple[int, Array, NDArray[np.bool_]]]:
        """The leak of an effect and what known causes contributed; the prior of an open root."""
        row, counting = self.graph.leak_row(variable), self._counting(variable)
        if not self.graph.parents[variable]:
            if row != FIXED:
                yield row, found.marginals[variable], counting
            return
        leak = found.hubs[self.graph.hub(variable)]
        if variable in self.meetings:
            meeting = self.meetings[variable]
            leak = leak.copy()
            leak[:, meeting.columns], *others = meeting.each(leak[:, meeting.columns])
            for arrow, share in zip(meeting.arrows, others, strict=True):
                counts = np.zeros_like(leak)
                counts[:, meeting.columns] = share
                yield arrow.row, counts, counting & self.there[arrow.parent]
        yield row, leak, counting

    def _missed(
        self, finding: int, seen: NDArray[np.bool_], found: Contributions
    ) -> Iterator[tuple[int, Array, NDArray[np.bool_]]]:
        """A certainly absent finding: leak and parents all stayed in their first state."""
        first = np.eye(self.graph.network.cards[finding])[0][:, None]
        yield self.graph.leak_row(finding), np.repeat(first, self.count, axis=1), seen
        for arrow in self.graph.arrows[finding]:
            if arrow.row == FIXED:
                continue
            if arrow.parent in self.there:
                yield arrow.row, np.repeat(first, self.count, axis=1), seen & self.there[arrow.parent]
            elif arrow.parent in self.held:
                for state, share in enumerate(found.marginals[arrow.parent][1:]):
                    yield arrow.row + state, first * share, seen

    def _counting(self, variable: int) -> NDArray[np.bool_]:
        """In which cases what happened to a variable counts: it was looked at, or something below it was."""
        if variable in self.opened:
            return np.asarray(self.opened[variable] >= 0)
        if variable in self.graph.cause_of:
            standing = self.group.standing[self.graph.cause_of[variable]]
            root = variable in self.graph.roots
            return np.asarray(standing == OPEN if root else standing != EXCLUDED)
        if variable in self.graph.inner:
            return np.ones(self.count, dtype=bool)
        return self._relevant[:, variable]

    @cached_property
    def _relevant(self) -> NDArray[np.bool_]:
        """relevant[case, variable]: something below the variable was looked at."""
        looked = (self.group.states >= 0).T.astype(np.float32)
        above = self.graph.above[list(self.group.findings)].astype(np.float32)
        result: NDArray[np.bool_] = looked @ above > 0
        return result

    def _add(self, tally: ExpectedCounts, row: int, counts: Array, weights: Array) -> None:
        cells = slice(self.graph.numbers.start[row], self.graph.numbers.start[row + 1])
        tally.counts[cells] += counts @ weights
        if row < len(tally.events):
            several = occurrences(self.graph.numbers, np.array(row), self._present(row))
            tally.events[row] += (counts[1] * several) @ weights
        theta = self._theta(row)
        known, whole = scores(counts, theta)
        tally.known[row] += known @ weights
        tally.whole[row] += whole @ weights

    def _theta(self, row: int) -> Array:
        """The row as it is in each case; only priors differ between cases."""
        if row < len(self.graph.numbers.causes):
            p = self._present(row)
            return np.stack([1 - p, p])
        start = self.graph.numbers.start
        return self.values[start[row] : start[row + 1], None]


def _log(p: float) -> float:
    return float(np.log(p)) if p > 0 else -np.inf
