"""Exact sums of products over small factors: compiled once, run for a whole batch of cases at a time.

Variables are eliminated one by one, each with the factors that hold it (its bucket); a backward pass of
derivatives gives every marginal (Darwiche, J. ACM 50, 2003; Dechter 1999; from memory). A noisy-MAX family is a
hub: each parent's contribution is a factor of its own on the hub, contributions combine by max-convolution, and
the hub is closed, before its variable takes part in anything else, when all have come in (Zhang & Poole, JAIR 5,
1996, heterogeneous factors; from memory). So parents are never married, and only positive terms are added.

The batch is the last axis of every array, so that the inner loops run over contiguous memory. What differs
between the cases of a batch are one-variable weights only.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import DiagnoseError
from diagnose.network.closing import Closing, closed
from diagnose.network.joins import Join, Scope, filled, join
from diagnose.network.network import Array
from diagnose.network.ordering import elimination_order

MAX_TABLE = 1 << 24
CHUNK = 1 << 19
SMALLEST = 1e-300

Weights = Mapping[int, Array]
"""Variable -> weights of its states, shape (card, batch) or (card, 1)."""


class TooWide(DiagnoseError):
    """The network cannot be solved exactly in reasonable memory; `widest` is the largest table allowed."""

    def __init__(self, widest: int):
        self.widest = widest
        super().__init__(
            f"too many causes are tied together to be exact (a table of more than {widest:,} numbers)"
        )


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """A non-negative function of the variables in `scope`, one axis a variable; at most one may be a hub."""

    scope: tuple[int, ...]
    values: Array


@dataclass(frozen=True, slots=True)
class Hub:
    """Where contributions to one variable come together. `state`: the variable's known state, -1 if unknown."""

    variable: int
    state: int = -1


@dataclass(frozen=True, slots=True, eq=False)
class Beliefs:
    """For each case of the batch: log P(weights) and, for each target, the normalised marginal."""

    log_probability: Array
    marginals: dict[int, Array]


@dataclass(frozen=True, slots=True, eq=False)
class Bucket:
    """What is combined when one variable goes: `base`, then the messages of `children`, each joined in its turn.
    `weighing`: how weights of the variable join the base before."""

    base: Array
    weighing: Join
    children: tuple[int, ...]
    joins: tuple[Join, ...]
    full: tuple[int, ...]
    closing: Closing

    def gradient(self, below: Array | None) -> Array:
        """The derivative by the whole bucket's table, from that by its message (1 where it is a root)."""
        given = np.ones((1,) * (len(self.closing.message) + 1)) if below is None else below
        return self.closing.received(given, self.full)

    def marginal(self, table: Array, gradient: Array) -> Array:
        """Of the bucket's variable, not yet scaled, shape (card, batch)."""
        belief = filled(table * gradient, self.full)
        return belief if belief.ndim == 2 else belief.sum(axis=tuple(range(1, belief.ndim - 1)))


@dataclass(slots=True, eq=False)
class Run:
    """One pass: for each bucket the partial results, the message sent, and (backward) its derivative."""

    partial: list[list[Array]]
    messages: list[Array]
    log_probability: Array


