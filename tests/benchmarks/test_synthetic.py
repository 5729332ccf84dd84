"""The benchmark's networks and references are what they claim to be, and the engine is right on them."""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from diagnose.network.engine import Engine, posterior
from diagnose.network.network import Network
from tests.benchmarks import synthetic as made
from tests.benchmarks.bench_engine import agrum_engine, agrum_outcomes, agrum_present, information
from tests.benchmarks.subset_recursion import two_layer_posterior
from tests.network.bruteforce import enumerate_posterior
from tests.network.builders import Sketch
from tests.oracles.peers import to_agrum


def links(network: Network) -> int:
    return sum(len(family.parents) for family in network.families)


def test_size_of_the_knowledge_network() -> None:
    synthetic = made.knowledge_network()
    assert (len(synthetic.causes), len(synthetic.findings), len(synthetic.network.names)) == (168, 408, 648)
    assert 1450 <= links(synthetic.network) <= 1550
    assert max(len(family.parents) for family in synthetic.network.families) == 8
    assert all(not synthetic.network.parents(cause) for cause in synthetic.causes)


def test_size_of_the_two_layer_network() -> None:
    synthetic = made.two_layer_network()
    assert (len(synthetic.causes), len(synthetic.findings), links(synthetic.network)) == (534, 4040, 40_740)


def test_a_case_has_several_faults_and_mixed_findings() -> None:
    synthetic = made.knowledge_network()
    case = made.sample_case(synthetic, seed=2)
    assert len(case.faults) >= 2
    assert sorted(int(row[1]) for row in case.evidence.values()) == [0] * 6 + [1] * 6
    assert set(case.evidence) <= set(synthetic.findings)


def test_the_same_seed_gives_the_same_case() -> None:
    synthetic = made.knowledge_network()
    first, second = (made.sample_case(synthetic, seed=2) for _ in range(2))
    assert list(first.evidence) == list(second.evidence)
    assert first.faults == second.faults


def small_two_layer() -> Network:
    sketch = Sketch().root("a", 0.02).root("b", 0.1).root("c", 0.05).root("d", 0.2)
    sketch.noisy_or("f", 0.01, {"a": 0.9, "b": 0.3}).noisy_or("g", 0.0, {"a": 0.8, "c": 0.6, "d": 0.1})
    return sketch.noisy_or("h", 0.05, {"b": 0.5, "d": 0.4}).noisy_or("i", 0.02, {"c": 0.7}).network()


@pytest.mark.parametrize("seen", [{4: 1}, {4: 1, 5: 1, 6: 0}, {4: 1, 5: 1, 6: 1, 7: 0}, {6: 0, 7: 0}])
def test_subset_recursion_equals_enumeration(seen: dict[int, int]) -> None:
    network = small_two_layer()
    evidence = {variable: np.eye(2)[state] for variable, state in seen.items()}
    expected, total = enumerate_posterior(network, evidence)
    got, log_probability = two_layer_posterior(network, evidence)
    assert log_probability == pytest.approx(log(total), abs=1e-13)
    assert got == {cause: pytest.approx(expected[cause][1], abs=1e-13) for cause in got}


@pytest.mark.parametrize("positives", [6, 9, 12])
def test_engine_equals_subset_recursion_on_the_large_two_layer_network(positives: int) -> None:
    synthetic = made.two_layer_network()
    evidence = made.two_layer_case(synthetic, seed=3, positives=positives).evidence
    expected, log_probability = two_layer_posterior(synthetic.network, evidence)
    answer = posterior(synthetic.network, evidence, list(expected))
    assert answer.log_probability == pytest.approx(log_probability, abs=1e-9)
    got = {cause: float(answer.marginals[cause][1]) for cause in expected}
    assert got == {cause: pytest.approx(value, abs=1e-9) for cause, value in expected.items()}


@pytest.mark.parametrize("seed", [0, 3])
def test_engine_equals_pyagrum_on_the_knowledge_network(seed: int) -> None:
    synthetic = made.knowledge_network()
    network, causes = synthetic.network, synthetic.causes
    evidence = made.sample_case(synthetic, seed).evidence
    net = to_agrum(network)
    answer = posterior(network, evidence, causes)
    got = [answer.marginals[cause][1] for cause in causes]
    expected = agrum_present(agrum_engine(net, evidence, causes), causes)
    np.testing.assert_allclose(got, expected, rtol=0, atol=1e-9)
    findings = [finding for finding in synthetic.findings if finding not in evidence][::80]
    outcomes = Engine(network, evidence).outcomes([(finding,) for finding in findings], causes)
    for outcome, rows in zip(outcomes, agrum_outcomes(net, evidence, findings, causes), strict=True):
        np.testing.assert_allclose(outcome.causes, rows, rtol=0, atol=1e-9)
        np.testing.assert_allclose(outcome.probabilities @ rows, expected, rtol=0, atol=1e-9)
        assert information(outcome) >= -1e-12
