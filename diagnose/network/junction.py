"""A junction tree over plain factors: compiled once, propagated for a whole batch of cases at a time.

The batch is the last axis of every table, so that the inner loops run over contiguous memory. What differs
between the cases of a batch are one-variable weights only (`Weights`); every result is exact for each case.
Hugin-style propagation: Jensen, Lauritzen & Olesen, Comp. Stat. Quarterly 4 (1990); cited from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from diagnose.errors import DiagnoseError
from diagnose.network.network import Array

MAX_CLIQUE = 1 << 24
CHUNK = 1 << 19

Weights = Mapping[int, Array]
"""Variable -> weights of its states, shape (card, batch) or (card, 1)."""


class TooWide(DiagnoseError):
    """The network cannot be solved exactly in reasonable memory; `size` is the largest table needed."""

    def __init__(self, size: float):
        self.size = size
        super().__init__(f"too many causes are tied together to be exact (a table of {size:.0e} numbers)")


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """A non-negative function of the variables in `scope`; one axis a variable."""

    scope: tuple[int, ...]
    values: Array


@dataclass(frozen=True, slots=True)
class Clique:
    """One table of the tree. `scope` is sorted by elimination; the first `summed` variables go no further."""

    scope: tuple[int, ...]
    summed: int
    parent: int

    @property
    def separator(self) -> tuple[int, ...]:
        """What the clique shares with its parent."""
        return self.scope[self.summed :]


@dataclass(frozen=True, slots=True, eq=False)
class Beliefs:
    """For each case of the batch: log P(weights) and, for each target, the normalised marginal."""

    log_probability: Array
    marginals: dict[int, Array]


def elimination_order(scopes: Iterable[Sequence[int]], cards: Mapping[int, int]) -> list[int]:
    """Greedy order: fewest fill edges first, then the smallest table (min-fill; Rose 1972, from memory)."""
    neighbours = _adjacency(scopes, cards)
    place = {1 << position: variable for position, variable in enumerate(cards)}
    bit = {variable: mask for mask, variable in place.items()}
    names = {variable: _bits(mask, place) for variable, mask in neighbours.items()}
    cost = {variable: _fill(variable, neighbours, names, cards) for variable in cards}
    order = []
    while cost:
        variable = min(cost, key=cost.__getitem__)
        del cost[variable]
        order.append(variable)
        around = names[variable]
        changed = set(around)
        for other in around:
            neighbours[other] = (neighbours[other] | neighbours[variable]) & ~bit[variable] & ~bit[other]
            names[other] = _bits(neighbours[other], place)
            changed.update(names[other])
        for other in changed:
            cost[other] = _fill(other, neighbours, names, cards)
    return order


def _adjacency(scopes: Iterable[Sequence[int]], cards: Mapping[int, int]) -> dict[int, int]:
    bit = {variable: 1 << position for position, variable in enumerate(cards)}
    neighbours = dict.fromkeys(cards, 0)
    for scope in scopes:
        mask = reduce(int.__or__, (bit[v] for v in scope), 0)
        for variable in scope:
            neighbours[variable] |= mask & ~bit[variable]
    return neighbours


def _bits(mask: int, place: Mapping[int, int]) -> list[int]:
    found = []
    while mask:
        low = mask & -mask
        found.append(place[low])
        mask ^= low
    return found


def _fill(
    variable: int, neighbours: Mapping[int, int], names: Mapping[int, list[int]], cards: Mapping[int, int]
) -> tuple[int, int]:
    around = neighbours[variable]
    edges = sum((around & ~neighbours[other]).bit_count() - 1 for other in names[variable])
    size = cards[variable]
    for other in names[variable]:
        size *= cards[other]
    return edges, size


def _cliques(scopes: Iterable[Sequence[int]], order: Sequence[int]) -> list[Clique]:
    """The maximal cliques of the elimination, children before parents (root: parent = -1)."""
    rank = {variable: position for position, variable in enumerate(order)}
    waiting: list[set[int]] = [set() for _ in order]
    for scope in scopes:
        if scope:
            waiting[min(rank[v] for v in scope)].update(rank[v] for v in scope)
    home: dict[int, int] = {}
    members: list[list[int]] = []
    for position, rest in enumerate(waiting):
        rest.discard(position)
        if rest:
            waiting[min(rest)].update(rest)
        child = _absorber(members, home, position, rest)
        if child is None:
            home[position] = len(members)
            members.append([position, *sorted(rest)])
        else:
            home[position] = child
    return _linked(members, home, order)


def _absorber(members: list[list[int]], home: Mapping[int, int], position: int, rest: set[int]) -> int | None:
    """An earlier clique that already holds this one: same variables but for those it summed itself."""
    for clique in range(len(members) - 1, -1, -1):
        scope = members[clique]
        if position in scope and rest.issubset(scope):
            summed = sum(1 for member in scope if home.get(member) == clique)
            if scope[summed] == position and len(scope) - summed == len(rest) + 1:
                return clique
    return None


def _linked(members: list[list[int]], home: Mapping[int, int], order: Sequence[int]) -> list[Clique]:
    cliques = []
    for number, scope in enumerate(members):
        summed = sum(1 for member in scope if home[member] == number)
        parent = home[scope[summed]] if summed < len(scope) else -1
        cliques.append(Clique(tuple(order[m] for m in scope), summed, parent))
    return _children_first(cliques)


def _children_first(cliques: list[Clique]) -> list[Clique]:
    depth = [0] * len(cliques)

    def level(clique: int) -> int:
        steps = 0
        while clique >= 0:
            clique, steps = cliques[clique].parent, steps + 1
        return steps

    depth = [level(clique) for clique in range(len(cliques))]
    order = sorted(range(len(cliques)), key=lambda clique: -depth[clique])
    number = {old: new for new, old in enumerate(order)}
    return [
        Clique(cliques[old].scope, cliques[old].summed, number.get(cliques[old].parent, -1)) for old in order
    ]


class JunctionTree:
    """Factors compiled into a tree of tables. `run` weighs the variables and gives all marginals."""

    def __init__(self, factors: Sequence[Factor], cards: Mapping[int, int], widest: int = MAX_CLIQUE):
        scopes = [factor.scope for factor in factors]
        order = elimination_order(scopes, cards)
        self.cards = dict(cards)
        self.cliques = _cliques(scopes, order)
        self._rank = {variable: position for position, variable in enumerate(order)}
        self._home = {v: n for n, clique in enumerate(self.cliques) for v in clique.scope[: clique.summed]}
        self.width = max((self._size(clique.scope) for clique in self.cliques), default=1)
        if self.width > widest:
            raise TooWide(float(self.width))
        self._base = self._multiply_in(factors)

    def _size(self, scope: Iterable[int]) -> int:
        size = 1
        for variable in scope:
            size *= self.cards[variable]
        return size

    def _multiply_in(self, factors: Sequence[Factor]) -> list[Array]:
        """Each factor goes into the clique where its first variable is summed out. Shape (cards..., 1)."""
        tables = [np.ones((1,) * (len(clique.scope) + 1)) for clique in self.cliques]
        self._constant = 1.0
        for factor in factors:
            if not factor.scope:
                self._constant *= float(factor.values)
                continue
            scope = sorted(factor.scope, key=self._rank.__getitem__)
            home = self._home[scope[0]]
            axes = [factor.scope.index(variable) for variable in scope]
            values = np.transpose(factor.values, axes)[..., None]
            tables[home] = tables[home] * self._spread(values, scope, self.cliques[home].scope)
        return tables

    @staticmethod
    def _spread(values: Array, scope: Sequence[int], onto: Sequence[int]) -> Array:
        """Give `values` an axis of length one for each variable of `onto` that it lacks."""
        shape, axis = [], 0
        for variable in onto:
            if axis < len(scope) and scope[axis] == variable:
                shape.append(values.shape[axis])
                axis += 1
            else:
                shape.append(1)
        return values.reshape(*shape, values.shape[-1])

    def run(self, weights: Weights, targets: Iterable[int], batch: int = 1) -> Beliefs:
        """Propagate; the batch is cut into chunks that stay within the processor's cache."""
        wanted = [variable for variable in targets if variable in self._home]
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
        tables, messages, log_probability = self._collect(weights, batch)
        possible = np.isfinite(log_probability)
        beliefs = self._distribute(tables, messages, targets)
        marginals = {}
        for variable in targets:
            marginal = np.broadcast_to(self._marginal(beliefs, variable), (self.cards[variable], batch))
            total = np.where(possible, marginal.sum(axis=0), 1.0)
            marginals[variable] = marginal / total
        return Beliefs(log_probability, marginals)

    def _collect(self, weights: Weights, batch: int) -> tuple[list[Array], list[Array], Array]:
        """Towards the root: tables with all that came from below, the messages sent, log P(weights)."""
        tables = list(self._base)
        messages: list[Array] = [np.ones(1)] * len(tables)
        with np.errstate(divide="ignore"):
            log_probability = np.full(batch, np.log(self._constant))
        for variable, weight in weights.items():
            home = self._home[variable]
            tables[home] = tables[home] * self._spread(weight, (variable,), self.cliques[home].scope)
        for number, clique in enumerate(self.cliques):
            table = tables[number] = self._full(tables[number], clique)
            message = table.sum(axis=tuple(range(clique.summed)))
            scale = message.reshape(-1, message.shape[-1]).max(axis=0)
            with np.errstate(divide="ignore"):
                log_probability = log_probability + np.log(scale)
            message = message / np.where(scale > 0, scale, 1.0)
            messages[number] = message
            if clique.parent >= 0:
                onto = self.cliques[clique.parent].scope
                tables[clique.parent] = tables[clique.parent] * self._spread(message, clique.separator, onto)
        return tables, messages, log_probability

    def _full(self, table: Array, clique: Clique) -> Array:
        """Axes that no factor touched are still of length one: give them their states."""
        shape = tuple(self.cards[v] for v in clique.scope) + table.shape[-1:]
        return table if table.shape == shape else np.broadcast_to(table, shape)

    def _distribute(
        self, tables: list[Array], messages: list[Array], targets: Sequence[int]
    ) -> dict[int, Array]:
        """Away from the root, only where a target lies: the beliefs, up to a constant for each case."""
        needed = set()
        for variable in targets:
            home = self._home[variable]
            while home >= 0 and home not in needed:
                needed.add(home)
                home = self.cliques[home].parent
        beliefs: dict[int, Array] = {}
        for number in sorted(needed, reverse=True):
            clique = self.cliques[number]
            if clique.parent < 0:
                beliefs[number] = tables[number]
                continue
            above = self.cliques[clique.parent].scope
            away = tuple(axis for axis, v in enumerate(above) if v not in clique.separator)
            shared: Array = beliefs[clique.parent].sum(axis=away)
            message = messages[number]
            ratio = np.divide(shared, message, out=np.zeros(shared.shape), where=message > 0)
            beliefs[number] = tables[number] * self._spread(ratio, clique.separator, clique.scope)
        return beliefs

    def _marginal(self, beliefs: Mapping[int, Array], variable: int) -> Array:
        home = self._home[variable]
        axis = self.cliques[home].scope.index(variable)
        belief = beliefs[home]
        others = tuple(a for a in range(belief.ndim - 1) if a != axis)
        return np.asarray(belief.sum(axis=others))
