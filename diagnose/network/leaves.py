"""Variables on which nothing hangs but one hub: summed into what comes in there, before anything is eliminated.

Three causes in four have a single effect in the region of a case. Each brings a distribution of contributions
to its hub; the distribution of the largest of all is a product of cumulative distributions, kept as sums of
logarithms of ratios, so that it is had for hundreds of them at once, and without any one of them too, with no
digits lost. With the derivative by what comes in (buckets.py) these give every marginal.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
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
        self.cards = cards
        self.row = {variable: row for row, variable in enumerate(cards)}
        self.links, self.standing = links, standing
        own = (standing[:, None, :] @ links)[:, 0, :]
        self._first = np.log(own[:, 0])
        self._steps = np.log1p(own[:, 1:] / np.cumsum(own, axis=1)[:, :-1])
        self._all = self._first.sum(), self._steps.sum(axis=0)
        self.total = self._without(())[:, None]

    def incoming(self, weights: Weights) -> Array:
        """What comes in, with these weights in the place of the standing ones, shape (card of the hub, batch)."""
        found = self._without(self._rows(weights))[:, None] if weights else self.total
        for variable, weight in weights.items():
            found = larger(found, self._brought(variable, weight))
        return found

    def marginals(self, targets: Collection[int], weights: Weights, derivative: Array) -> dict[int, Array]:
        """Of each target, not yet scaled, shape (states, batch), from the derivative by what comes in."""
        changed = {v: self._brought(v, weight) for v, weight in weights.items()}
        still = [v for v in targets if v not in weights]
        found = {}
        for variable in [v for v in targets if v in weights]:
            rest = self._without(self._rows(weights))[:, None]
            for v, brought in changed.items():
                rest = rest if v == variable else larger(rest, brought)
            given = awaited(derivative, rest)
            found[variable] = weights[variable] * (
                self.links[self.row[variable], : len(weights[variable])] @ given
            )
        if not still:
            return found
        for brought in changed.values():
            derivative = awaited(derivative, brought)
        rows = self._rows(still)
        first, steps = self._left(self._rows(weights))
        rest = _distribution(first - self._first[rows], steps - self._steps[rows])
        given = joined(derivative[None], rest[..., None], ((1, Meeting.LEFT_AWAITS),))
        every = self.standing[rows][..., None] * (self.links[rows] @ given)
        return found | {v: mine[: self.cards[v]] for v, mine in zip(still, every, strict=True)}

    def _rows(self, variables: Iterable[int]) -> list[int]:
        return [self.row[variable] for variable in variables]

    def _brought(self, variable: int, weight: Array) -> Array:
        return np.asarray(self.links[self.row[variable], : len(weight)].T @ weight)

    def _left(self, rows: Sequence[int]) -> tuple[Array, Array]:
        first, steps = self._all
        if not rows:
            return np.asarray(first), steps
        kept = np.ones(len(self._first), dtype=np.bool_)
        kept[list(rows)] = False
        return self._first[kept].sum(), self._steps[kept].sum(axis=0)

    def _without(self, rows: Sequence[int]) -> Array:
        return _distribution(*self._left(rows))


def larger(one: Array, other: Array) -> Array:
    """Of two independent contributions, shape (card, batch)."""
    return joined(one, other, ((0, Meeting.LARGER),))


def awaited(derivative: Array, brought: Array) -> Array:
    """The derivative by all that comes in but this, from that by all, shape (card, batch)."""
    return joined(derivative, brought, ((0, Meeting.LEFT_AWAITS),))


def _distribution(first: Array, steps: Array) -> Array:
    """From log F(0) and log F(t) - log F(t - 1): how often each state is the largest, states last."""
    below = np.exp(first[..., None] + np.cumsum(steps, axis=-1) - steps)
    return np.concatenate([np.exp(first)[..., None], below * np.expm1(steps)], axis=-1)


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
