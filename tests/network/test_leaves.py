"""Causes with one effect are summed into its hub: against enumeration, whatever is held, doubted or certain."""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from diagnose.network import buckets
from diagnose.network.engine import Engine
from diagnose.network.network import Array, Network
from diagnose.network.observed import held
from tests.network.bruteforce import enumerate_posterior
from tests.network.builders import Sketch

NAMES = ("pump", "filter", "wire", "relay", "sensor")


def network() -> Network:
    sketch = Sketch()
    for number, name in enumerate(NAMES):
        sketch = sketch.root(name, 0.03 + 0.05 * number)
    return (
        sketch.noisy_or("low", 0.01, {"pump": 0.7, "filter": 1.0, "wire": 0.4, "relay": 0.3, "sensor": 0.9})
        .noisy_or("code", 0.02, {"low": 0.6, "sensor": 0.8})
        .network()
    )


def test_a_cause_with_one_effect_has_no_bucket_and_one_with_two_has() -> None:
    net = network()
    tree = Engine(net, {net.index["code"]: np.array([0.0, 1.0])}).tree
    assert not tree.rank.keys() & {net.index[name] for name in NAMES[:4]}
    assert net.index["sensor"] in tree.rank


@pytest.mark.parametrize("state", [0, 1])
def test_marginals_equal_enumeration(state: int) -> None:
    net = network()
    evidence: dict[int, Array] = {
        net.index["code"]: np.eye(2)[state],
        net.index["wire"]: np.array([1.0, 3.0]),
    }
    expected, total = enumerate_posterior(net, evidence)
    engine = Engine(net, evidence)
    assert engine.log_probability == pytest.approx(log(total), abs=1e-12)
    for variable in range(len(net.names)):
        np.testing.assert_allclose(engine.marginal(variable), expected[variable], rtol=0, atol=1e-12)


def test_held_leaves_equal_enumeration() -> None:
    """Also one that brings its effect for certain, and several of one hub at once."""
    net = network()
    evidence = {net.index["code"]: np.array([0.0, 1.0])}
    rows = [{}, {"filter": 1}, {"filter": 0}, {"pump": 1, "filter": 1}, {"pump": 0, "wire": 0, "relay": 1}]
    places = [{net.index[name]: state for name, state in row.items()} for row in rows]
    engine = Engine(net, evidence)
    found = engine.tree.run(held(places, net.cards), range(len(NAMES)), len(rows))
    for column, row in enumerate(places):
        both = evidence | {v: np.eye(2)[state] for v, state in row.items()}
        expected, total = enumerate_posterior(net, both)
        assert found.log_probability[column] == pytest.approx(log(total), abs=1e-12)
        for v in range(len(NAMES)):
            np.testing.assert_allclose(found.marginals[v][:, column], expected[v], rtol=0, atol=1e-12)


def test_each_part_of_a_batch_has_its_own_weights(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut into parts of one row each, a batch says of every row what that row says alone."""
    net = network()
    engine = Engine(net, {net.index["code"]: np.array([0.0, 1.0])})
    rows = [{net.index["pump"]: 1}, {net.index["sensor"]: 0}, {net.index["sensor"]: 1, net.index["low"]: 0}]
    monkeypatch.setattr(buckets, "CHUNK", 1)
    together = engine.tree.run(held(rows, net.cards), range(len(NAMES)), len(rows))
    for column, row in enumerate(rows):
        alone = engine.tree.run(held([row], net.cards), range(len(NAMES)))
        assert together.log_probability[column] == pytest.approx(alone.log_probability[0], abs=1e-12)
        for v in range(len(NAMES)):
            np.testing.assert_allclose(together.marginals[v][:, column], alone.marginals[v][:, 0], atol=1e-12)


def test_what_is_very_unlikely_keeps_its_digits() -> None:
    """Two hundred causes of one in a million against the closed form of a noisy-OR with one finding,
    P(cause | shown) = prior (1 - (1 - s) rest) / (1 - all), where `rest` is that nothing else shows it."""
    sketch, prior = Sketch(), 1e-6
    strengths = {f"c{n}": 0.1 + 0.004 * n for n in range(200)}
    for name in strengths:
        sketch = sketch.root(name, prior)
    net = sketch.noisy_or("shown", 1e-9, strengths).network()
    engine = Engine(net, {net.index["shown"]: np.array([0.0, 1.0])})
    logs = {name: np.log1p(-prior * s) for name, s in strengths.items()}
    total = sum(logs.values()) + np.log1p(-1e-9)
    for name, s in strengths.items():
        rest = -np.expm1(total - logs[name])
        exact = prior * (s + (1 - s) * rest) / -np.expm1(total)
        assert float(engine.marginal(net.index[name])[1]) == pytest.approx(exact, rel=1e-9)
