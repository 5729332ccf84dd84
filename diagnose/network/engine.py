"""Exact posteriors, and what every result not yet seen would make of them.

`Engine(network, evidence)` compiles the ancestors of the evidence into one bucket tree; the rest of the
network is barren (Shachter 1986, cited from memory) or reached by sums of products (hypotheses.py).
Evidence is a likelihood vector for each observed variable (Pearl's virtual evidence); one-hot is certain.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.network.compiling import compiled
from diagnose.network.hypotheses import Terms, TooManyTerms, expand
from diagnose.network.messages import MAX_TABLE, TooWide
from diagnose.network.network import Array, Network, Table, full_table
from diagnose.network.observed import Evidence, ImpossibleEvidence, held, one_hot, split_evidence

_Known = tuple[float, dict[int, Array]]
"""The logarithm of P(evidence) by the tree, and the marginals of its variables."""

WIDER = 4
"""A tree with further findings inside has, as a rule, tables at least so many times as large (judgement)."""
SHARED_TABLE = 1 << 13
"""Largest table of a tree that is made for several questions at once."""


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Marginals by variable, each shape (card,), and the natural logarithm of P(evidence)."""

    marginals: Mapping[int, Array]
    log_probability: float


@dataclass(frozen=True, slots=True, eq=False)
class Outcomes:
    """The joint results of some findings.

    `probabilities`: P(result | evidence), shape (card of each finding...);
    `causes`: P(cause present | evidence, result), shape (card of each finding..., causes); where the result
    is impossible, the posterior without it.
    """

    probabilities: Array
    causes: Array


def posterior(network: Network, evidence: Evidence, targets: Iterable[int] | None = None) -> Posterior:
    """P(variable | evidence) of the targets (default: all) and log P(evidence). Raises ImpossibleEvidence."""
    wanted = range(len(network.names)) if targets is None else list(targets)
    engine = Engine(network, evidence, inside=[v for v in wanted if network.parents(v)])
    return Posterior({v: engine.marginal(v) for v in wanted}, engine.log_probability)


