"""Exact sums of products over small factors: compiled once, run for a whole batch of cases at a time.

Variables are eliminated one by one, each with the factors that hold it (its bucket); a backward pass of
derivatives gives every marginal (Darwiche, J. ACM 50, 2003; Dechter 1999; from memory). A noisy-MAX family is
a hub: each parent's contribution is a factor of its own on the hub, and contributions combine by max-
convolution (Zhang & Poole, JAIR 5, 1996, heterogeneous factors; from memory). Hub and variable go in any
order: where the hub goes first, all has come in and the variable takes its place; where the variable goes
first, what the evidence below it says awaits the contributions that are still to come (joins.py). So parents
are never married, and only positive terms are added.

The batch is the last axis of every array, so that the inner loops run over contiguous memory. What differs
between the cases of a batch are one-variable weights only; what these do not touch is worked out once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence, Set
from math import inf, log, prod

import numpy as np
from numpy.typing import NDArray

from diagnose.network.joins import Join, Scope, filled, join
from diagnose.network.leaves import Factor, Weights, awaited, larger, split_off
from diagnose.network.leaving import Leave, closed
from diagnose.network.messages import (
    MAX_TABLE,
    Beliefs,
    Bucket,
    ForwardPass,
    Hub,
    Sent,
    TooWide,
    bucket_shapes,
)
from diagnose.network.network import Array
from diagnose.network.ordering import elimination_order, with_all

CHUNK = 1 << 19  # numbers worked on at a time: 4 MB, what a processor keeps near
SMALLEST = 1e-300  # keeps a scale of 0 from dividing: what it divides is 0


class BucketTree:
    """Factors and hubs compiled into buckets. `run` weighs the variables and gives all marginals.

    `order`: in which order to eliminate, what it does not name first; without it a good one is looked for.
    Leaves (leaves.py) are summed into their hub and have no bucket, but those of `apart`. `standing`: weights
    that always count; of a variable whose state its hub knows, likelihoods of its states in the place of that.
    Inside, variables go by their place in the order, so that scopes are ascending numbers and bucket n is that
    of variable n.
    """

    def __init__(
        self,
        factors: Sequence[Factor],
        cards: Mapping[int, int],
        hubs: Mapping[int, Hub] | None = None,
        widest: int = MAX_TABLE,
        order: Sequence[int] | None = None,
        standing: Weights | None = None,
        apart: Collection[int] = (),
    ):
        self.standing = dict(standing or {})
        hubs = dict(hubs or {})
        twins = {hub.variable: h for h, hub in hubs.items() if hub.state < 0}
        leaves, factors = split_off(factors, hubs, {*twins, *apart}, self.standing)
        gone = {v for mine in leaves.values() for v in mine.row}
        cards = {v: card for v, card in cards.items() if v not in gone}
        scopes = [factor.scope for factor in factors]
        order = with_all(order, cards) if order else elimination_order(scopes, cards, twins, widest)
        if order is None:
            raise TooWide(widest)
        self.variables = tuple(order)
        self.rank = {variable: place for place, variable in enumerate(order)}
        self.leaves = {self.rank[hub]: mine for hub, mine in leaves.items()}
        self._leaf_of = {v: place for place, mine in self.leaves.items() for v in mine.row}
        self.cards = [cards[variable] for variable in order]
        self.hubs = {self.rank[h]: hub.state for h, hub in hubs.items()}
        self._known = {hub.variable: self.rank[h] for h, hub in hubs.items() if hub.state >= 0}
        # What a hub knows, it knows without weights, and its leaves have theirs.
        self._always, _ = self._by_place({v: w for v, w in self.standing.items() if v not in self._leaf_of})
        self._always |= {place: mine.total for place, mine in self.leaves.items()}
        pairs = [(self.rank[v], self.rank[h]) for v, h in twins.items()]
        self._later = {min(pair): max(pair) for pair in pairs}
        ranked = [[self.rank[v] for v in scope] for scope in scopes]
        shapes = bucket_shapes(ranked, len(order), self._later)
        sizes = [prod([self.cards[v] for v in scope]) for scope, _ in shapes]
        self.scopes = [tuple(self.variables[v] for v in scope) for scope, _ in shapes]
        self.width, self.size = max(sizes, default=1), max(sum(sizes), 1)
        if self.width > widest:
            raise TooWide(widest)
        self.buckets = self._compiled(factors, shapes)
        self._parent = {child: n for n, bucket in enumerate(self.buckets) for child in bucket.children}
        self._weighing: dict[int, Join] = {}
        self._still: list[Sent] | None = None

    def place_of(self, variable: int) -> int | None:
        """The bucket of a variable, or that of the hub whose leaf it is; None where it is not in the tree."""
        return self._leaf_of.get(variable, self.rank.get(variable))

    def parent_of(self, place: int) -> int | None:
        """The bucket that takes this one's message; None of a root."""
        return self._parent.get(place)

    def ranked(self, factor: Factor) -> tuple[Scope, Array]:
        """The factor's scope in the tree's numbers; its values with their axes so, and one for the batch."""
        places = [self.rank[v] for v in factor.scope]
        scope = tuple(sorted(places))
        values = factor.values
        if len(scope) > 1 and tuple(places) != scope:
            values = np.transpose(values, [places.index(v) for v in scope])
        return scope, values[..., None]

    def _compiled(self, factors: Sequence[Factor], shapes: Sequence[tuple[Scope, Scope]]) -> list[Bucket]:
        bases: list[tuple[Scope, Array] | None] = [None] * len(shapes)
        constant = 1.0
        for factor in factors:
            if not factor.scope:
                constant *= float(factor.values)
                continue
            scope, values = self.ranked(factor)
            before = bases[scope[0]]
            bases[scope[0]] = self.combined(before, (scope, values)) if before else (scope, values)
        self._log_constant = log(constant) if constant > 0 else -inf
        children: list[list[int]] = [[] for _ in shapes]
        for place, (_, message) in enumerate(shapes):
            if message:
                children[message[0]].append(place)
        found: list[Bucket] = []
        for place, (base, below) in enumerate(zip(bases, children, strict=True)):
            found.append(self._bucket(place, base or self._nothing(place), below, shapes[place][1], found))
        return found

    def combined(self, left: tuple[Scope, Array], right: tuple[Scope, Array]) -> tuple[Scope, Array]:
        """Two tables of factors with their scopes as one."""
        both = self.join(left[0], right[0])
        return both.scope, both.combined(left[1], right[1])

    def join(
        self,
        left: Scope,
        right: Scope,
        left_awaits: frozenset[int] = frozenset(),
        right_awaits: frozenset[int] = frozenset(),
    ) -> Join:
        """How tables of these scopes are joined."""
        return join(left, right, self.cards, self.hubs, left_awaits, right_awaits)

    def weighing(self, place: int) -> Join:
        """How weights of a bucket's variable join its base before all else."""
        if place not in self._weighing:
            self._weighing[place] = self.join(self.buckets[place].scope, (place,))
        return self._weighing[place]

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
        message: Scope,
        done: Sequence[Bucket],
    ) -> Bucket:
        scope, awaits, joins = base[0], frozenset[int](), []
        for child in children:
            closing = done[child].closing
            joins.append(self.join(scope, closing.message, awaits, closing.awaits))
            scope, awaits = joins[-1].scope, joins[-1].awaits
        closing = closed(place, scope, message, awaits, self.hubs.get(place), self._later.get(place, -1))
        full = tuple([self.cards[v] for v in scope])
        return Bucket(base[0], base[1], tuple(children), tuple(joins), full, closing)

    def run(
        self, weights: Weights, targets: Iterable[int], batch: int = 1, instead: Weights | None = None
    ) -> Beliefs:
        """Run forward and backward; the batch is cut into chunks that stay within the processor's cache.
        `weights` count beside the standing ones, `instead` in the place of these."""
        wanted = [variable for variable in targets if self.place_of(variable) is not None]
        weights = self._with_standing(weights, instead or {})
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
        marginals = {v: np.concatenate([part.marginals[v] for part in parts], axis=1) for v in wanted}
        return Beliefs(np.concatenate([part.log_probability for part in parts]), marginals)

    def _with_standing(self, weights: Weights, instead: Weights) -> Weights:
        always = {**self.standing, **instead}
        beside = {v: w * always[v] if v in always else w for v, w in weights.items()}
        return {**instead, **beside}

    def _run(self, weights: Weights, targets: Sequence[int], batch: int) -> Beliefs:
        run = self.forward(weights, batch)
        places = {place for v in targets if (place := self.place_of(v)) is not None}
        found = self._backward(run, places) if places else {}
        by_variable = {v: found[self.rank[v]] for v in targets if v in self.rank}
        for place in places & self.leaves.keys():
            by_variable |= self._of_leaves(place, targets, weights, found[place])
        impossible = ~np.isfinite(run.log_probability)
        marginals = {v: _normalised(by_variable[v], batch, impossible) for v in targets}
        return Beliefs(run.log_probability, marginals)

    def _of_leaves(
        self, place: int, targets: Sequence[int], weights: Weights, derivative: Array
    ) -> dict[int, Array]:
        """The marginals of the targets among a hub's leaves, from the derivative by all that comes in there."""
        mine = self.leaves[place]
        if (beside := weights.get(self.variables[place])) is not None:
            derivative = awaited(derivative, beside)
        touched = {v: weight for v, weight in weights.items() if v in mine.row}
        return mine.marginals([v for v in targets if v in mine.row], touched, derivative)

    def forward(self, weights: Weights, batch: int) -> ForwardPass:
        """From the leaves to the roots, with these weights in the place of the standing ones. Only what they
        touch is worked out anew."""
        if self._still is None:
            self._still = self._without_weights()
            self._still_scales = np.array([float(one.scale[0]) for one in self._still])
        weighed, known = self._by_place(weights)
        touched = sorted(self._needed([*weighed, *known]))
        weighed = self._always | weighed
        sent = list(self._still)
        for place in touched:
            sent[place] = self._sent(place, sent, weighed.get(place), known.get(place))
        clean = np.ones(len(sent), dtype=bool)
        clean[touched] = False
        with np.errstate(divide="ignore"):
            total = np.full(batch, self._log_constant + np.log(self._still_scales[clean]).sum())
            for place in touched:
                total += np.log(sent[place].scale)
        return ForwardPass(sent, total)

    def _without_weights(self) -> list[Sent]:
        """What the buckets send with the standing weights alone."""
        sent = list[Sent]()
        for place in range(len(self.buckets)):
            sent.append(self._sent(place, sent, self._always.get(place)))
        return sent

    def _by_place(self, weights: Weights) -> tuple[dict[int, Array], dict[int, Array]]:
        """Weights by bucket: those of its variable, and likelihoods of the variable that its hub knows."""
        weighed = {self.rank[v]: weight for v, weight in weights.items() if v in self.rank}
        leaves: dict[int, dict[int, Array]] = {place: {} for place in weighed.keys() & self.leaves.keys()}
        for variable in weights.keys() & self._leaf_of.keys():
            leaves.setdefault(self._leaf_of[variable], {})[variable] = weights[variable]
        for place, mine in leaves.items():
            comes_in = self.leaves[place].incoming(mine)
            weighed[place] = larger(weighed[place], comes_in) if place in weighed else comes_in
        known = {self._known[v]: weight for v, weight in weights.items() if v in self._known}
        return weighed, known

    def _sent(
        self, place: int, sent: Sequence[Sent], weight: Array | None, known: Array | None = None
    ) -> Sent:
        """What one bucket sends, given what its children did."""
        bucket = self.buckets[place]
        closing = bucket.closing if known is None else bucket.closing.likely(known)
        table = bucket.base if weight is None else self.weighing(place).combined(bucket.base, weight)
        tables = [table]
        whole = closing.leave is not Leave.SUM or not bucket.joins
        for turn, (child, both) in enumerate(zip(bucket.children, bucket.joins, strict=True)):
            if turn + 1 < len(bucket.joins) or whole:
                table = both.combined(table, sent[child].message)
                tables.append(table)
            else:
                table = both.combined(table, sent[child].message, (0,))
        message = closing.sent(table) if whole else table
        scale = message if message.ndim == 1 else message.reshape(-1, message.shape[-1]).max(axis=0)
        return Sent(tuple(tables), message / np.maximum(scale, SMALLEST), scale, closing)

    def _backward(
        self, run: ForwardPass, targets: Set[int], read: Callable[[int, Array, Array], Array] | None = None
    ) -> dict[int, Array]:
        """Of each target what `read` makes of its bucket's own table and the derivative by it: its marginal."""
        read = read or self.marginal
        needed = self._needed(targets)
        below: dict[int, Array] = {}
        marginals = {}
        for place in sorted(needed, reverse=True):
            bucket, sent = self.buckets[place], run.sent[place]
            gradient = bucket.gradient(sent.closing, below.pop(place, None))
            last = self._last_needed(place, needed, targets)
            for turn in range(len(bucket.joins) - 1, last - 1, -1):
                child, both = bucket.children[turn], bucket.joins[turn]
                if child in needed:
                    below[child] = both.by_right(gradient, sent.tables[turn])
                if turn > last or place in targets:
                    gradient = both.by_left(gradient, run.sent[child].message)
            if place in targets:
                marginals[place] = read(place, sent.tables[0], gradient)
        return marginals

    def openings(self, hubs: Iterable[int]) -> dict[int, Array]:
        """What one more contribution to a hub would make of P(weights), with the standing weights: hub -> by the
        state that comes in, over what it is with nothing more coming in, shape (card,)."""
        run, places = self.forward({}, 1), {self.rank[hub] for hub in hubs}
        derivatives = self._backward(run, places, self._by_contribution)
        return {self.variables[v]: found[:, 0] / found[0, 0] for v, found in derivatives.items()}

    def _by_contribution(self, place: int, base: Array, gradient: Array) -> Array:
        found = self.weighing(place).by_right(gradient, base)
        return filled(found, (self.cards[place],))

    def _last_needed(self, place: int, needed: Set[int], targets: Set[int]) -> int:
        """The join down to which the derivative of a bucket must be taken."""
        if place in targets:
            return 0
        children = self.buckets[place].children
        return next((turn for turn, child in enumerate(children) if child in needed), len(children))

    def marginal(self, place: int, base: Array, gradient: Array) -> Array:
        """Of the bucket's variable, not yet scaled, shape (card, batch): from its own table (with the
        weights) and the derivative by it. Of a hub: the derivative by what comes in as weights."""
        if place in self.hubs:
            return self._by_contribution(place, self.buckets[place].base, gradient)
        scope = self.buckets[place].scope
        belief = filled(base * gradient, tuple([self.cards[v] for v in scope]))
        return belief if belief.ndim == 2 else belief.sum(axis=tuple(range(1, belief.ndim - 1)))

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
