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

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import DiagnoseError
from diagnose.network.convolution import combine, derivative
from diagnose.network.network import Array
from diagnose.network.ordering import elimination_order

MAX_TABLE = 1 << 24
CHUNK = 1 << 19

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
class _Bucket:
    """What is combined when `variable` goes. `scope` holds it first; `message` is what the result speaks of."""

    variable: int
    scope: tuple[int, ...]
    message: tuple[int, ...]
    base: tuple[tuple[int, ...], Array]
    children: tuple[int, ...]


@dataclass(slots=True, eq=False)
class _Run:
    """One pass: for each bucket the partial results, the message sent, and (backward) its derivative."""

    partial: list[list[tuple[tuple[int, ...], Array]]]
    messages: list[Array]
    log_probability: Array


class BucketTree:
    """Factors and hubs compiled into buckets. `run` weighs the variables and gives all marginals.

    `order`: in which order to eliminate, hubs before their variables; without it a good one is looked for.
    """

    def __init__(
        self,
        factors: Sequence[Factor],
        cards: Mapping[int, int],
        hubs: Mapping[int, Hub] | None = None,
        widest: int = MAX_TABLE,
        order: Sequence[int] | None = None,
    ):
        self.cards = dict(cards)
        self.hubs = dict(hubs or {})
        before = {hub.variable: h for h, hub in self.hubs.items() if hub.state < 0}
        scopes = [factor.scope for factor in factors] + [(h, v) for v, h in before.items()]
        order = order or elimination_order(scopes, self.cards, before, widest)
        if order is None:
            raise TooWide(widest)
        self._rank = {variable: position for position, variable in enumerate(order)}
        shapes = self._shapes(factors, order)
        self.width = max((self._size(scope) for scope, _ in shapes), default=1)
        self.size = sum(self._size(scope) for scope, _ in shapes)
        if self.width > widest:
            raise TooWide(widest)
        self._buckets = self._compiled(factors, order, shapes)
        self._parent = {child: n for n, bucket in enumerate(self._buckets) for child in bucket.children}

    def _size(self, scope: Iterable[int]) -> int:
        size = 1
        for variable in scope:
            size *= self.cards[variable]
        return size

    def _sorted(self, scope: Iterable[int]) -> tuple[int, ...]:
        return tuple(sorted(scope, key=self._rank.__getitem__))

    def _shapes(
        self, factors: Sequence[Factor], order: Sequence[int]
    ) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
        """Scope and message of each bucket, without any numbers."""
        waiting: list[set[int]] = [set() for _ in order]
        for factor in factors:
            if factor.scope:
                waiting[min(self._rank[v] for v in factor.scope)].update(factor.scope)
        found = []
        for position, variable in enumerate(order):
            scope = waiting[position] | {variable}
            message = scope - {variable}
            if variable in self.hubs and self.hubs[variable].state < 0:
                message.add(self.hubs[variable].variable)
            if message:
                waiting[min(self._rank[v] for v in message)].update(message)
            found.append((self._sorted(scope), self._sorted(message)))
        return found

    def _compiled(
        self,
        factors: Sequence[Factor],
        order: Sequence[int],
        shapes: Sequence[tuple[tuple[int, ...], tuple[int, ...]]],
    ) -> list[_Bucket]:
        bases: list[tuple[tuple[int, ...], Array]] = [((), np.ones(1)) for _ in order]
        self._constant = 1.0
        for factor in factors:
            if not factor.scope:
                self._constant *= float(factor.values)
                continue
            scope = self._sorted(factor.scope)
            values = np.transpose(factor.values, [factor.scope.index(v) for v in scope])[..., None]
            home = self._rank[scope[0]]
            bases[home] = self._combined(bases[home], (scope, values))
        children: list[list[int]] = [[] for _ in order]
        for position, (_, message) in enumerate(shapes):
            if message:
                children[self._rank[message[0]]].append(position)
        return [
            _Bucket(variable, scope, message, base, tuple(below))
            for variable, (scope, message), base, below in zip(order, shapes, bases, children, strict=True)
        ]

    def _combined(
        self, first: tuple[tuple[int, ...], Array], second: tuple[tuple[int, ...], Array]
    ) -> tuple[tuple[int, ...], Array]:
        scope = self._sorted({*first[0], *second[0]})
        axes = [a for a, v in enumerate(scope) if v in self.hubs and v in first[0] and v in second[0]]
        return scope, combine(_spread(*first, scope), _spread(*second, scope), axes)

    def run(self, weights: Weights, targets: Iterable[int], batch: int = 1) -> Beliefs:
        """Run forward and backward; the batch is cut into chunks that stay within the processor's cache."""
        wanted = [variable for variable in targets if variable in self._rank]
        step = max(1, CHUNK // max(self.width, 1))
        parts = [
            self._run(
                {v: w if w.shape[1] == 1 else w[:, at : at + step] for v, w in weights.items()},
                wanted,
                min(step, batch - at),
            )
            for at in range(0, batch, step)
        ]
        return Beliefs(
            np.concatenate([part.log_probability for part in parts]),
            {v: np.concatenate([part.marginals[v] for part in parts], axis=1) for v in wanted},
        )

    def _run(self, weights: Weights, targets: Sequence[int], batch: int) -> Beliefs:
        run = self._forward(weights, batch)
        marginals = self._backward(run, targets) if targets else {}
        impossible = ~np.isfinite(run.log_probability)
        return Beliefs(
            run.log_probability, {v: _normalised(marginals[v], batch, impossible) for v in targets}
        )

    def _forward(self, weights: Weights, batch: int) -> _Run:
        with np.errstate(divide="ignore"):
            run = _Run([], [], np.full(batch, np.log(self._constant)))
        for bucket in self._buckets:
            steps = [bucket.base]
            if bucket.variable in weights:
                steps = [self._combined(steps[0], ((bucket.variable,), weights[bucket.variable]))]
            for child in bucket.children:
                steps.append(self._combined(steps[-1], (self._buckets[child].message, run.messages[child])))
            message = self._sent(bucket, *steps[-1])
            scale = message.reshape(-1, message.shape[-1]).max(axis=0)
            with np.errstate(divide="ignore"):
                run.log_probability = run.log_probability + np.log(scale)
            run.partial.append(steps)
            run.messages.append(message / np.where(scale > 0, scale, 1.0))
        return run

    def _sent(self, bucket: _Bucket, scope: tuple[int, ...], table: Array) -> Array:
        """Sum the variable out; a hub is closed instead: its axis becomes the variable's, or one state is kept."""
        if bucket.variable not in scope:  # nothing speaks of it: its states count alike
            return table * self.cards[bucket.variable]
        hub = self.hubs.get(bucket.variable)
        if hub is None:
            return np.asarray(table.sum(axis=0))
        if hub.state >= 0:
            return np.asarray(table[hub.state])
        if hub.variable in scope:  # the variable came in already: hub and variable agree on the diagonal
            at = scope.index(hub.variable)
            return self._from_end(np.diagonal(self._full(table, scope, (0, at)), axis1=0, axis2=at), at - 1)
        renamed = [hub.variable if v == bucket.variable else v for v in scope]
        axes = [renamed.index(v) for v in bucket.message]
        return np.transpose(table, [*axes, table.ndim - 1])

    @staticmethod
    def _from_end(values: Array, axis: int) -> Array:
        return np.moveaxis(values, -1, axis)

    def _received(self, bucket: _Bucket, scope: tuple[int, ...], below: Array) -> Array:
        """The derivative by the bucket's table from that by its message: `_sent` backwards."""
        hub = self.hubs.get(bucket.variable)
        if bucket.variable not in scope or hub is None:
            return below if bucket.variable not in scope else below[None]
        if hub.state >= 0:
            found = np.zeros((self.cards[bucket.variable], *below.shape))
            found[hub.state] = below
            return found
        if hub.variable in scope:
            at = scope.index(hub.variable)
            card = self.cards[hub.variable]
            eye = np.eye(card).reshape([card if a in (0, at) else 1 for a in range(len(scope) + 1)])
            return below[None] * eye
        named = [bucket.variable if v == hub.variable else v for v in bucket.message]
        return np.transpose(below, [*(named.index(v) for v in scope), below.ndim - 1])

    def _backward(self, run: _Run, targets: Sequence[int]) -> dict[int, Array]:
        needed = self._needed(targets)
        asked = set(targets)
        below: dict[int, Array] = {}
        marginals = {}
        for number in sorted(needed, reverse=True):
            bucket, steps = self._buckets[number], run.partial[number]
            scope, table = steps[-1]
            sent = below.pop(number) if number in below else np.ones((1,) * (len(bucket.message) + 1))
            gradient = self._received(bucket, scope, sent)
            if bucket.variable in asked:
                marginals[bucket.variable] = self._marginal(bucket, scope, table * gradient)
            for place in range(len(bucket.children) - 1, -1, -1):
                child = bucket.children[place]
                before, message = steps[place], (self._buckets[child].message, run.messages[child])
                if child in needed:
                    below[child] = self._derivative(steps[place + 1][0], gradient, before, message)
                gradient = self._derivative(steps[place + 1][0], gradient, message, before)
        return marginals

    def _needed(self, targets: Iterable[int]) -> set[int]:
        """The buckets of the targets and all that their messages pass on the way."""
        needed: set[int] = set()
        for variable in targets:
            at: int | None = self._rank[variable]
            while at is not None and at not in needed:
                needed.add(at)
                at = self._parent.get(at)
        return needed

    def _derivative(
        self,
        scope: tuple[int, ...],
        gradient: Array,
        other: tuple[tuple[int, ...], Array],
        wanted: tuple[tuple[int, ...], Array],
    ) -> Array:
        """Derivative by `wanted` of the combination of both, given that by the result."""
        shared = [a for a, v in enumerate(scope) if v in self.hubs and v in other[0] and v in wanted[0]]
        full = self._full(gradient, scope) if shared else gradient
        found = derivative(full, _spread(*other, scope), shared)
        away = tuple(a for a, v in enumerate(scope) if v not in wanted[0])
        whole = self._full(found, scope, away)
        return np.asarray(whole.sum(axis=away)) if away else whole

    def _full(self, values: Array, scope: tuple[int, ...], axes: Iterable[int] | None = None) -> Array:
        """Give axes (default all) of length one the states of their variables."""
        shape = list(values.shape)
        for axis in range(len(scope)) if axes is None else axes:
            shape[axis] = self.cards[scope[axis]]
        if values.shape == tuple(shape):
            return values
        whole = np.empty(shape)
        whole[...] = values
        return whole

    def _marginal(self, bucket: _Bucket, scope: tuple[int, ...], belief: Array) -> Array:
        if bucket.variable not in scope:
            return np.ones((self.cards[bucket.variable], 1))
        whole = self._full(belief, scope)
        axis = scope.index(bucket.variable)
        return np.asarray(whole.sum(axis=tuple(a for a in range(len(scope)) if a != axis)))


def _normalised(belief: Array, batch: int, impossible: NDArray[np.bool_]) -> Array:
    """Each column over its sum, zero where the case is impossible, in the full shape."""
    total = belief.sum(axis=0)
    if impossible.any():
        total = np.where(impossible, 1.0, total)
    found = belief / total
    return found if found.shape[1] == batch else np.repeat(found, batch, axis=1)


def _spread(scope: tuple[int, ...], values: Array, onto: tuple[int, ...]) -> Array:
    """Give `values` an axis of length one for each variable of `onto` that it lacks."""
    shape, axis = [], 0
    for variable in onto:
        if axis < len(scope) and scope[axis] == variable:
            shape.append(values.shape[axis])
            axis += 1
        else:
            shape.append(1)
    return values.reshape(*shape, values.shape[-1])
