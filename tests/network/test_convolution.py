"""Joining tables along hubs against the definition: the larger of two independent contributions, and its
derivatives."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.network import convolution
from diagnose.network.convolution import AT_ONCE, Meeting, joined
from diagnose.network.network import Array

CARDS = st.lists(st.integers(2, 4), min_size=1, max_size=3)


def by_definition(f: Array, g: Array, axes: int) -> Array:
    """P(max = t) for independent f and g along the first `axes` axes: the sum over all pairs of states."""
    states = f.shape[:axes]
    found = np.zeros((*states, *np.broadcast_shapes(f.shape[axes:], g.shape[axes:])))
    for one, other in product(np.ndindex(states), np.ndindex(states)):
        found[tuple(map(max, one, other))] += f[one] * g[other]
    return found


KINDS = st.lists(st.sampled_from(Meeting), min_size=1, max_size=3)


@settings(deadline=None, max_examples=40)
@given(cards=CARDS, seed=st.integers(0, 1000), batch=st.sampled_from((1, 30, AT_ONCE // 16)))
def test_joined_is_the_larger_of_both(cards: list[int], seed: int, batch: int) -> None:
    rng = np.random.default_rng(seed)
    f, g = rng.random((*cards, 1, batch)), rng.random((*cards, 2, batch))
    found = joined(f, g, [(axis, Meeting.LARGER) for axis in range(len(cards))])
    np.testing.assert_allclose(found, by_definition(f, g, len(cards)), rtol=1e-12)


@settings(deadline=None, max_examples=60)
@given(
    kinds=KINDS,
    card=st.integers(2, 4),
    seed=st.integers(0, 1000),
    batch=st.sampled_from((1, 30, AT_ONCE // 16)),
)
def test_every_meeting_is_the_sum_it_stands_for(
    kinds: list[Meeting], card: int, seed: int, batch: int
) -> None:
    """Awaiting: h'(r) = sum over t of g(t) h(max(r, t)), written out; the axis before all others is summed
    out."""
    rng = np.random.default_rng(seed)
    states = (card,) * len(kinds)
    left, right = rng.random((3, *states, batch)), rng.random((3, *states, batch))
    expected = np.zeros((*states, batch))
    for one, other in product(np.ndindex(states), np.ndindex(states)):
        mine, its, out = list(one), list(other), list(map(max, one, other))
        for axis, kind in enumerate(kinds):
            if kind is Meeting.LEFT_AWAITS:  # `one` is what is still to come, `other` what comes in
                mine[axis], out[axis] = out[axis], one[axis]
            elif kind is Meeting.RIGHT_AWAITS:
                its[axis], out[axis] = out[axis], other[axis]
        expected[tuple(out)] += (left[(slice(None), *mine)] * right[(slice(None), *its)]).sum(axis=0)
    found = joined(left, right, [(axis + 1, kind) for axis, kind in enumerate(kinds)], (0,))
    np.testing.assert_allclose(found, expected, rtol=1e-12)


@settings(deadline=None, max_examples=40)
@given(cards=CARDS, seed=st.integers(0, 1000), batch=st.sampled_from((1, AT_ONCE // 16)))
def test_awaiting_is_the_derivative_of_the_larger(cards: list[int], seed: int, batch: int) -> None:
    rng = np.random.default_rng(seed)
    h, g = rng.random((*cards, batch)), rng.random((*cards, batch))
    found = joined(h, g, [(axis, Meeting.LEFT_AWAITS) for axis in range(len(cards))])
    for state in np.ndindex(*cards):
        unit = np.zeros((*cards, batch))
        unit[state] = 1.0
        axes = tuple(range(len(cards)))
        expected = (h * by_definition(unit, g, len(cards))).sum(axis=axes)
        np.testing.assert_allclose(found[state], expected, rtol=1e-12)


@pytest.mark.parametrize("batch", [1, 200, AT_ONCE + 1])
def test_tiny_numbers_lose_no_digits(batch: int) -> None:
    """Nothing is subtracted: a contribution of 1e-30 beside 1 comes out to the last digits."""
    f = np.broadcast_to(np.array([[1.0, 1e-30], [1e-30, 1e-60]])[..., None], (2, 2, batch)).copy()
    found = joined(f, f, [(0, Meeting.LARGER), (1, Meeting.LARGER)])
    np.testing.assert_allclose(found[1, 0], np.full(batch, 2e-30), rtol=1e-15)
    np.testing.assert_allclose(found[1, 1], np.full(batch, 4e-60), rtol=1e-14)


@settings(max_examples=80)
@given(data=st.data(), kinds=KINDS, card=st.integers(2, 3), seed=st.integers(0, 1000), same=st.booleans())
def test_as_a_matrix_it_is_the_same(
    data: st.DataObject, kinds: list[Meeting], card: int, seed: int, same: bool
) -> None:
    """Where one table is the same in the whole batch; beside the hubs axes that either or both have, some
    summed out."""
    rng = np.random.default_rng(seed)
    plain = data.draw(st.lists(st.sampled_from(((3, 1), (1, 3), (2, 2), (1, 1))), max_size=4))
    off = [axis for axis in range(len(plain)) if data.draw(st.booleans())]
    one = rng.random((*(a for a, _ in plain), *(card for _ in kinds), 1 if same else 5))
    other = rng.random((*(b for _, b in plain), *(card for _ in kinds), 5 if same else 1))
    meetings = [(len(plain) + axis, kind) for axis, kind in enumerate(kinds)]
    expected = joined(one, other, meetings, off)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(convolution, "BY_MATRIX", 0)
        np.testing.assert_allclose(joined(one, other, meetings, off), expected, rtol=1e-12)
