"""Parent divorcing: exact, bounded, names kept."""

from __future__ import annotations

from math import prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.network.divorce import MARK, divorce
from diagnose.network.network import Network, NoisyMax, full_table
from tests.network.bruteforce import enumerate_posterior, family_table, joint
from tests.network.builders import Sketch, noisy_or_table
from tests.network.random_networks import named, networks


@settings(max_examples=60, deadline=None, derandomize=True)
@given(networks(max_variables=5))
def test_joint_of_the_original_variables_is_unchanged(network: Network) -> None:
    split = divorce(network, max_parents=2)
    extra = tuple(v for v, name in enumerate(split.names) if name not in network.index)
    np.testing.assert_allclose(joint(split).sum(axis=extra), joint(network), rtol=0, atol=1e-14)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(networks(), st.integers(2, 4), st.integers(16, 200))
def test_limits_hold_and_names_keep_their_order(network: Network, parents: int, entries: int) -> None:
    split = divorce(network, parents, entries)
    assert [name for name in split.names if name in network.index] == list(network.names)
    for variable, family in enumerate(split.families):
        assert all(parent < variable for parent in family.parents)
        if isinstance(family, NoisyMax):
            assert len(family.parents) <= parents
            size = prod(split.cards[v] for v in (*family.parents, variable))
            assert size <= entries or len(family.parents) <= 2


@settings(max_examples=40, deadline=None, derandomize=True)
@given(networks())
def test_full_table_is_the_definition_of_noisy_max(network: Network) -> None:
    """`full_table` multiplies cumulative distributions; the reference lists every contribution."""
    for variable, family in enumerate(network.families):
        np.testing.assert_allclose(full_table(family), family_table(network, variable), rtol=0, atol=1e-14)


def wide(count: int) -> Network:
    sketch = Sketch()
    for parent in range(count):
        sketch.root(f"cause {parent}", 0.02 * (parent + 1))
    return sketch.noisy_or("f", 0.01, {f"cause {p}": 0.1 + 0.05 * p for p in range(count)}).network()


def test_a_wide_noisy_or_against_its_closed_form() -> None:
    network = wide(14)
    split = divorce(network, max_parents=4)
    expected = 1 - 0.99 * prod(1 - 0.02 * (p + 1) * (0.1 + 0.05 * p) for p in range(14))
    marginals, _ = enumerate_posterior(split, {})
    assert marginals[split.index["f"]][1] == pytest.approx(expected, abs=1e-14)
    assert max(len(family.parents) for family in split.families) == 4


def test_narrow_families_are_left_alone() -> None:
    network = wide(3)
    assert divorce(network).names == network.names
    assert np.allclose(
        full_table(divorce(network).families[-1])[..., 1], noisy_or_table(0.01, [0.1, 0.15, 0.2])
    )


def test_a_name_already_taken_is_avoided() -> None:
    network = wide(5)
    taken = Network((*network.names[:4], f"f{MARK}1", "f"), network.states, network.families)
    assert len(set(divorce(taken, 2).names)) == len(divorce(taken, 2).names)


def test_one_parent_at_a_time_cannot_be_asked_for() -> None:
    with pytest.raises(ValueError, match="two parents"):
        divorce(named([2], wide(0).families), max_parents=1)
