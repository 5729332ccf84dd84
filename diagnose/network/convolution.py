"""Combining what several parents contribute to one effect: max-convolution along some axes, positive terms only.

Two independent contributions to a noisy-MAX effect combine to the distribution of the larger one:
h(t) = f(t) G(<= t) + F(< t) g(t). Nothing is subtracted, so no digits are lost. Along all other axes arrays are
multiplied with broadcasting.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from diagnose.network.network import Array

SMALL = 1 << 10
"""Size up to which all axes are worked at once: there it is the number of array operations that counts."""


def combine(f: Array, g: Array, axes: Sequence[int]) -> Array:
    """Max-convolution of f and g along `axes` (ascending), product along the rest.

    The axes have full length in both.
    """
    if not axes:
        return f * g
    if len(axes) > 1 and max(f.size, g.size) <= SMALL:
        return _combined_at_once(f, g, axes)
    axis, rest = axes[-1], axes[:-1]
    fs, gs = _slices(f, axis), _slices(g, axis)
    below_f, up_to_g = fs[0], gs[0]
    found = [combine(fs[0], gs[0], rest)]
    for t in range(1, len(fs)):
        up_to_g = up_to_g + gs[t]
        found.append(combine(fs[t], up_to_g, rest) + combine(below_f, gs[t], rest))
        below_f = below_f + fs[t]
    return _stacked(found, axis)


def derivative(h: Array, g: Array, axes: Sequence[int]) -> Array:
    """The derivative by f of sum(h * combine(f, g)), in the full shape (broadcast axes not yet summed)."""
    if not axes:
        return h * g
    if len(axes) > 1 and max(h.size, g.size) <= SMALL:
        return _derivative_at_once(h, g, axes)
    axis, rest = axes[-1], axes[:-1]
    hs, gs = _slices(h, axis), _slices(g, axis)
    up_to = [gs[0]]
    for t in range(1, len(gs)):
        up_to.append(up_to[-1] + gs[t])
    found = [derivative(hs[-1], up_to[-1], rest)]
    above = derivative(hs[-1], gs[-1], rest)
    for s in range(len(hs) - 2, -1, -1):
        found.append(derivative(hs[s], up_to[s], rest) + above)
        if s:
            above = above + derivative(hs[s], gs[s], rest)
    return _stacked(found[::-1], axis)


def _combined_at_once(f: Array, g: Array, axes: Sequence[int]) -> Array:
    """As `combine`: every axis of n states becomes the 2n - 1 products of the sum above, and these are folded."""
    for axis in axes:
        f = np.concatenate([f, _summed_up(_part(f, axis, 0, -1), axis)], axis)
        g = _lesser_and_equal(g, axis)
    found: Array = f * g
    for axis in axes:
        states = (found.shape[axis] + 1) // 2
        folded = _part(found, axis, 0, states)
        _part(folded, axis, 1, None)[...] += _part(found, axis, states, None)
        found = folded
    return found


def _derivative_at_once(h: Array, g: Array, axes: Sequence[int]) -> Array:
    """As `derivative`: the steps of `_combined_at_once` backwards."""
    for axis in axes:
        h = np.concatenate([h, _part(h, axis, 1, None)], axis)
        g = _lesser_and_equal(g, axis)
    found: Array = h * g
    for axis in axes:
        states = (found.shape[axis] + 1) // 2
        folded, above = _part(found, axis, 0, states), _part(found, axis, states, None)
        if states > 2:
            above = np.flip(np.add.accumulate(np.flip(above, axis), axis), axis)
        _part(folded, axis, 0, -1)[...] += above
        found = folded
    return found


def _summed_up(f: Array, axis: int) -> Array:
    return f if f.shape[axis] == 1 else np.add.accumulate(f, axis)


def _lesser_and_equal(g: Array, axis: int) -> Array:
    """G(<= t) for every t, then g(t) for every t but the first."""
    return np.concatenate([np.add.accumulate(g, axis), _part(g, axis, 1, None)], axis)


def _part(f: Array, axis: int, start: int, stop: int | None) -> Array:
    before: tuple[Any, ...] = (slice(None),) * axis
    return f[(*before, slice(start, stop))]


def _slices(f: Array, axis: int) -> list[Array]:
    before: tuple[Any, ...] = (slice(None),) * axis
    return [f[(*before, t)] for t in range(f.shape[axis])]


def _stacked(parts: Sequence[Array], axis: int) -> Array:
    shape = parts[0].shape
    whole = np.empty((*shape[:axis], len(parts), *shape[axis:]))
    before: tuple[Any, ...] = (slice(None),) * axis
    for t, part in enumerate(parts):
        whole[(*before, t)] = part
    return whole
