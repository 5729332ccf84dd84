"""Weights of evidence: published worked numbers, the chain rule, and enumeration."""

from __future__ import annotations

from collections.abc import Sequence
from math import log, log10
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings

from diagnose.network.engine import Engine
from diagnose.network.messages import Beliefs
from diagnose.network.network import Array, Network
from diagnose.network.weighing import DECIBANS, Masks, States, Weighing, story, weigh
from tests.explaining.asia import engine
from tests.network.bruteforce import enumerate_posterior
from tests.network.random_networks import cases
from tests.oracles.peers import worked


def near(value: float) -> Any:
    return pytest.approx(value, rel=0, abs=1e-8)


def asked(evidence: dict[str, str]) -> tuple[Weighing, list[int]]:
    asked = engine(evidence)
    network = asked.network
    return Weighing(asked, [network.index[name] for name in evidence]), [network.index["lung"]]


BOTH = {"xray": "yes", "dysp": "yes"}


def test_the_weight_of_a_shadow_on_the_x_ray_for_lung_cancer() -> None:
    oracle = worked()["weights"]
    found = weigh(*asked(BOTH))
    assert found.alone[0, 0] == near(oracle["xray_decibans"])
    assert found.alone[0, 0] / DECIBANS == near(oracle["xray_ln"])


def test_weights_in_turn_sum_to_the_weight_of_all_and_those_alone_do_not() -> None:
    oracle = worked()["weights"]
    weighing, lung = asked(BOTH)
    steps = np.diff(story(weighing, lung)[:, 0])
    assert steps[0] == near(oracle["xray_decibans"])
    assert steps.sum() / DECIBANS == near(oracle["both_ln"])
    assert weigh(weighing, lung).alone.sum() / DECIBANS == near(log(16.4231130178) + log(1.9677998667))
    assert weigh(weighing, lung).alone.sum() / DECIBANS - oracle["both_ln"] > 0.1


def test_given_the_rest_is_the_last_step_of_the_order_that_ends_with_it() -> None:
    weighing, lung = asked(BOTH)
    other, _ = asked({"dysp": "yes", "xray": "yes"})
    given_rest = weigh(weighing, lung).weights[:, 0]
    assert given_rest[1] == near(float(np.diff(story(weighing, lung)[:, 0])[-1]))
    assert given_rest[0] == near(float(np.diff(story(other, lung)[:, 0])[-1]))


@pytest.mark.parametrize("row", worked()["conflict"]["rows"], ids=lambda row: "+".join(row["evidence"]))
def test_conflict_of_findings(row: dict[str, Any]) -> None:
    assert weigh(*asked(row["evidence"])).conflict == near(row["bits"])


Case = tuple[Network, dict[int, Array]]


def by_enumeration(case: Case, kept: list[int], cause: int) -> float:
    network, evidence = case
    marginals, _ = enumerate_posterior(network, {v: evidence[v] for v in kept})
    present = float(1 - marginals[cause][0])
    return 10 * log10(present / (1 - present))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(cases())
def test_every_step_is_a_ratio_of_enumerated_odds(case: Case) -> None:
    network, evidence = case
    assume(evidence and enumerate_posterior(network, evidence)[1] > 1e-9)
    items = list(evidence)
    free = [v for v in range(len(network.names)) if v not in evidence and not network.parents(v)]
    weighing = Weighing(Engine(network, evidence), items, free)
    odds = story(weighing, free)
    for column, cause in enumerate(free):
        for row in range(len(items) + 1):
            marginals, _ = enumerate_posterior(network, {v: evidence[v] for v in items[:row]})
            if 1e-9 < marginals[cause][0] < 1 - 1e-9:
                expected = by_enumeration(case, items[:row], cause)
                assert odds[row, column] == pytest.approx(expected, abs=1e-5)


class Singly(Weighing):
    """One engine for each subset of the items."""

    def run(self, masks: Masks, targets: Sequence[int], holding: Sequence[States] = ()) -> Beliefs:
        logs, evidence = np.full(len(masks), -np.inf), self._engine.evidence
        marginals = {v: np.zeros((self.network.cards[v], len(masks))) for v in targets}
        for row, mask in enumerate(masks):
            kept = {item: evidence[item] for item, counts in zip(self.items, mask, strict=True) if counts}
            one = Engine(self.network, kept)
            logs[row] = one.log_probability
            for variable, marginal in one.marginals(targets).items():
                marginals[variable][:, row] = marginal
        return Beliefs(logs, marginals)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(cases())
def test_one_engine_for_each_subset_says_the_same_as_one_tree(case: Case) -> None:
    network, evidence = case
    assume(enumerate_posterior(network, evidence)[1] > 1e-9)
    items = list(evidence)
    free = [v for v in range(len(network.names)) if v not in evidence and not network.parents(v)]
    together = weigh(Weighing(Engine(network, evidence), items, free), free)
    singly = weigh(Singly(Engine(network, evidence), items, free), free)
    np.testing.assert_allclose(singly.weights, together.weights, atol=1e-4)
    np.testing.assert_allclose(singly.strange, together.strange, atol=1e-6)
    assert singly.conflict == pytest.approx(together.conflict, abs=1e-6)