class Engine:
    """One network under one body of evidence, ready for questions.

    `inside`: variables to keep in the tree although they are no ancestors of the evidence (non-root targets).
    `order`: of elimination, where a good one is known. Raises TooWide where a table of more than `widest` numbers
    were needed."""

    def __init__(
        self,
        network: Network,
        evidence: Evidence,
        inside: Iterable[int] = (),
        widest: int = MAX_TABLE,
        order: Sequence[int] | None = None,
    ):
        self.network = network
        self.evidence = dict(evidence)
        self.inside = frozenset(inside)
        self.region = network.ancestors({*self.evidence, *self.inside})
        self.fixed, self._log_scale = split_evidence(self.evidence)
        self.compiled = compiled(network, self.region, self.evidence, self.fixed, widest, order)
        self.tree = self.compiled.tree
        self._plans: dict[tuple[int, ...], list[Terms] | None] = {}
        self._known: _Known | None = None

    def check(self) -> None:
        """Raises ImpossibleEvidence where the evidence cannot all be true."""
        if self._known is None:
            self._known = self._worked_out()

    @property
    def _base(self) -> _Known:
        self.check()
        assert self._known is not None
        return self._known

    def _worked_out(self) -> _Known:
        free = [v for v in self.region if v not in self.fixed]
        beliefs = self.tree.run({}, free)
        log_probability = float(beliefs.log_probability[0])
        if not np.isfinite(log_probability):
            at_odds = _conflicting(self.network, self.evidence)
            raise ImpossibleEvidence([self.network.names[v] for v in at_odds], at_odds)
        return log_probability, {v: marginal[:, 0] for v, marginal in beliefs.marginals.items()}

    @property
    def log_probability(self) -> float:
        """The natural logarithm of P(evidence). Raises ImpossibleEvidence."""
        return self._base[0] + self._log_scale

    def marginal(self, variable: int) -> Array:
        """P(variable | evidence), shape (card,)."""
        if variable in self.fixed:
            self.check()
            return one_hot(self.network.cards[variable], self.fixed[variable])
        if variable in self.region:
            return self._base[1][variable]
        family = self.network.families[variable]
        if not family.parents:
            return family.values if isinstance(family, Table) else family.leak
        return self.outcomes([(variable,)], [])[0].probabilities

    def marginals(self, variables: Iterable[int]) -> dict[int, Array]:
        """P(variable | evidence) of many variables, those outside the tree in one go."""
        asked = list(variables)
        outside = [v for v in asked if v not in self.region and self.network.parents(v)]
        known = {v: self._by_one_parent(v) for v in outside if self._hangs_on_one(v)}
        rest = [v for v in outside if v not in known]
        found = self.outcomes([(v,) for v in rest], [])
        known |= {v: outcome.probabilities for v, outcome in zip(rest, found, strict=True)}
        return {v: known[v] if v in known else self.marginal(v) for v in asked}

    def _hangs_on_one(self, variable: int) -> bool:
        """Whether it has one parent, whose marginal is known: then that tells its own."""
        parents = self.network.parents(variable)
        return len(parents) == 1 and (parents[0] in self.region or not self.network.parents(parents[0]))

    def _by_one_parent(self, variable: int) -> Array:
        family = self.network.families[variable]
        found: Array = self.marginal(family.parents[0]) @ full_table(family)
        return found

    def outcomes(self, items: Sequence[tuple[int, ...]], causes: Sequence[int]) -> list[Outcomes]:
        """For each tuple of findings, the probability of each joint result and the causes given it.

        Causes are reported as P(not in their first state). Exact; all results share one batch. Raises TooWide.
        """
        return [found for found in self.outcomes_within(MAX_TABLE, items, causes) if found is not None]

    def outcomes_within(
        self, widest: int, items: Sequence[tuple[int, ...]], causes: Sequence[int]
    ) -> list[Outcomes | None]:
        """As `outcomes`; None for results that would need a larger table than `widest`, below MAX_TABLE."""
        base = np.array([1 - self.marginal(cause)[0] for cause in causes])
        plans = [self._plan(item) for item in items]
        batch = [terms for plan in plans if plan for terms in plan]
        joint, presence = self._evaluate(batch, causes, base)
        unplanned = [item for item, plan in zip(items, plans, strict=True) if plan is None]
        larger = iter(self._from_larger_tree(widest, unplanned, causes))
        results: list[Outcomes | None] = []
        at = 0
        for item, plan in zip(items, plans, strict=True):
            if plan is None:
                results.append(next(larger))
                continue
            rows = slice(at, at := at + len(plan))
            results.append(_differenced(item, self.network.cards, joint[rows], presence[rows], base))
        return results

    def expands(self, item: tuple[int, ...]) -> bool:
        """Whether the joint results of `item` are short sums over the tree as it is: quick, however wide."""
        return self._plan(item) is not None

    def given(self, rows: Sequence[Mapping[int, int]], targets: Sequence[int]) -> tuple[Array, Array]:
        """With some more variables of the tree held at a state in each row: P(row | evidence), shape (rows,),
        and P(target present | evidence, row), shape (rows, targets). Targets outside the tree keep theirs."""
        free = [v for v in targets if v in self.region and v not in self.fixed]
        beliefs = self.tree.run(held(rows, self.network.cards), free, len(rows))
        present = np.array([np.full(len(rows), 1 - self.marginal(v)[0]) for v in targets]).reshape(
            -1, len(rows)
        )
        for position, variable in enumerate(targets):
            if variable in beliefs.marginals:
                present[position] = 1 - beliefs.marginals[variable][0]
        return np.exp(beliefs.log_probability - self._base[0]), present.T

    def _plan(self, item: tuple[int, ...]) -> list[Terms] | None:
        """Terms of P(every finding <= its threshold) for each combination of thresholds, in index order; None
        where they are too many."""
        if item not in self._plans:
            cards = [self.network.cards[v] for v in item]
            try:
                self._plans[item] = [self._terms(item, index, cards) for index in np.ndindex(*cards)]
            except TooManyTerms:
                self._plans[item] = None
        return self._plans[item]

    def _terms(self, item: tuple[int, ...], index: tuple[int, ...], cards: Sequence[int]) -> Terms:
        bounds = {v: t for v, t, card in zip(item, index, cards, strict=True) if t < card - 1}
        return expand(self.network, bounds, self.region, self.fixed)

    def _from_larger_tree(
        self, widest: int, items: Sequence[tuple[int, ...]], causes: Sequence[int]
    ) -> list[Outcomes | None]:
        """Results with too many hidden variables above them: from one tree that holds those of all items too,
        unless that is wide; else from a tree for each, None where that needs more than `widest`."""
        if widest < min(WIDER * self.tree.width, MAX_TABLE):
            return [None] * len(items)  # the tree as it is leaves no room; to look for an order takes long
        if len(items) > 1:
            try:
                return [*self._with_inside(items, causes, SHARED_TABLE).outcomes(items, causes)]
            except TooWide:
                return [found for item in items for found in self._from_larger_tree(widest, [item], causes)]
        try:
            return [*self._with_inside(items, causes, widest).outcomes(items, causes)] if items else []
        except TooWide:
            if widest >= MAX_TABLE:
                raise
            return [None]

    def _with_inside(self, items: Iterable[tuple[int, ...]], causes: Iterable[int], widest: int) -> Engine:
        """The same evidence in a tree that holds the items too. What is known need not be computed again."""
        larger = Engine(self.network, self.evidence, self.inside.union(*items), widest)
        known = {cause: self.marginal(cause) for cause in causes if cause in larger.region - self.region}
        larger._known = (self._base[0], {**self._base[1], **known})
        return larger

    def _evaluate(self, batch: Sequence[Terms], causes: Sequence[int], base: Array) -> tuple[Array, Array]:
        """P(hypothesis | evidence) and P(hypothesis and cause present | evidence) for each hypothesis."""
        if not batch:
            return np.zeros(0), np.zeros((0, len(causes)))
        starts = np.cumsum([0, *(len(terms.coefficients) for terms in batch)])
        values = np.concatenate([terms.coefficients for terms in batch])
        weights = _stacked(batch, starts, self.network)
        presence = np.repeat(base[None], len(values), axis=0)
        column = {cause: position for position, cause in enumerate(causes)}
        values = self._in_tree(weights, values, column, presence)
        for variable, weight in weights.items():
            if variable not in self.region:
                share = weight * self.marginal(variable)[:, None]
                total = share.sum(axis=0)
                values = values * total
                if variable in column:
                    presence[:, column[variable]] = 1 - share[0] / np.where(total > 0, total, 1.0)
        presence *= values[:, None]
        return np.add.reduceat(values, starts[:-1]), np.add.reduceat(presence, starts[:-1], axis=0)

    def _in_tree(
        self, weights: Mapping[int, Array], values: Array, column: Mapping[int, int], presence: Array
    ) -> Array:
        """Run the terms that touch the tree through it; fill in `presence` for the causes in the tree."""
        inside = {v: w for v, w in weights.items() if v in self.region}
        touched = np.zeros(len(values), dtype=bool)
        for weight in inside.values():
            touched |= (weight != 1.0).any(axis=0)
        if not touched.any():
            return values
        rows, first, back = _distinct({v: w[:, touched] for v, w in inside.items()})
        targets = [cause for cause in column if cause in self.region and cause not in self.fixed]
        beliefs = self.tree.run(rows, targets, first)
        values = values.copy()
        values[touched] *= np.exp(beliefs.log_probability - self._base[0])[back]
        for cause in targets:
            presence[touched, column[cause]] = (1 - beliefs.marginals[cause][0])[back]
        return values


