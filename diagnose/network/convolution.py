"""Joining two tables along axes where contributions to an effect meet: max-convolution, positive terms only.

Two independent contributions f, g to a noisy-MAX effect combine to the distribution of the larger one: h(t) =
f(t) G(<= t) + F(< t) g(t). Where one table h speaks of the effect's final value instead, given the largest of
what is still to come, taking a contribution g in gives h'(r) = sum over t of g(t) h(max(r, t)). The one is
the derivative of the other. Nothing is subtracted, so no digits are lost. Along all other axes arrays are
multiplied with broadcasting."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import Enum
from functools import cache
from itertools import accumulate
from math import prod
from operator import add
from string import ascii_letters
from typing import Any

import numpy as np

from diagnose.network.network import Array

BY_MATRIX, SEVERAL = 1 << 14, 12
"""From so many products and cases of the batch on a table that is the same in all of them is made the matrix that
it is to the other."""
AT_ONCE = 1 << 17
"""Products up to which all axes are worked at once: there it is the number of array operations that
counts."""
PLAIN_SUM = 1 << 9
"""Size up to which a product is made first and then summed; above, both are done in one pass."""


class Meeting(Enum):
    """How two tables meet along an axis: both are contributions, or one speaks of what is still to come."""

    LARGER = 0
    LEFT_AWAITS = 1
    RIGHT_AWAITS = 2


MIRRORED = {
    Meeting.LARGER: Meeting.LARGER,
    Meeting.LEFT_AWAITS: Meeting.RIGHT_AWAITS,
    Meeting.RIGHT_AWAITS: Meeting.LEFT_AWAITS,
}
Meetings = Sequence[tuple[int, Meeting]]
"""Axis (ascending) and how the tables meet along it."""


def joined(left: Array, right: Array, meetings: Meetings, off: Sequence[int] = ()) -> Array:
    """Both tables in
    one, the axes `off` summed out. The axes of `meetings` have full length in both, and none of them is in
    `off`."""
    if not meetings:
        return _product(left, right, off)
    both = prod([max(a, b) for a, b in zip(left.shape, right.shape, strict=True)])
    products = both * prod([2 - 1 / left.shape[axis] for axis, _ in meetings])
    batch = max(left.shape[-1], right.shape[-1])
    if products > BY_MATRIX and batch >= SEVERAL and left.shape[-1] == 1:
        return _by_matrix(left, right, meetings, off)
    if products > BY_MATRIX and batch >= SEVERAL and right.shape[-1] == 1:
        return _by_matrix(right, left, [(axis, MIRRORED[meeting]) for axis, meeting in meetings], off)
    if products <= AT_ONCE:
        return _at_once(left, right, meetings, off)
    (axis, meeting), rest = meetings[-1], meetings[:-1]
    later = [a - 1 if a > axis else a for a in off]

    def below(one: Array, other: Array) -> Array:
        return joined(one, other, rest, later)

    lefts, rights = _slices(left, axis), _slices(right, axis)
    if meeting is Meeting.LARGER:
        found = _larger(lefts, rights, below)
    elif meeting is Meeting.LEFT_AWAITS:
        found = _awaited(lefts, rights, below)
    else:
        found = _awaited(rights, lefts, lambda one, other: below(other, one))
    return np.stack(found, axis - sum(a < axis for a in off))


def _by_matrix(same: Array, other: Array, meetings: Meetings, off: Sequence[int]) -> Array:
    """As `joined` where `same`, the left one, has a batch of one: a linear map on the other."""
    axes = range(left_axes := same.ndim - 1)
    met = dict(meetings)
    alone = [a for a in off if other.shape[a] == 1]
    beside = [a for a in off if same.shape[a] == 1 and other.shape[a] > 1]
    same = same[..., 0].sum(axis=tuple(alone), keepdims=True)
    other = other.sum(axis=tuple(beside), keepdims=True) if beside else other
    common = [a for a in axes if a not in met and same.shape[a] > 1 and other.shape[a] > 1]
    kept, gone = [a for a in common if a not in off], [a for a in common if a in off]
    mine = [a for a in axes if a in met or (a not in common and other.shape[a] == 1)]
    its = [a for a in axes if a not in met and a not in common and other.shape[a] > 1]
    matrix, order = same, list(axes)
    for axis, meeting in meetings:
        matrix = np.tensordot(matrix, _map(meeting, same.shape[axis]), ([order.index(axis)], [0]))
        order = [a for a in order if a != axis] + [axis, left_axes + axis]
    rows = [order.index(a) for a in (*kept, *mine, *(left_axes + a for a in met), *gone, *its)]
    shape = [other.shape[a] for a in kept]
    taken = prod([other.shape[a] for a in (*met, *gone)])
    columns = other.transpose([*kept, *met, *gone, *its, *(a for a in mine if a not in met), left_axes])
    found = matrix.transpose(rows).reshape(*shape, -1, taken) @ columns.reshape(*shape, taken, -1)
    whole = [*shape, *(same.shape[a] for a in mine), *(other.shape[a] for a in its), other.shape[-1]]
    place = [*kept, *mine, *its, left_axes]
    found = found.reshape(whole).transpose(
        [place.index(a) for a in (*(a for a in axes if a not in gone), left_axes)]
    )
    return np.asarray(found.sum(axis=tuple([a - sum(g < a for g in gone) for a in off if a not in gone])))


@cache
def _map(meeting: Meeting, states: int) -> Array:
    """Of one axis: shape (state of the table, of the result, of the other one)."""
    each = np.arange(states)
    larger = np.maximum.outer(each, each)[..., None] == each  # one, other, larger
    order = {Meeting.LARGER: (0, 2, 1), Meeting.LEFT_AWAITS: (2, 0, 1), Meeting.RIGHT_AWAITS: (1, 0, 2)}
    return np.asarray(larger.transpose(order[meeting]), dtype=float)


def _product(left: Array, right: Array, off: Sequence[int]) -> Array:
    if not off:
        return left * right
    if max(left.size, right.size) <= PLAIN_SUM:
        return np.asarray((left * right).sum(axis=tuple(off)))
    return np.asarray(np.einsum(_subscripts(left.ndim, tuple(off)), left, right))


@cache
def _subscripts(axes: int, off: tuple[int, ...]) -> str:
    """For einsum: the product of two tables with so many axes, some of them summed out."""
    names = ascii_letters[:axes]
    return f"{names},{names}->{''.join(name for axis, name in enumerate(names) if axis not in off)}"


def _larger(f: Sequence[Array], g: Sequence[Array], times: Callable[[Array, Array], Array]) -> list[Array]:
    """Slices of the distribution of the larger."""
    below_f, up_to_g = f[0], g[0]
    found = [times(f[0], g[0])]
    for t in range(1, len(f)):
        up_to_g = up_to_g + g[t]
        here = times(f[t], up_to_g)
        here += times(below_f, g[t])
        found.append(here)
        if t + 1 < len(f):
            below_f = below_f + f[t]
    return found


def _awaited(h: Sequence[Array], g: Sequence[Array], times: Callable[[Array, Array], Array]) -> list[Array]:
    """Slices of what h becomes when the contribution g has come in."""
    up_to = list(accumulate(g, add))
    found = [times(h[-1], up_to[-1])]
    above: Array | None = None
    for r in range(len(h) - 2, -1, -1):
        next_one = times(h[r + 1], g[r + 1])
        above = next_one if above is None else above + next_one
        here = times(h[r], up_to[r])
        here += above
        found.append(here)
    return found[::-1]


def _at_once(left: Array, right: Array, meetings: Meetings, off: Sequence[int]) -> Array:
    """Every axis of n states becomes the 2n - 1 products of the sums above, and these are folded."""
    for axis, meeting in meetings:
        if meeting is Meeting.LARGER:
            left, right = _equal_and_below(left, axis), _up_to_and_equal(right, axis)
        elif meeting is Meeting.LEFT_AWAITS:
            left, right = _each_and_above(left, axis), _up_to_and_equal(right, axis)
        else:
            left, right = _up_to_and_equal(left, axis), _each_and_above(right, axis)
    found = _product(left, right, off)
    for axis, meeting in meetings:
        axis -= sum(a < axis for a in off)
        states = (found.shape[axis] + 1) // 2
        folded, more = _part(found, axis, 0, states), _part(found, axis, states, None)
        if meeting is Meeting.LARGER:
            _part(folded, axis, 1, None)[...] += more
        else:
            for t in range(states - 3, -1, -1):
                _part(more, axis, t, t + 1)[...] += _part(more, axis, t + 1, t + 2)
            _part(folded, axis, 0, -1)[...] += more
        found = folded
    return found


def _widened(f: Array, axis: int) -> Array:
    """Room for 2n - 1 states along the axis, the first n of them filled."""
    states = f.shape[axis]
    whole = np.empty((*f.shape[:axis], 2 * states - 1, *f.shape[axis + 1 :]))
    _part(whole, axis, 0, states)[...] = f
    return whole


def _equal_and_below(f: Array, axis: int) -> Array:
    """f(t) for every t, then F(< t) for every t but the first."""
    whole, states = _widened(f, axis), f.shape[axis]
    _part(whole, axis, states, None)[...] = _part(f, axis, 0, -1)
    _add_up(whole, axis, states, 2 * states - 1)
    return whole


def _each_and_above(h: Array, axis: int) -> Array:
    """h(t) for every t, then again for every t but the first."""
    whole = _widened(h, axis)
    _part(whole, axis, h.shape[axis], None)[...] = _part(h, axis, 1, None)
    return whole


def _up_to_and_equal(g: Array, axis: int) -> Array:
    """G(<= t) for every t, then g(t) for every t but the first."""
    whole = _each_and_above(g, axis)
    _add_up(whole, axis, 0, g.shape[axis])
    return whole


def _add_up(whole: Array, axis: int, start: int, stop: int) -> None:
    """Sums up along a stretch of the axis, in place: slice by slice, for numpy's own way over an axis of two or
    three states that is not the last takes ten times as long."""
    for t in range(start + 1, stop):
        _part(whole, axis, t, t + 1)[...] += _part(whole, axis, t - 1, t)


def _part(f: Array, axis: int, start: int, stop: int | None) -> Array:
    before: tuple[Any, ...] = (slice(None),) * axis
    return f[(*before, slice(start, stop))]


def _slices(f: Array, axis: int) -> list[Array]:
    before: tuple[Any, ...] = (slice(None),) * axis
    return [f[(*before, t)] for t in range(f.shape[axis])]
