"""Variables on which nothing hangs but one hub: summed into what comes in there, before anything is eliminated.

Three causes in four have a single effect in the region of a case. Each brings a distribution of contributions
to its hub; the distribution of the largest of all is a product of cumulative distributions, kept as sums of
logarithms of ratios, so that it is had for hundreds of them at once, and without any one of them too, with no
digits lost. With the derivative by what comes in (buckets.py) these give every marginal.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.network.convolution import Meeting, joined
from diagnose.network.network import Array

Weights = Mapping[int, Array]
"""Variable -> weights of its states, shape (card, batch) or (card, 1)."""
HARDLY = 1e-12
"""A contribution that is nothing less often than this has no ratio to tell; such a variable stays in the tree."""


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """A non-negative function of the variables in `scope`, one axis a variable; at most one may be a hub."""

    scope: tuple[int, ...]
    values: Array


class Leaves:
    """All of one hub. `cards`: of each variable, in order; `links`: for each what its states bring, weighed by how
    likely they are, shape (variables, states, card of the hub), states padded with zeros; `standing`: what else
    weighs each state, shape (variables, states)."""

    def __init__(self, cards: Mapping[int, int], links: Array, standing: Array):
        self.cards, self.links = cards, links
        self.row = {variable: row for row, variable in enumerate(cards)}
        self._standing = standing[..., None]
        self._first, self._steps = _ratios(self._brought(slice(None), self._standing))
        self.total = _distribution(self._first.sum(axis=0), self._steps.sum(axis=0))

    def incoming(self, weights: Weights) -> Array:
        """What comes in, with these weights in the place of the standing ones, shape (card of the hub, batch)."""
        if not weights:
            return self.total
        changed = _Changed(self, weights)
        found = _distribution(changed.first, changed.steps)
        for brought in changed.certain.values():
            found = larger(found, brought)
        return found

    def marginals(self, targets: Collection[int], weights: Weights, derivative: Array) -> dict[int, Array]:
        """Of each target, not yet scaled, shape (states, batch), from the derivative by what comes in."""
        changed = _Changed(self, weights)
        found = {}
        for variable in changed.certain.keys() & set(targets):
            given = derivative
            for brought in (one for v, one in changed.certain.items() if v != variable):
                given = awaited(given, brought)
            given = awaited(given, _distribution(changed.first, changed.steps))
            found[variable] = weights[variable] * (
                self.links[self.row[variable], : self.cards[variable]] @ given
            )
        for brought in changed.certain.values():
            derivative = awaited(derivative, brought)
        rest = [v for v in targets if v not in found]
        for part in (changed.rows.keys() & set(rest), set(rest) - changed.rows.keys()):
            mine = sorted(part)
            own = changed if part & changed.rows.keys() else self
            every = self._marginals(mine, own, changed, derivative) if mine else ()
            found |= {v: one[: self.cards[v]] for v, one in zip(mine, every, strict=True)}
        return found

    def _marginals(
        self, variables: Sequence[int], own: Leaves | _Changed, changed: _Changed, derivative: Array
    ) -> Array:
        """Of variables whose own part of the sums `own` has."""
        first, steps, weights = own.of(variables)
        rest = _distribution(changed.first - first, changed.steps - steps)
        given = joined(derivative[None], rest, ((1, Meeting.LEFT_AWAITS),))
        return np.asarray(weights * (self.links[[self.row[v] for v in variables]] @ given))

    def of(self, variables: Sequence[int]) -> tuple[Array, Array, Array]:
        """Logarithms and weights of these variables as they stand, each with an axis for the batch."""
        rows = [self.row[v] for v in variables]
        return self._first[rows], self._steps[rows], self._standing[rows]

    def sums_without(self, rows: Sequence[int]) -> tuple[Array, Array]:
        """The sums of all logarithms but those of some rows."""
        kept = np.ones(len(self._first), dtype=np.bool_)
        kept[list(rows)] = False
        return self._first[kept].sum(axis=0), self._steps[kept].sum(axis=0)

    def _brought(self, rows: slice | Sequence[int], weights: Array) -> Array:
        """What variables bring, shape (variables, card of the hub, batch)."""
        return np.asarray(np.swapaxes(self.links[rows], 1, 2) @ weights)

    def brought(self, variables: Sequence[int], weights: Array) -> Array:
        """What these bring by weights of shape (variables, states, batch); shape (variables, card, batch)."""
        return self._brought([self.row[v] for v in variables], weights)

    def padded(self, variables: Sequence[int], weights: Weights) -> Array:
        """Weights side by side, shape (variables, states, batch)."""
        batch = max(weights[v].shape[1] for v in variables)
        found = np.zeros((len(variables), self._standing.shape[1], batch))
        for row, variable in enumerate(variables):
            found[row, : self.cards[variable]] = weights[variable]
        return found


class _Changed:
    """Leaves of a hub with weights of their own. `first`, `steps`: the sums of all logarithms; `certain`: what
    those bring that have none in some case of the batch, left out of the sums; `rows`: of the others, in order."""

    def __init__(self, leaves: Leaves, weights: Weights):
        variables = sorted(weights)
        self.rows: dict[int, int] = {}
        self.certain: dict[int, Array] = {}
        self.first, self.steps = leaves.sums_without([leaves.row[v] for v in variables])
        if not variables:
            return
        self._weights = leaves.padded(variables, weights)
        brought = leaves.brought(variables, self._weights)
        sure = np.any(brought[:, 0] <= HARDLY, axis=1, keepdims=True)[:, 0]
        self.certain = {v: brought[n] for n, v in enumerate(variables) if sure[n]}
        self.rows = {v: n for n, v in enumerate(variables) if not sure[n]}
        with np.errstate(divide="ignore", invalid="ignore"):
            self._first, self._steps = _ratios(brought)
        self.first = self.first + self._first[~sure].sum(axis=0)
        self.steps = self.steps + self._steps[~sure].sum(axis=0)

    def of(self, variables: Sequence[int]) -> tuple[Array, Array, Array]:
        """Logarithms and weights of these variables, each with an axis for the batch."""
        rows = [self.rows[v] for v in variables]
        return self._first[rows], self._steps[rows], self._weights[rows]


def _ratios(brought: Array) -> tuple[Array, Array]:
    """log F(0) and log F(t) - log F(t - 1) of distributions of shape (..., card, batch)."""
    below = np.cumsum(brought, axis=-2)[..., :-1, :]
    return np.log(brought[..., 0, :]), np.log1p(brought[..., 1:, :] / below)


def larger(one: Array, other: Array) -> Array:
    """Of two independent contributions, shape (card, batch)."""
    return joined(one, other, ((0, Meeting.LARGER),))


def awaited(derivative: Array, brought: Array) -> Array:
    """The derivative by all that comes in but this, from that by all, shape (card, batch)."""
    return joined(derivative, brought, ((0, Meeting.LEFT_AWAITS),))


def _distribution(first: Array, steps: Array) -> Array:
    """From log F(0), shape (..., batch), and log F(t) - log F(t - 1), shape (..., card - 1, batch): how often each
    state is the largest, shape (..., card, batch)."""
    below = np.exp(first[..., None, :] + np.cumsum(steps, axis=-2) - steps)
    return np.concatenate([np.exp(first)[..., None, :], below * np.expm1(steps)], axis=-2)


def split_off(
    factors: Sequence[Factor], hubs: Collection[int], others: Collection[int], standing: Weights
) -> tuple[dict[int, Leaves], list[Factor]]:
    """Hub -> its leaves, and the factors that are left. `others`: variables that are no leaves in any case."""
    pairs, alone, tied = dict[int, Factor](), dict[int, list[Factor]](), {*hubs, *others}
    for factor in factors:
        if len(factor.scope) == 1:
            alone.setdefault(factor.scope[0], []).append(factor)
        elif len(factor.scope) == 2 and factor.scope[1] in hubs and factor.scope[0] not in pairs:
            pairs[factor.scope[0]] = factor
        else:
            tied.update(factor.scope)
    by_hub: dict[int, dict[int, tuple[Array, Array]]] = {}
    for variable in sorted(pairs.keys() - tied):
        link = pairs[variable].values
        for factor in alone.get(variable, ()):
            link = link * factor.values[:, None]
        weight = standing[variable][:, 0] if variable in standing else np.ones(len(link))
        if weight @ link[:, 0] > HARDLY:
            by_hub.setdefault(pairs[variable].scope[1], {})[variable] = link, weight
    gone = {variable for mine in by_hub.values() for variable in mine}
    return {hub: _leaves(mine) for hub, mine in by_hub.items()}, [
        f for f in factors if gone.isdisjoint(f.scope)
    ]


def _leaves(each: Mapping[int, tuple[Array, Array]]) -> Leaves:
    states = max(len(weight) for _, weight in each.values())
    first, _ = next(iter(each.values()))
    links, standing = np.zeros((len(each), states, first.shape[1])), np.zeros((len(each), states))
    for row, (link, weight) in enumerate(each.values()):
        links[row, : len(link)], standing[row, : len(weight)] = link, weight
    return Leaves({v: len(weight) for v, (_, weight) in each.items()}, links, standing)
