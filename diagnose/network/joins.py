"""How two tables over some variables become one, and back: shapes worked out once, for any batch.

A table's scope is a tuple of ascending numbers, one axis each; the batch is the last axis. Along an axis of a hub a
table either tells what has come in so far, or it awaits what is still to come (`awaits`): what the evidence below
the hub says of the final value. The derivative by a table that tells awaits, and the other way round, so that one
operation serves forward and backward.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.network.convolution import Meeting, joined
from diagnose.network.network import Array

Scope = tuple[int, ...]
Meetings = tuple[tuple[int, Meeting], ...]

BACK_LEFT = {
    Meeting.LARGER: Meeting.LEFT_AWAITS,
    Meeting.LEFT_AWAITS: Meeting.LARGER,
    Meeting.RIGHT_AWAITS: Meeting.RIGHT_AWAITS,
}
"""How the derivative by both (in the place of the left one) meets the right one, to give that by the left."""
BACK_RIGHT = {
    Meeting.LARGER: Meeting.LEFT_AWAITS,
    Meeting.LEFT_AWAITS: Meeting.RIGHT_AWAITS,
    Meeting.RIGHT_AWAITS: Meeting.LARGER,
}
"""How the derivative by both (in the left place) meets the left one, to give that by the right."""


@dataclass(frozen=True, slots=True, eq=False)
class Join:
    """Two tables, left and right, onto the union of their scopes.

    `left`, `right`: their shapes with an axis of one where the other has a variable that they lack, then the batch;
    `meetings`: how they meet along the axes of hubs that both have; `back_left`, `back_right`: how the derivative
    meets the other one; `full`: the shape of the union, without the batch; `off_left`, `off_right`: the axes that
    each lacks.
    """

    scope: Scope
    awaits: frozenset[int]
    left: tuple[int, ...]
    right: tuple[int, ...]
    meetings: Meetings
    back_left: Meetings
    back_right: Meetings
    full: tuple[int, ...]
    off_left: Scope
    off_right: Scope

    def combined(self, left: Array, right: Array, off: Scope = ()) -> Array:
        """Both in one, in the full shape and then the batch; the axes `off` summed out."""
        return joined(left.reshape(self.left), right.reshape(self.right), self.meetings, off)

    def by_left(self, gradient: Array, right: Array) -> Array:
        """The derivative by the left table, given that by both combined."""
        return self._back(gradient, right.reshape(self.right), self.back_left, self.off_left)

    def by_right(self, gradient: Array, left: Array) -> Array:
        """The derivative by the right table, given that by both combined."""
        return self._back(gradient, left.reshape(self.left), self.back_right, self.off_right)

    def _back(self, gradient: Array, other: Array, meetings: Meetings, off: Scope) -> Array:
        return joined(filled(gradient, self.full) if meetings else gradient, other, meetings, off)


def join(
    left: Scope,
    right: Scope,
    cards: Sequence[int],
    hubs: Collection[int],
    left_awaits: frozenset[int] = frozenset(),
    right_awaits: frozenset[int] = frozenset(),
) -> Join:
    """How tables of these scopes are joined; `cards` and `hubs` by the scopes' numbers. `left_awaits`,
    `right_awaits`: the hubs along which each awaits what is still to come, never both."""
    scope = left if left == right else tuple(sorted({*left, *right}))
    mine, its = frozenset(left), frozenset(right)
    meetings = []
    for axis, v in enumerate(scope):
        if v in hubs and v in mine and v in its:
            awaited = Meeting.LEFT_AWAITS if v in left_awaits else Meeting.LARGER
            meetings.append((axis, Meeting.RIGHT_AWAITS if v in right_awaits else awaited))
    full = tuple([cards[v] for v in scope])
    return Join(
        scope,
        left_awaits | right_awaits,
        (*[n if v in mine else 1 for n, v in zip(full, scope, strict=True)], -1),
        (*[n if v in its else 1 for n, v in zip(full, scope, strict=True)], -1),
        tuple(meetings),
        tuple([(axis, BACK_LEFT[meeting]) for axis, meeting in meetings]),
        tuple([(axis, BACK_RIGHT[meeting]) for axis, meeting in meetings]),
        full,
        tuple([axis for axis, v in enumerate(scope) if v not in mine]),
        tuple([axis for axis, v in enumerate(scope) if v not in its]),
    )


def filled(values: Array, full: tuple[int, ...]) -> Array:
    """The values with axes of length one given their full length."""
    if values.shape[:-1] == full:
        return values
    whole = np.empty((*full, values.shape[-1]))
    whole[...] = values
    return whole
