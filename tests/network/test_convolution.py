"""Max-convolution against its definition: the distribution of the larger of two independent contributions."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.network.convolution import SMALL, combine, derivative
from diagnose.network.network import Array

CARDS = st.lists(st.integers(2, 4), min_size=1, max_size=3)


def by_definition(f: Array, g: Array, axes: int) -> Array:
    """P(max = t) for independent f and g along the first `axes` axes: the sum over all pairs of states."""
    states = f.shape[:axes]
    found = np.zeros((*states, *np.broadcast_shapes(f.shape[axes:], g.shape[axes:])))
    for one, other in product(np.ndindex(states), np.ndindex(states)):
        found[tuple(map(max, one, other))] += f[one] * g[other]
    return found


@settings(deadline=None, max_examples=40)
@given(cards=CARDS, seed=st.integers(0, 1000), batch=st.sampled_from((1, 3, SMALL + 1)))
def test_combined_is_the_larger_of_both(cards: list[int], seed: int, batch: int) -> None:
    rng = np.random.default_rng(seed)
    f, g = rng.random((*cards, 1, batch)), rng.random((*cards, 2, batch))
    found = combine(f, g, range(len(cards)))
    np.testing.assert_allclose(found, by_definition(f, g, len(cards)), rtol=1e-12)


@settings(deadline=None, max_examples=40)
@given(cards=CARDS, seed=st.integers(0, 1000), batch=st.sampled_from((1, SMALL + 1)))
def test_the_derivative_is_that_of_a_linear_function(cards: list[int], seed: int, batch: int) -> None:
    rng = np.random.default_rng(seed)
    h, g = rng.random((*cards, batch)), rng.random((*cards, batch))
    found = derivative(h, g, range(len(cards)))
    for state in np.ndindex(*cards):
        unit = np.zeros((*cards, batch))
        unit[state] = 1.0
        axes = tuple(range(len(cards)))
        expected = (h * by_definition(unit, g, len(cards))).sum(axis=axes)
        np.testing.assert_allclose(found[state], expected, rtol=1e-12)


@pytest.mark.parametrize("batch", [1, SMALL + 1])
def test_tiny_numbers_lose_no_digits(batch: int) -> None:
    """Nothing is subtracted: a contribution of 1e-30 beside 1 comes out to the last digits."""
    f = np.broadcast_to(np.array([[1.0, 1e-30], [1e-30, 1e-60]])[..., None], (2, 2, batch)).copy()
    found = combine(f, f, (0, 1))
    np.testing.assert_allclose(found[1, 0], np.full(batch, 2e-30), rtol=1e-15)
    np.testing.assert_allclose(found[1, 1], np.full(batch, 4e-60), rtol=1e-14)
