"""The hidden machine shows what the network says it shows, and keeps its noise across repairs."""

from __future__ import annotations

from collections import Counter
from itertools import product

import numpy as np
import pytest

from diagnose.network.build import build
from diagnose.network.engine import Engine
from diagnose.network.network import Network, NoisyMax, Table
from diagnose.network.observed import hard, one_hot
from diagnose.practice.world import draws_given_max, sample
from tests.network.builders import built_of
from tests.practice.small import BINARY, exercise, knowledge

CRITICAL = {1: 10.83, 2: 13.82, 3: 16.27, 5: 20.52, 7: 24.32}
"""Chi-square exceeded once in a thousand, by degrees of freedom (standard table, from memory)."""


def chi_square(counts: Counter[object], expected: dict[object, float]) -> float:
    drawn = sum(counts.values())
    return sum((counts[k] - drawn * p) ** 2 / (drawn * p) for k, p in expected.items() if p > 0)


@pytest.mark.parametrize(
    ("cause", "finding"), [("pump_worn", "rail_pressure"), ("seal_out", "pressure_code")]
)
def test_results_follow_the_network_given_causes_and_first_findings(cause: str, finding: str) -> None:
    built = build(knowledge(), exercise().case().machine)
    network = built.network
    seen = hard(network, {"no_start": "present"})
    settled = {v: one_hot(2, int(network.names[v] == cause)) for v in map(built.variable, built.causes)}
    others = {v: one_hot(2, 0) for v in built.others.values()}
    exact = Engine(network, {**seen, **settled, **others}).marginal(network.index[finding])
    rng = np.random.default_rng(5)
    counts = Counter[object](
        sample(built, [built.variable(cause)], seen, rng).shows(finding) for _ in range(600)
    )
    expected: dict[object, float] = dict(
        zip(network.states[network.index[finding]], map(float, exact), strict=True)
    )
    assert chi_square(counts, expected) < CRITICAL[len(exact) - 1]


def test_contributions_given_their_largest_follow_enumeration() -> None:
    rows = [np.array([0.7, 0.2, 0.1]), np.array([0.5, 0.3, 0.2]), np.array([0.9, 0.05, 0.05])]
    weights = {
        shares: float(np.prod([row[s] for row, s in zip(rows, shares, strict=True)]))
        for shares in product(range(3), repeat=3)
        if max(shares) == 1
    }
    expected: dict[object, float] = {shares: w / sum(weights.values()) for shares, w in weights.items()}
    rng = np.random.default_rng(3)
    counts = Counter[object]()
    for _ in range(4000):
        draws = draws_given_max(rows, 1, rng)
        counts[tuple(int(np.searchsorted(np.cumsum(r), u)) for r, u in zip(rows, draws, strict=True))] += 1
    assert set(counts) <= set(expected)
    assert len(expected) - 1 == 6
    assert chi_square(counts, expected) < 22.46  # six degrees of freedom, the same table


def test_complaint_persists_as_often_as_the_worked_repair_example_says() -> None:
    """A .10, B .04, links .9 and .7, leak .02, complaint seen, A replaced for sure: it persists with probability
    .356235319561 when the noise stays (tests/oracles, worked by enumeration and in closed form)."""
    link = [np.array([[1.0, 0.0], [1 - w, w]]) for w in (0.9, 0.7)]
    families = (
        Table((), np.array([0.9, 0.1])),
        Table((), np.array([0.96, 0.04])),
        NoisyMax((0, 1), np.array([0.98, 0.02]), tuple(link)),
    )
    network = Network(("A", "B", "C"), (BINARY,) * 3, families)
    built = built_of(network, ("A", "B"))
    engine = Engine(network, hard(network, {"C": "present"}))
    rows = [{0: a, 1: b} for a in (0, 1) for b in (0, 1)]
    chances, rng, persists, draws = engine.given(rows, ())[0], np.random.default_rng(8), 0.0, 1500
    for row, chance in zip(rows, chances, strict=True):
        present = [v for v, s in row.items() if s]
        stays = 0
        for _ in range(draws):
            world = sample(built, present, hard(network, {"C": "present"}), rng)
            assert not world.normal("C")
            world.remove(["A"])
            stays += not world.normal("C")
        persists += float(chance) * stays / draws
    assert persists == pytest.approx(0.356235319561, abs=4 * 0.5 * float(np.sqrt((chances**2).sum() / draws)))


def test_same_seed_same_machine() -> None:
    built = build(knowledge(), exercise().case().machine)
    seen = hard(built.network, {"no_start": "present"})
    worn = [built.variable("pump_worn")]
    one, two = (sample(built, worn, seen, np.random.default_rng(4)).states for _ in range(2))
    assert one == two
