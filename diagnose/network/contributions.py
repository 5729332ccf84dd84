"""Expected contributions: how often, by the evidence, each link and leak of a noisy-MAX family did its part.

A noisy-MAX effect is the largest of hidden contributions, one a parent and one for the leak (Diez, UAI 1993);
the network with these made explicit has one table a link. P(evidence) is linear in the entries of each table,
and

    P(contribution = t, parent = s | evidence) = table[s, t] x (dP / d table[s, t]) / P

(Binder, Koller, Russell & Kanazawa, Machine Learning 29, 1997; Darwiche, J. ACM 50, 2003; both from memory).
The backward pass of the bucket tree yields every derivative at once. These are the expected counts of the EM
algorithm; for noisy-OR the same decomposition is in Vomlel, Int. J. Intelligent Systems 21, 2006 (from
memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.network.buckets import MAX_TABLE, BucketTree, Factor, Hub, Weights
from diagnose.network.network import Array

Scoped = tuple[tuple[int, ...], Array]
ROOM = 1 << 21
"""Numbers of one bucket, over the cases of a batch, that are held at a time."""


@dataclass(frozen=True, slots=True, eq=False)
class Contributions:
    """For each case of the batch: log P; the marginals of the variables; P(table entry | evidence) of each
    factor, in the shape of its table and then the batch; and of the weights of each hub, shape (card, batch).

    Where a case is impossible (log P is -inf) its numbers are zero.
    """

    log_probability: Array
    marginals: dict[int, Array]
    factors: tuple[Array, ...]
    hubs: dict[int, Array]


class ContributionTree(BucketTree):
    """A bucket tree that remembers which factors made each bucket. The factors keep the order of the call."""

    def __init__(
        self,
        factors: Sequence[Factor],
        cards: Mapping[int, int],
        hubs: Mapping[int, Hub] | None = None,
        widest: int = MAX_TABLE,
        order: Sequence[int] | None = None,
    ):
        super().__init__(factors, cards, hubs, widest, order)
        self._factors = tuple(factors)
        self._parts: list[list[tuple[int, Scoped]]] = [[] for _ in self._buckets]
        for number, factor in enumerate(factors):
            scope = self._sorted(factor.scope)
            values = np.transpose(factor.values, [factor.scope.index(v) for v in scope])[..., None]
            self._parts[self._rank[scope[0]]].append((number, (scope, values)))
        self._prefixes = [self._folded([part for _, part in parts]) for parts in self._parts]

    def _folded(self, parts: Sequence[Scoped]) -> list[Scoped]:
        """What the first parts, one more each time, combine to; nothing first."""
        found: list[Scoped] = [((), np.ones(1))]
        for part in parts:
            found.append(self._combined(found[-1], part))
        return found

    def contributions(self, weights: Weights, batch: int) -> Contributions:
        """All expectations; `weights` as in `run`, on hubs too (a leak that differs from case to case)."""
        step = max(1, ROOM // max(self.width, 1))
        return _joined(
            [
                self._expected(
                    {v: w if w.shape[1] == 1 else w[:, at : at + step] for v, w in weights.items()},
                    min(step, batch - at),
                )
                for at in range(0, batch, step)
            ]
        )

    def _expected(self, weights: Weights, batch: int) -> Contributions:
        run = self._forward(weights, batch)
        below: dict[int, Array] = {}
        marginals, hubs = dict[int, Array](), dict[int, Array]()
        found: list[Array] = [np.zeros(0)] * len(self._factors)
        for number in range(len(self._buckets) - 1, -1, -1):
            bucket, steps = self._buckets[number], run.partial[number]
            scope, table = steps[-1]
            sent = below.pop(number) if number in below else np.ones((1,) * (len(bucket.message) + 1))
            gradient = self._received(bucket, scope, sent)
            if bucket.variable not in self.hubs:
                marginals[bucket.variable] = _shares(self._marginal(bucket, scope, table * gradient), batch)
            for place in range(len(bucket.children) - 1, -1, -1):
                child = bucket.children[place]
                before, message = steps[place], (self._buckets[child].message, run.messages[child])
                below[child] = self._derivative(steps[place + 1][0], gradient, before, message)
                gradient = self._derivative(steps[place + 1][0], gradient, message, before)
            if bucket.variable in weights:
                weighed = ((bucket.variable,), weights[bucket.variable])
                if bucket.variable in self.hubs:
                    slope = self._derivative(steps[0][0], gradient, bucket.base, weighed)
                    hubs[bucket.variable] = _shares(slope * weighed[1], batch)
                gradient = self._derivative(steps[0][0], gradient, weighed, bucket.base)
            self._to_factors(number, gradient, batch, found)
        return Contributions(run.log_probability, marginals, tuple(found), hubs)

    def _to_factors(self, number: int, gradient: Array, batch: int, found: list[Array]) -> None:
        """From the derivative by a bucket's own table to the expectation of each factor in it."""
        prefixes = self._prefixes[number]
        for place in range(len(self._parts[number]) - 1, -1, -1):
            which, part = self._parts[number][place]
            scope = prefixes[place + 1][0]
            slope = self._derivative(scope, gradient, prefixes[place], part)
            whole = _shares(self._full(slope * part[1], part[0]), batch)
            names = self._factors[which].scope
            found[which] = np.transpose(whole, [*(part[0].index(v) for v in names), len(names)])
            gradient = self._derivative(scope, gradient, part, prefixes[place])


def _shares(values: Array, batch: int) -> Array:
    """Each case's numbers over their sum; zero where the case is impossible. The batch axis is made full."""
    total = values.sum(axis=tuple(range(values.ndim - 1)))
    shares = np.divide(values, total, out=np.zeros_like(values), where=total > 0)
    return shares if shares.shape[-1] == batch else np.repeat(shares, batch, axis=-1)


def _joined(parts: Sequence[Contributions]) -> Contributions:
    """Chunks of a batch, one after the other."""
    if len(parts) == 1:
        return parts[0]
    return Contributions(
        np.concatenate([part.log_probability for part in parts]),
        {v: np.concatenate([part.marginals[v] for part in parts], axis=-1) for v in parts[0].marginals},
        tuple(np.concatenate(one, axis=-1) for one in zip(*(part.factors for part in parts), strict=True)),
        {v: np.concatenate([part.hubs[v] for part in parts], axis=-1) for v in parts[0].hubs},
    )
