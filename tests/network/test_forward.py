"""Machines drawn many at once: against exact marginals, and what each state is owed to against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from diagnose.network.engine import Engine
from diagnose.network.forward import Herd, background, behind, herd
from diagnose.network.network import Network, NoisyMax, Table
from tests.network.builders import BINARY, Sketch

MANY = 40_000
SIGMAS = 4.5
"""Exceeded about seven times in a million by one count."""

ORDERED = ("none", "some", "much")


def drawn(network: Network, events: set[str], many: int = MANY, seed: int = 1) -> Herd:
    return herd(network, many, np.random.default_rng(seed), {network.index[name] for name in events})


def close(share: float, exact: float, many: int = MANY) -> bool:
    return abs(share - exact) <= SIGMAS * math.sqrt(max(exact * (1 - exact), 1e-12) / many)


def gated() -> Network:
    """A fact of three values; what hangs on it; a cause that is there only with one of its values; an ordered
    condition of both; a table over it and a fact."""
    names = ("fact", "worn", "loose@arises", "loose@open", "loose", "starved", "stalls")
    states = (ORDERED, BINARY, BINARY, BINARY, BINARY, ORDERED, BINARY)
    link = np.array([[1.0, 0.0, 0.0], [0.3, 0.5, 0.2]])
    other = np.array([[1.0, 0.0, 0.0], [0.4, 0.1, 0.5]])
    gate = np.zeros((3, 2, 2))
    gate[:, 0, 0] = gate[0, 1, 0] = 1.0
    gate[1:, 1, 1] = 1.0
    shown = np.array([[0.95, 0.4, 0.1], [0.9, 0.3, 0.2], [0.8, 0.5, 0.05]])
    families = (
        Table((), np.array([0.5, 0.3, 0.2])),
        Table((0,), np.array([[0.9, 0.1], [0.7, 0.3], [0.6, 0.4]])),
        Table((0,), np.array([[0.8, 0.2], [0.95, 0.05], [0.7, 0.3]])),
        NoisyMax((2, 1), np.array([1.0, 0.0]), (np.eye(2), np.array([[1.0, 0.0], [0.5, 0.5]]))),
        Table((0, 3), gate),
        NoisyMax((1, 4), np.array([0.9, 0.07, 0.03]), (link, other)),
        Table((0, 5), np.stack([shown, 1 - shown], axis=-1)),
    )
    return Network(names, states, families)


EVENTS = {"worn", "loose", "starved", "stalls"}


def test_states_follow_the_exact_marginals() -> None:
    network = gated()
    states = drawn(network, EVENTS).states
    engine = Engine(network, {})
    for v, card in enumerate(network.cards):
        shares = np.bincount(states[v], minlength=card) / MANY
        for share, exact in zip(shares, engine.marginal(v), strict=True):
            assert close(float(share), float(exact)), network.names[v]


def test_pairs_follow_the_exact_conditionals() -> None:
    """Marginals alone would let parents and children be drawn apart."""
    network = gated()
    states = drawn(network, EVENTS).states
    stalls, loose = network.index["stalls"], network.index["loose"]
    rows = np.flatnonzero(states[stalls] == 1)
    exact = Engine(network, {stalls: np.array([0.0, 1.0])}).marginal(loose)
    assert close(float((states[loose, rows] == 1).mean()), float(exact[1]), len(rows))


def test_facts_are_background_and_ways_to_an_event_are_not() -> None:
    network = gated()
    events = {network.index[name] for name in EVENTS}
    assert {network.names[v] for v in background(network, events)} == {"fact", "loose@arises"}


def test_what_arises_behind_a_gate_arose_of_itself() -> None:
    """P(loose of itself): summed over the values of the fact that open the gate; through worn: with worn there."""
    network = gated()
    found = drawn(network, EVENTS)
    loose, worn = network.index["loose"], network.index["worn"]
    of_itself = 0.3 * 0.05 + 0.2 * 0.3
    assert close(float(found.own[loose].mean()), of_itself)
    only_loose = np.flatnonzero((found.states[loose] > 0) & (found.states[worn] == 0))
    assert found.own[loose, only_loose].all()
    by_worn = behind(found, [loose])[worn]
    assert close(float(by_worn.mean()), 0.3 * 0.3 * 0.5 + 0.2 * 0.4 * 0.5)


def test_nothing_is_blamed_on_a_fact() -> None:
    network = gated()
    blamed = behind(drawn(network, EVENTS), [network.index["stalls"], network.index["loose"]])
    assert not blamed[network.index["fact"]].any()
    assert not blamed[network.index["loose@arises"]].any()


def test_the_smaller_contribution_is_not_blamed() -> None:
    """`some` from A and `much` from B: much is owed to B alone; without B it is owed to A."""
    some, much = np.array([[1.0, 0, 0], [0, 1.0, 0]]), np.array([[1.0, 0, 0], [0, 0, 1.0]])
    families = (
        Table((), np.array([0.5, 0.5])),
        Table((), np.array([0.5, 0.5])),
        NoisyMax((0, 1), np.array([1.0, 0.0, 0.0]), (some, much)),
    )
    found = drawn(Network(("A", "B", "E"), (BINARY, BINARY, ORDERED), families), {"A", "B", "E"}, 1000)
    a, b, e = found.states
    blamed = behind(found, [2])
    assert np.array_equal(blamed[1], b == 1)
    assert np.array_equal(blamed[0], (a == 1) & (b == 0))
    assert np.array_equal(e, np.maximum(a, 2 * b))
    assert not found.own[2].any()


def test_two_that_are_needed_together_are_both_behind() -> None:
    network = Sketch().root("A", 0.5).root("B", 0.5).table("both", ["A", "B"], [[0, 0], [0, 1]]).network()
    found = drawn(network, {"A", "B", "both"}, 1000)
    blamed, both = behind(found, [2]), found.states[2] == 1
    assert both.any()
    assert np.array_equal(blamed[0], both)
    assert np.array_equal(blamed[1], both)


def test_either_of_two_are_both_behind_where_both_are_there() -> None:
    network = Sketch().root("A", 0.5).root("B", 0.5).table("either", ["A", "B"], [[0, 1], [1, 1]]).network()
    found = drawn(network, {"A", "B", "either"}, 1000)
    blamed = behind(found, [2])
    assert np.array_equal(blamed[:2], found.states[:2] == 1)


@pytest.mark.parametrize("seed", [3, 4])
def test_the_same_seed_draws_the_same_machines(seed: int) -> None:
    network = gated()
    one, two = (drawn(network, EVENTS, 500, seed) for _ in range(2))
    assert np.array_equal(one.states, two.states)
