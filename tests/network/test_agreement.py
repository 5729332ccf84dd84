"""The engine against enumeration, pgmpy and pyAgrum on networks that nobody picked."""

from __future__ import annotations

from itertools import combinations
from math import exp, log

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.network.engine import Engine, posterior
from diagnose.network.network import Array, Network
from diagnose.network.observed import ImpossibleEvidence
from diagnose.network.pgmpy_bridge import second_opinion
from tests.network.bruteforce import enumerate_posterior, joint
from tests.network.random_networks import cases, networks, random_evidence, random_network
from tests.oracles.peers import agrum_posterior

TOLERANCE = 1e-9
RAREST = 1e-11
"""Results rarer than this are not asked about; above it, digits may go as 1 / P(result), for some results are
found by subtraction. What is then lost weighs as little in any expected value as the result itself."""

Case = tuple[Network, dict[int, Array]]


@settings(max_examples=200, deadline=None, derandomize=True)
@given(cases())
def test_posteriors_equal_enumeration(case: Case) -> None:
    network, evidence = case
    expected, total = enumerate_posterior(network, evidence)
    assume(total > 0)
    answer = posterior(network, evidence)
    assert answer.log_probability == pytest.approx(log(total), abs=TOLERANCE)
    for variable, marginal in enumerate(expected):
        np.testing.assert_allclose(answer.marginals[variable], marginal, rtol=0, atol=TOLERANCE)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(cases())
def test_evidence_is_refused_exactly_when_enumeration_finds_it_impossible(case: Case) -> None:
    network, evidence = case
    if enumerate_posterior(network, evidence)[1] > 0:
        assert np.isfinite(posterior(network, evidence, []).log_probability)
        return
    with pytest.raises(ImpossibleEvidence) as caught:
        posterior(network, evidence)
    named = {network.index[name]: evidence[network.index[name]] for name in caught.value.names}
    assert enumerate_posterior(network, named)[1] == 0
    for left_out in named:
        rest = {variable: row for variable, row in named.items() if variable != left_out}
        assert enumerate_posterior(network, rest)[1] > 0


@settings(max_examples=150, deadline=None, derandomize=True)
@given(cases(max_variables=6), st.data())
def test_every_result_of_a_check_equals_enumeration(case: Case, data: st.DataObject) -> None:
    """`Engine.outcomes`: the probability of each joint result, and the causes given it."""
    network, evidence = case
    assume(enumerate_posterior(network, evidence)[1] > 0)
    everything = range(len(network.names))
    item = tuple(data.draw(st.lists(st.sampled_from(everything), min_size=1, max_size=2, unique=True)))
    causes = [variable for variable in everything if not network.parents(variable)]
    (outcome,) = Engine(network, evidence).outcomes([item], causes)
    for result in np.ndindex(*(network.cards[v] for v in item)):
        chance, given_result = result_by_enumeration(network, evidence, dict(zip(item, result, strict=True)))
        assert outcome.probabilities[result] == pytest.approx(chance, abs=TOLERANCE)
        if chance > RAREST:
            present = [1 - given_result[cause][0] for cause in causes]
            allowed = max(TOLERANCE, 1e-14 / chance)
            np.testing.assert_allclose(outcome.causes[result], present, rtol=0, atol=allowed)


def result_by_enumeration(
    network: Network, evidence: dict[int, Array], result: dict[int, int]
) -> tuple[float, tuple[Array, ...]]:
    """P(result | evidence) and every marginal given both."""
    seen = {variable: np.asarray(row) for variable, row in evidence.items()}
    for variable, state in result.items():
        row = np.eye(network.cards[variable])[state]
        seen[variable] = seen[variable] * row if variable in seen else row
    marginals, both = enumerate_posterior(network, seen)
    return both / enumerate_posterior(network, evidence)[1], marginals


@settings(max_examples=50, deadline=None, derandomize=True)
@given(networks())
def test_enumeration_itself_sums_to_one(network: Network) -> None:
    assert joint(network).sum() == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_posteriors_equal_pyagrum_on_random_networks(seed: int) -> None:
    network = random_network(seed)
    evidence = random_evidence(seed + 100, network)
    expected, total = agrum_posterior(network, evidence)
    answer = posterior(network, evidence)
    assert exp(answer.log_probability) == pytest.approx(total, rel=TOLERANCE)
    for variable, marginal in enumerate(expected):
        np.testing.assert_allclose(answer.marginals[variable], marginal, rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("seed", range(4))
def test_posteriors_equal_pgmpy_on_random_networks(seed: int) -> None:
    network = random_network(seed, count=12)
    evidence = random_evidence(seed + 200, network)
    targets = range(0, len(network.names), 2)
    opinion = second_opinion(network, evidence, targets)
    answer = posterior(network, evidence)
    assert answer.log_probability == pytest.approx(opinion.log_probability, abs=TOLERANCE)
    for target in targets:
        np.testing.assert_allclose(
            answer.marginals[target], opinion.marginals[target], rtol=0, atol=TOLERANCE
        )


@pytest.mark.parametrize("seed", range(3))
def test_joint_results_of_two_findings_equal_pyagrum(seed: int) -> None:
    network = random_network(seed, count=14)
    evidence = random_evidence(seed + 300, network, hard=2, virtual=1)
    roots = [variable for variable in range(len(network.names)) if not network.parents(variable)]
    pairs = list(combinations([v for v in range(len(network.names)) if v not in evidence], 2))[::9]
    base = agrum_posterior(network, evidence)[1]
    for pair, outcome in zip(pairs, Engine(network, evidence).outcomes(pairs, roots), strict=True):
        for result in np.ndindex(*outcome.probabilities.shape):
            seen = {v: np.eye(network.cards[v])[state] for v, state in zip(pair, result, strict=True)}
            marginals, total = agrum_posterior(network, evidence | seen)
            assert outcome.probabilities[result] == pytest.approx(total / base, abs=TOLERANCE)
            present = [1 - marginals[root][0] for root in roots]
            np.testing.assert_allclose(outcome.causes[result], present, rtol=0, atol=TOLERANCE)
