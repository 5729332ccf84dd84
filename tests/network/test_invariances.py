"""What must not change an answer: order, names, scale, company. No outside number is needed for these."""

from __future__ import annotations

from math import log
from random import Random

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.network.divorce import divorce, renumbered
from diagnose.network.engine import Engine, Posterior, posterior
from diagnose.network.network import Array, Family, Network, NoisyMax, Table
from diagnose.network.observed import ImpossibleEvidence, hard
from tests.network.random_networks import cases, random_evidence, random_network

Case = tuple[Network, dict[int, Array]]
common = settings(max_examples=60, deadline=None, derandomize=True)


def answer_or_skip(network: Network, evidence: dict[int, Array]) -> Posterior:
    try:
        return posterior(network, evidence)
    except ImpossibleEvidence:
        assume(False)
        raise


def assert_same(first: Posterior, second: Posterior) -> None:
    assert first.log_probability == pytest.approx(second.log_probability, abs=1e-9)
    for variable, marginal in first.marginals.items():
        np.testing.assert_allclose(second.marginals[variable], marginal, rtol=0, atol=1e-10)


@common
@given(cases())
def test_marginals_are_distributions(case: Case) -> None:
    for marginal in answer_or_skip(*case).marginals.values():
        assert marginal.sum() == pytest.approx(1.0, abs=1e-12)
        assert (marginal >= 0).all()


@common
@given(cases(), st.randoms(use_true_random=False))
def test_order_of_evidence(case: Case, random: Random) -> None:
    network, evidence = case
    first = answer_or_skip(network, evidence)
    shuffled = list(evidence.items())
    random.shuffle(shuffled)
    assert_same(first, posterior(network, dict(shuffled)))


@common
@given(cases(), st.data())
def test_permuting_and_renaming_variables(case: Case, data: st.DataObject) -> None:
    network, evidence = case
    first = answer_or_skip(network, evidence)
    wish = data.draw(st.permutations(range(len(network.names))))
    order = parents_first(network, wish)
    moved, number = permuted(network, order)
    second = posterior(moved, {number[variable]: row for variable, row in evidence.items()})
    assert second.log_probability == pytest.approx(first.log_probability, abs=1e-9)
    for variable, marginal in first.marginals.items():
        np.testing.assert_allclose(second.marginals[number[variable]], marginal, rtol=0, atol=1e-10)


def parents_first(network: Network, wish: list[int]) -> list[int]:
    """The wished order, each variable put off until its parents stand."""
    order: list[int] = []
    waiting = list(wish)
    while waiting:
        ready = next(v for v in waiting if set(network.parents(v)) <= set(order))
        order.append(ready)
        waiting.remove(ready)
    return order


def permuted(network: Network, order: list[int]) -> tuple[Network, dict[int, int]]:
    number = {old: new for new, old in enumerate(order)}
    families = tuple(renumbered(network.families[old], number) for old in order)
    names = tuple(f"other {new}" for new in range(len(order)))
    return Network(names, tuple(network.states[old] for old in order), families), number


@common
@given(cases(), st.data())
def test_order_of_parents(case: Case, data: st.DataObject) -> None:
    network, evidence = case
    first = answer_or_skip(network, evidence)
    families = tuple(
        with_parents_in(family, data.draw(st.permutations(range(len(family.parents)))))
        for family in network.families
    )
    assert_same(first, posterior(Network(network.names, network.states, families), evidence))


def with_parents_in(family: Family, order: list[int]) -> Family:
    parents = tuple(family.parents[place] for place in order)
    if isinstance(family, Table):
        return Table(parents, family.values.transpose([*order, len(order)]))
    return NoisyMax(parents, family.leak, tuple(family.links[place] for place in order))


@common
@given(cases(), st.floats(1e-6, 1e6))
def test_scaling_a_likelihood_only_scales_its_probability(case: Case, factor: float) -> None:
    network, evidence = case
    first = answer_or_skip(network, evidence)
    second = posterior(network, {variable: row * factor for variable, row in evidence.items()})
    shift = log(factor) * len(evidence)
    assert second.log_probability == pytest.approx(first.log_probability + shift, abs=1e-9)
    for variable, marginal in first.marginals.items():
        np.testing.assert_allclose(second.marginals[variable], marginal, rtol=0, atol=1e-10)


@common
@given(cases())
def test_a_likelihood_that_says_nothing(case: Case) -> None:
    network, evidence = case
    first = answer_or_skip(network, evidence)
    nothing = {v: np.ones(card) for v, card in enumerate(network.cards) if v not in evidence}
    assert_same(first, posterior(network, evidence | nothing))