def _stacked(batch: Sequence[Terms], starts: Array, network: Network) -> dict[int, Array]:
    """The terms' weights side by side: variable -> shape (card, all terms)."""
    weights: dict[int, Array] = {}
    for terms, start in zip(batch, starts[:-1], strict=True):
        for variable, weight in terms.weights.items():
            if variable not in weights:
                weights[variable] = np.ones((network.cards[variable], starts[-1]))
            weights[variable][:, start : start + len(weight)] = weight.T
    return weights


def _distinct(weights: Mapping[int, Array]) -> tuple[dict[int, Array], int, NDArray[np.intp]]:
    """The columns without repeats, how many are left, and for each old column its new place."""
    whole = np.concatenate(list(weights.values()))
    marks = np.sqrt(np.arange(2.0, len(whole) + 2.0)) @ whole
    _, first, back = np.unique(marks, return_index=True, return_inverse=True)
    if not np.array_equal(whole[:, first][:, back], whole):  # two different columns with one mark
        first = back = np.arange(whole.shape[1])
    return {v: w[:, first] for v, w in weights.items()}, len(first), back


def _differenced(
    item: tuple[int, ...], cards: Sequence[int], joint: Array, presence: Array, base: Array
) -> Outcomes:
    """From "every finding <= threshold" to "every finding = state"."""
    shape = tuple(cards[v] for v in item)
    probabilities = joint.reshape(shape)
    causes = presence.reshape(*shape, -1) if presence.size else np.zeros((*shape, 0))
    for axis in range(len(shape)):
        probabilities, causes = _steps(probabilities, axis), _steps(causes, axis)
    probabilities = np.maximum(probabilities, 0.0)
    possible = (probabilities > 1e-13)[..., None]
    given = np.broadcast_to(base, causes.shape).copy()
    np.divide(causes, probabilities[..., None], out=given, where=possible)
    return Outcomes(probabilities / probabilities.sum(), np.clip(given, 0.0, 1.0))


def _steps(sums: Array, axis: int) -> Array:
    """The first along the axis, then the differences of neighbours."""
    found, before = sums.copy(), (slice(None),) * axis
    found[(*before, slice(1, None))] -= sums[(*before, slice(0, -1))]
    return found


def _conflicting(network: Network, evidence: Evidence) -> list[int]:
    """A smallest set (none can be left out) of evidence that is impossible together."""
    kept = dict(evidence)
    for variable in list(evidence):
        rest = {v: likelihood for v, likelihood in kept.items() if v != variable}
        if _impossible(network, rest):
            kept = rest
    return list(kept)


def _impossible(network: Network, evidence: Evidence) -> bool:
    return not np.isfinite(Engine(network, evidence).tree.run({}, []).log_probability[0])
