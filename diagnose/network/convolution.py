"""Combining what several parents contribute to one effect: max-convolution along some axes, positive terms only.

Two independent contributions to a noisy-MAX effect combine to the distribution of the larger one:
h(t) = f(t) G(<= t) + F(< t) g(t). Nothing is subtracted, so no digits are lost. Along all other axes arrays are
multiplied with broadcasting.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.network.network import Array


def combine(f: Array, g: Array, axes: Sequence[int]) -> Array:
    """Max-convolution of f and g along `axes`, product along the rest. The axes have full length in both."""
    if not axes:
        return f * g
    axis, rest = max(axes), sorted(axes)[:-1]
    fs, gs = _slices(f, axis), _slices(g, axis)
    below_f, up_to_g = fs[0], gs[0]
    found = [combine(fs[0], gs[0], rest)]
    for t in range(1, len(fs)):
        up_to_g = up_to_g + gs[t]
        found.append(combine(fs[t], up_to_g, rest) + combine(below_f, gs[t], rest))
        below_f = below_f + fs[t]
    return np.stack(found, axis=axis)


def derivative(h: Array, g: Array, axes: Sequence[int]) -> Array:
    """The derivative by f of sum(h * combine(f, g)), in the full shape (broadcast axes not yet summed)."""
    if not axes:
        return h * g
    axis, rest = max(axes), sorted(axes)[:-1]
    hs, gs = _slices(h, axis), _slices(g, axis)
    up_to = np.cumsum(np.stack(gs), axis=0)
    above: Array | None = None
    found = []
    for s in range(len(hs) - 1, -1, -1):
        own = derivative(hs[s], up_to[s], rest)
        found.append(own if above is None else own + above)
        mine = derivative(hs[s], gs[s], rest)
        above = mine if above is None else above + mine
    return np.stack(found[::-1], axis=axis)


def _slices(f: Array, axis: int) -> list[Array]:
    return [np.take(f, t, axis=axis) for t in range(f.shape[axis])]
