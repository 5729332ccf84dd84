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

from diagnose.network.buckets import BucketTree
from diagnose.network.joins import Join, Scope, filled
from diagnose.network.leaves import Factor, Weights
from diagnose.network.messages import MAX_TABLE, Hub
from diagnose.network.network import Array

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
    """A bucket tree with one for each variable that remembers which factors made it. The factors keep the order
    of the call."""

    def __init__(
        self,
        factors: Sequence[Factor],
        cards: Mapping[int, int],
        hubs: Mapping[int, Hub] | None = None,
        widest: int = MAX_TABLE,
        order: Sequence[int] | None = None,
    ):
        super().__init__(factors, cards, hubs, widest, order, apart=cards)
        self._factors = tuple(factors)
        self._parts: list[list[tuple[int, tuple[Scope, Array]]]] = [[] for _ in self.buckets]
        for number, factor in enumerate(factors):
            ranked = self.ranked(factor)
            self._parts[ranked[0][0]].append((number, ranked))
        self._folds = [self._folded([part for _, part in parts]) for parts in self._parts]

    def _folded(self, parts: Sequence[tuple[Scope, Array]]) -> list[tuple[Join, Array]]:
        """How each part but the first joins those before it, and what these combine to."""
        found: list[tuple[Join, Array]] = []
        before = parts[0] if parts else None
        for part in parts[1:]:
            assert before is not None
            both = self.join(before[0], part[0])
            found.append((both, before[1]))
            before = both.scope, both.combined(before[1], part[1])
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
        run = self.forward(weights, batch)
        below: dict[int, Array] = {}
        marginals, hubs = dict[int, Array](), dict[int, Array]()
        found: list[Array] = [np.zeros(0)] * len(self._factors)
        for place in range(len(self.buckets) - 1, -1, -1):
            variable, bucket, sent = self.variables[place], self.buckets[place], run.sent[place]
            gradient = bucket.gradient(sent.closing, below.pop(place, None))
            for turn in range(len(bucket.children) - 1, -1, -1):
                child, both = bucket.children[turn], bucket.joins[turn]
                below[child] = both.by_right(gradient, sent.tables[turn])
                gradient = both.by_left(gradient, run.sent[child].message)
            if place not in self.hubs:
                marginals[variable] = _shares(self.marginal(place, sent.tables[0], gradient), batch)
            if variable in weights:
                weight, weighing = weights[variable], self.weighing(place)
                if place in self.hubs:
                    hubs[variable] = _shares(weighing.by_right(gradient, bucket.base) * weight, batch)
                gradient = weighing.by_left(gradient, weight)
            self._to_factors(place, gradient, batch, found)
        return Contributions(run.log_probability, marginals, tuple(found), hubs)

    def _to_factors(self, place: int, gradient: Array, batch: int, found: list[Array]) -> None:
        """From the derivative by a bucket's own table to the expectation of each factor in it."""
        parts, folds = self._parts[place], self._folds[place]
        for turn in range(len(parts) - 1, -1, -1):
            which, (scope, values) = parts[turn]
            both, before = folds[turn - 1] if turn else (None, values)
            slope = both.by_right(gradient, before) if both else gradient
            whole = _shares(filled(slope * values, tuple(self.cards[v] for v in scope)), batch)
            places = [self.rank[v] for v in self._factors[which].scope]
            found[which] = np.transpose(whole, [*(scope.index(v) for v in places), len(scope)])
            gradient = both.by_left(gradient, values) if both else gradient


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