@common
@given(cases())
def test_evidence_told_twice_as_two_halves(case: Case) -> None:
    """A likelihood is the product of its parts: told in square roots by two copies of the variable."""
    network, evidence = case
    first = answer_or_skip(network, evidence)
    copies, seen = network, {}
    for variable, row in evidence.items():
        for _ in range(2):
            seen[len(copies.names)] = np.sqrt(row)
            copies = with_copy(copies, variable)
    second = posterior(copies, seen)
    assert second.log_probability == pytest.approx(first.log_probability, abs=1e-9)
    for variable, marginal in first.marginals.items():
        np.testing.assert_allclose(second.marginals[variable], marginal, rtol=0, atol=1e-10)


def with_copy(network: Network, variable: int) -> Network:
    copy = Table((variable,), np.eye(network.cards[variable]))
    name = f"copy {len(network.names)}"
    return Network(
        (*network.names, name), (*network.states, network.states[variable]), (*network.families, copy)
    )


@common
@given(cases())
def test_withdrawing_evidence_leaves_no_trace(case: Case) -> None:
    network, evidence = case
    assume(evidence)
    without = dict(list(evidence.items())[:-1])
    first = answer_or_skip(network, without)
    before = {variable: row.copy() for variable, row in evidence.items()}
    answer_or_skip(network, evidence)
    assert_same(first, posterior(network, without))
    for variable, row in before.items():
        np.testing.assert_array_equal(evidence[variable], row)


@common
@given(cases())
def test_targets_alone_equal_all_at_once(case: Case) -> None:
    network, evidence = case
    everything = answer_or_skip(network, evidence)
    for variable, marginal in everything.marginals.items():
        alone = posterior(network, evidence, [variable])
        np.testing.assert_allclose(alone.marginals[variable], marginal, rtol=0, atol=1e-10)


@common
@given(cases())
def test_splitting_wide_families_changes_nothing(case: Case) -> None:
    network, evidence = case
    first = answer_or_skip(network, evidence)
    split = divorce(network, max_parents=2)
    number = [split.index[name] for name in network.names]
    second = posterior(split, {number[variable]: row for variable, row in evidence.items()})
    assert second.log_probability == pytest.approx(first.log_probability, abs=1e-9)
    for variable, marginal in first.marginals.items():
        np.testing.assert_allclose(second.marginals[number[variable]], marginal, rtol=0, atol=1e-10)


@common
@given(cases())
def test_chain_rule_of_the_evidence(case: Case) -> None:
    """P(evidence) is the product of what each observation was expected to be, given those before it."""
    network, evidence = case
    total = answer_or_skip(network, evidence).log_probability
    chained = 0.0
    before: dict[int, Array] = {}
    for variable, row in evidence.items():
        chained += log(float(posterior(network, before).marginals[variable] @ row))
        before[variable] = row
    assert chained == pytest.approx(total, abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_a_batch_of_results_equals_one_at_a_time(seed: int) -> None:
    network = random_network(seed, count=20)
    evidence = random_evidence(seed + 1, network)
    roots = [variable for variable in range(len(network.names)) if not network.parents(variable)]
    items = [(variable,) for variable in range(len(network.names)) if variable not in evidence]
    engine = Engine(network, evidence)
    for item, together in zip(items, engine.outcomes(items, roots), strict=True):
        (alone,) = engine.outcomes([item], roots)
        np.testing.assert_allclose(together.probabilities, alone.probabilities, rtol=0, atol=1e-12)
        np.testing.assert_allclose(together.causes, alone.causes, rtol=0, atol=1e-11)


@pytest.mark.parametrize("seed", range(5))
def test_a_result_foreseen_equals_the_result_seen(seed: int) -> None:
    network = random_network(seed, count=20)
    evidence = random_evidence(seed + 1, network)
    roots = [variable for variable in range(len(network.names)) if not network.parents(variable)]
    items = [(variable,) for variable in range(len(network.names)) if variable not in evidence]
    for (finding,), foreseen in zip(items, Engine(network, evidence).outcomes(items, roots), strict=True):
        for state in range(network.cards[finding]):
            seen = posterior(network, evidence | hard(network, {network.names[finding]: state}), roots)
            present = [1 - seen.marginals[root][0] for root in roots]
            np.testing.assert_allclose(foreseen.causes[state], present, rtol=0, atol=1e-9)
