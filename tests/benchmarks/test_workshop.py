"""What a repair does on a simulated machine, against the network's own account of it."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.network.history import Renewal
from diagnose.network.network import Network, NoisyMax, Table
from diagnose.practice.world import World
from tests.benchmarks.workshop import (
    brought_about,
    drawn,
    held_as_drawn,
    noise_of,
    renew,
    states_of,
)
from tests.network.builders import built_of

ROOT, WRECKED = 0, 1
WRECKS = 0.8


def machine(root: int) -> World:
    """A root that wrecks something with P = 0.8, which also arises of itself (0.1); it is wrecked."""
    link = np.array([[1.0, 0.0], [1 - WRECKS, WRECKS]])
    families = (Table((), np.array([0.5, 0.5])), NoisyMax((0,), np.array([0.9, 0.1]), (link,)))
    network = Network(("root", "wrecked"), (("absent", "present"),) * 2, families)
    return World(network, {ROOT: root, WRECKED: 1}, [np.array([0.5]), np.array([0.0, 0.0])])


def share_left(root: int, renewals: dict[str, Renewal], cause: str) -> float:
    random, found = np.random.default_rng(3), 0
    for _ in range(2000):
        world = machine(root)
        renew(world, renewals, random)
        found += not world.normal(cause)
    return found / 2000


def test_what_is_left_in_wrecks_the_new_part_and_its_own_arising_does_not() -> None:
    """1 - (1 - 0.8) and 0: by hand, from the noisy-OR without its leak."""
    assert brought_about(machine(1), "wrecked") == pytest.approx(WRECKS)
    assert brought_about(machine(0), "wrecked") == 0.0


def test_a_repair_of_the_consequence_alone() -> None:
    """P(there) = 1 - eff (1 - infant)(1 - 0.8) with the root in, 1 - eff (1 - infant) without it."""
    renewals = {"wrecked": Renewal(0.9, 0.1)}
    assert share_left(1, renewals, "wrecked") == pytest.approx(1 - 0.9 * 0.9 * 0.2, abs=0.03)
    assert share_left(0, renewals, "wrecked") == pytest.approx(1 - 0.9 * 0.9, abs=0.03)


def test_a_repair_of_the_root_leaves_what_it_wrecked() -> None:
    assert share_left(1, {"root": Renewal(1.0)}, "wrecked") == 1.0


def test_root_and_consequence_together_are_gone() -> None:
    """The root goes first, so nothing is left to wreck the new part."""
    assert share_left(1, {"wrecked": Renewal(1.0), "root": Renewal(1.0)}, "wrecked") == 0.0


def test_a_drawn_machine_follows_a_table_with_parents() -> None:
    """P(cause) = 0.7 * 0.1 + 0.3 * 0.8 = 0.31; what it wrecks 0.31 * 0.8 and no leak."""
    families = (
        Table((), np.array([0.7, 0.3])),
        Table((0,), np.array([[0.9, 0.1], [0.2, 0.8]])),
        NoisyMax((1,), np.array([1.0, 0.0]), (np.array([[1.0, 0.0], [1 - WRECKS, WRECKS]]),)),
    )
    network = Network(("fact", "cause", "wrecked"), (("absent", "present"),) * 3, families)
    built = built_of(network, ("cause", "wrecked"))
    random = np.random.default_rng(4)
    states = np.array([drawn(built, random).states for _ in range(4000)])
    assert states.mean(axis=0) == pytest.approx([0.3, 0.31, 0.248], abs=0.03)
    assert states[states[:, 0] == 1, 1].mean() == pytest.approx(0.8, abs=0.04)


def test_machines_drawn_at_once_are_those_drawn_one_by_one() -> None:
    families = (
        Table((), np.array([0.7, 0.3])),
        Table((0,), np.array([[0.5, 0.3, 0.2], [0.2, 0.2, 0.6]])),
        NoisyMax((1,), np.array([0.9, 0.1]), (np.array([[1.0, 0.0], [0.5, 0.5], [0.1, 0.9]]),)),
    )
    network = Network(("a", "b", "c"), (("0", "1"), ("0", "1", "2"), ("0", "1")), families)
    built = built_of(network, ())
    noise = noise_of(built, np.random.default_rng(7), 200)
    states = np.array(states_of(built, noise)).T
    assert [held_as_drawn(built, noise, one).states for one in range(200)] == states.tolist()