class BucketTree:
    """Factors and hubs compiled into buckets. `run` weighs the variables and gives all marginals.

    `order`: in which order to eliminate, hubs before their variables; without it a good one is looked for. Inside,
    variables go by their place in it, so that scopes are ascending numbers and bucket n is that of variable n.
    """

    def __init__(
        self,
        factors: Sequence[Factor],
        cards: Mapping[int, int],
        hubs: Mapping[int, Hub] | None = None,
        widest: int = MAX_TABLE,
        order: Sequence[int] | None = None,
    ):
        hubs = dict(hubs or {})
        before = {hub.variable: h for h, hub in hubs.items() if hub.state < 0}
        scopes = [factor.scope for factor in factors] + [(h, v) for v, h in before.items()]
        order = order or elimination_order(scopes, cards, before, widest)
        if order is None:
            raise TooWide(widest)
        self.variables = tuple(order)
        self.rank = {variable: place for place, variable in enumerate(order)}
        self.cards = [cards[variable] for variable in order]
        self.hubs = {self.rank[h]: hub.state for h, hub in hubs.items()}
        self._behind = {self.rank[h]: self.rank[v] for v, h in before.items()}
        shapes = self._shapes(factors)
        sizes = [prod(self.cards[v] for v in scope) for scope, _ in shapes]
        self.width, self.size = max(sizes, default=1), sum(sizes)
        if self.width > widest:
            raise TooWide(widest)
        self.scopes = [tuple(self.variables[v] for v in scope) for scope, _ in shapes]
        self.buckets = self._compiled(factors, shapes)
        self._parent = {child: n for n, bucket in enumerate(self.buckets) for child in bucket.children}

    def parent_of(self, place: int) -> int | None:
        """The bucket that takes this one's message; None of a root."""
        return self._parent.get(place)

    def behind(self, variable: int) -> int | None:
        """Of a hub whose variable is not known: the variable that it closes to."""
        place = self._behind.get(self.rank[variable]) if variable in self.rank else None
        return None if place is None else self.variables[place]

    def _shapes(self, factors: Sequence[Factor]) -> list[tuple[Scope, Scope]]:
        """Scope and message of each bucket, without any numbers."""
        waiting: list[set[int]] = [{place} for place in range(len(self.variables))]
        for factor in factors:
            if factor.scope:
                places = [self.rank[v] for v in factor.scope]
                waiting[min(places)].update(places)
        found = []
        for place, speaking in enumerate(waiting):
            message = speaking - {place}
            if place in self._behind:
                message.add(self._behind[place])
            if message:
                waiting[min(message)].update(message)
            found.append((tuple(sorted(speaking)), tuple(sorted(message))))
        return found

    def ranked(self, factor: Factor) -> tuple[Scope, Array]:
        """The factor's scope in the tree's numbers, and its values with their axes so and one for the batch."""
        places = [self.rank[v] for v in factor.scope]
        scope = tuple(sorted(places))
        values = factor.values
        if len(scope) > 1 and tuple(places) != scope:
            values = np.transpose(values, [places.index(v) for v in scope])
        return scope, values[..., None]

    def _compiled(self, factors: Sequence[Factor], shapes: Sequence[tuple[Scope, Scope]]) -> list[Bucket]:
        bases: list[tuple[Scope, Array] | None] = [None] * len(shapes)
        self._constant = 1.0
        for factor in factors:
            if not factor.scope:
                self._constant *= float(factor.values)
                continue
            scope, values = self.ranked(factor)
            before = bases[scope[0]]
            bases[scope[0]] = self.combined(before, (scope, values)) if before else (scope, values)
        children: list[list[int]] = [[] for _ in shapes]
        for place, (_, message) in enumerate(shapes):
            if message:
                children[message[0]].append(place)
        return [
            self._bucket(place, base or self._nothing(place), below, shapes)
            for place, (base, below) in enumerate(zip(bases, children, strict=True))
        ]

    def combined(self, left: tuple[Scope, Array], right: tuple[Scope, Array]) -> tuple[Scope, Array]:
        """Two tables with their scopes as one."""
        both = self.join(left[0], right[0])
        return both.scope, both.combined(left[1], right[1])

    def join(self, left: Scope, right: Scope) -> Join:
        """How tables of these scopes are joined."""
        return join(left, right, self.cards, self.hubs)

    def _nothing(self, place: int) -> tuple[Scope, Array]:
        """A table that says nothing: all states alike; of a hub, that nothing has come in."""
        table = np.ones((self.cards[place], 1))
        if place in self.hubs:
            table[1:] = 0.0
        return (place,), table

    def _bucket(
        self,
        place: int,
        base: tuple[Scope, Array],
        children: Sequence[int],
        shapes: Sequence[tuple[Scope, Scope]],
    ) -> Bucket:
        scope, joins = base[0], []
        for child in children:
            joins.append(self.join(scope, shapes[child][1]))
            scope = joins[-1].scope
        closing = closed(place, scope, shapes[place][1], self.hubs.get(place), self._behind.get(place, -1))
        full = tuple(self.cards[v] for v in scope)
        weighing = self.join(base[0], (place,))
        return Bucket(base[1], weighing, tuple(children), tuple(joins), full, closing)

    def run(self, weights: Weights, targets: Iterable[int], batch: int = 1) -> Beliefs:
        """Run forward and backward; the batch is cut into chunks that stay within the processor's cache."""
        wanted = [variable for variable in targets if variable in self.rank]
        step = max(1, CHUNK // max(self.width, 1))
        parts = [
            self._run(
                {v: w if w.shape[1] == 1 else w[:, at : at + step] for v, w in weights.items()},
                wanted,
                min(step, batch - at),
            )
            for at in range(0, batch, step)
        ]
        if len(parts) == 1:
            return parts[0]
        return Beliefs(
            np.concatenate([part.log_probability for part in parts]),
            {v: np.concatenate([part.marginals[v] for part in parts], axis=1) for v in wanted},
        )

    def _run(self, weights: Weights, targets: Sequence[int], batch: int) -> Beliefs:
        run = self.forward(weights, batch)
        found = self._backward(run, {self.rank[v] for v in targets}) if targets else {}
        impossible = ~np.isfinite(run.log_probability)
        marginals = {v: _normalised(found[self.rank[v]], batch, impossible) for v in targets}
        return Beliefs(run.log_probability, marginals)

    def forward(self, weights: Weights, batch: int) -> Run:
        """From the leaves to the roots; each message is scaled to a largest number of 1."""
        weighed = {self.rank[v]: weight for v, weight in weights.items() if v in self.rank}
        run, scales = Run([], [], np.zeros(batch)), [np.full(batch, self._constant)]
        for place, bucket in enumerate(self.buckets):
            table = bucket.base
            if place in weighed:
                table = bucket.weighing.combined(table, weighed[place])
            tables = [table]
            for child, both in zip(bucket.children, bucket.joins, strict=True):
                table = both.combined(table, run.messages[child])
                tables.append(table)
            message = bucket.closing.sent(table)
            scale = message.reshape(-1, message.shape[-1]).max(axis=0)
            scales.append(scale)
            run.partial.append(tables)
            run.messages.append(message / np.maximum(scale, SMALLEST))
        with np.errstate(divide="ignore"):
            run.log_probability = sum((np.log(scale) for scale in scales), start=run.log_probability)
        return run

    def _backward(self, run: Run, targets: Set[int]) -> dict[int, Array]:
        needed = self._needed(targets)
        below: dict[int, Array] = {}
        marginals = {}
        for place in sorted(needed, reverse=True):
            bucket, tables = self.buckets[place], run.partial[place]
            gradient = bucket.gradient(below.pop(place, None))
            if place in targets:
                marginals[place] = bucket.marginal(tables[-1], gradient)
            for turn in range(len(bucket.children) - 1, -1, -1):
                child, both = bucket.children[turn], bucket.joins[turn]
                if child in needed:
                    below[child] = both.by_right(gradient, tables[turn])
                gradient = both.by_left(gradient, run.messages[child])
        return marginals

    def _needed(self, targets: Iterable[int]) -> set[int]:
        """The buckets of the targets and all that their messages pass on the way."""
        needed: set[int] = set()
        for place in targets:
            at: int | None = place
            while at is not None and at not in needed:
                needed.add(at)
                at = self._parent.get(at)
        return needed


def _normalised(belief: Array, batch: int, impossible: NDArray[np.bool_]) -> Array:
    """Each column over its sum, zero where the case is impossible, in the full shape."""
    total = belief.sum(axis=0)
    if impossible.any():
        total = np.where(impossible, 1.0, total)
    found = belief / total
    return found if found.shape[1] == batch else np.repeat(found, batch, axis=1)
