"""How two tables over some variables become one, and back: shapes worked out once, for any batch.

A table's scope is a tuple of ascending numbers, one axis each; the batch is the last axis. Along an axis of a hub
that both tables have, contributions combine by max-convolution; along all others tables are multiplied.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from diagnose.network.convolution import combine, derivative
from diagnose.network.network import Array

Scope = tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Join:
    """Two tables, left and right, onto the union of their scopes.

    `left`, `right`: their shapes with an axis of one where the other has a variable that they lack, then the
    batch; `shared`: the axes of max-convolution; `full`: the shape of the union, without the batch; `off_left`,
    `off_right`: the axes that each lacks.
    """

    scope: Scope
    left: tuple[int, ...]
    right: tuple[int, ...]
    shared: Scope
    full: tuple[int, ...]
    off_left: Scope
    off_right: Scope

    def combined(self, left: Array, right: Array) -> Array:
        """Both in one, in the full shape and then the batch."""
        return combine(left.reshape(self.left), right.reshape(self.right), self.shared)

    def by_left(self, gradient: Array, right: Array) -> Array:
        """The derivative by the left table, given that by both combined."""
        return self._back(gradient, right.reshape(self.right), self.off_left)

    def by_right(self, gradient: Array, left: Array) -> Array:
        """The derivative by the right table, given that by both combined."""
        return self._back(gradient, left.reshape(self.left), self.off_right)

    def _back(self, gradient: Array, other: Array, off: Scope) -> Array:
        if self.shared:
            gradient = filled(gradient, self.full)
        found = derivative(gradient, other, self.shared)
        if not off:
            return found
        short = prod(self.full[axis] for axis in off if found.shape[axis] != self.full[axis])
        whole = found.sum(axis=off)
        return np.asarray(whole * short if short != 1 else whole)


def join(left: Scope, right: Scope, cards: Sequence[int], hubs: Collection[int]) -> Join:
    """How tables of these scopes are joined; `cards` and `hubs` by the scopes' numbers."""
    scope = left if left == right else tuple(sorted({*left, *right}))
    return Join(
        scope,
        (*(cards[v] if v in left else 1 for v in scope), -1),
        (*(cards[v] if v in right else 1 for v in scope), -1),
        tuple(axis for axis, v in enumerate(scope) if v in hubs and v in left and v in right),
        tuple(cards[v] for v in scope),
        tuple(axis for axis, v in enumerate(scope) if v not in left),
        tuple(axis for axis, v in enumerate(scope) if v not in right),
    )


def filled(values: Array, full: tuple[int, ...]) -> Array:
    """The values with axes of length one given their full length."""
    if values.shape[:-1] == full:
        return values
    whole = np.empty((*full, values.shape[-1]))
    whole[...] = values
    return whole
