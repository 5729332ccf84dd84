"""One cause against another: Bayes factors by enumeration, and which check tells them apart."""

from __future__ import annotations

from math import log2

import numpy as np
import pytest

from diagnose.diagnosis import Diagnosis
from diagnose.errors import CallError
from diagnose.explaining.contrast import Contrast, contrast
from diagnose.explaining.settling import separation, telling_findings
from diagnose.network.engine import Engine
from diagnose.network.network import Array, Network
from diagnose.network.weighing import MOST, Weighing, between
from tests.explaining.small import SEEN, diagnosed
from tests.network.bruteforce import enumerate_posterior
from tests.network.random_networks import random_evidence, random_network


def against(diagnosis: Diagnosis, one: str, other: str) -> Contrast:
    first, second = diagnosis.cause(one), diagnosis.cause(other)
    assert first
    assert second
    return contrast(diagnosis, first, second)


def chance(network: Network, evidence: dict[int, Array], held: dict[int, int]) -> float:
    """P(evidence and the variables held at these states), by listing every joint state."""
    rows = {v: np.eye(network.cards[v])[state] for v, state in held.items()}
    merged = {v: evidence.get(v, 1.0) * rows.get(v, 1.0) for v in {**evidence, **rows}}
    return enumerate_posterior(network, merged)[1]


@pytest.mark.parametrize("seed", range(12))
def test_what_each_finding_says_between_two_causes_equals_enumeration(seed: int) -> None:
    network = random_network(seed, count=7, max_card=2)
    evidence = random_evidence(seed, network)
    one, other = [v for v in range(len(network.names)) if v not in evidence][:2]
    mine, its = {one: 1, other: 0}, {one: 0, other: 1}
    items = list(evidence)
    found = between(Weighing(Engine(network, evidence), items, [one, other]), one, other)

    def odds(kept: list[int]) -> float:
        rest = {v: evidence[v] for v in kept}
        return 10 * float(np.log10(chance(network, rest, mine) / chance(network, rest, its)))

    assert found.before == pytest.approx(odds([]), abs=1e-6)
    assert found.now == pytest.approx(odds(items), abs=1e-6)
    for row, item in enumerate(items):
        assert found.in_turn[row] == pytest.approx(odds(items[: row + 1]) - odds(items[:row]), abs=1e-6)
        rest = odds([v for v in items if v != item])
        assert found.given_rest[row] == pytest.approx(odds(items) - rest, abs=1e-6)
    total = chance(network, evidence, {})
    both = chance(network, evidence, {one: 1, other: 1})
    assert found.together[1, 1] == pytest.approx(both / total, abs=1e-9)


def test_the_other_way_round_it_has_the_other_sign() -> None:
    diagnosis = diagnosed()
    there, back = against(diagnosis, "pump_worn", "seal_out"), against(diagnosis, "seal_out", "pump_worn")
    assert there.now == pytest.approx(-back.now)
    assert [one.given_rest for one in there.evidence] == pytest.approx(
        [-one.given_rest for one in back.evidence]
    )
    assert there.checks[0].question.check.id == back.checks[0].question.check.id


def test_what_both_bring_about_alike_does_not_decide_and_what_only_one_does_settles_it() -> None:
    """Both lower the pressure, 0.9 and 0.85; only the seal lets oil out at the bore, only the pump sheds metal."""
    found = against(diagnosed(), "pump_worn", "seal_out")
    assert all(abs(one.given_rest) < 1 for one in found.evidence)
    assert {one.question.finding for one in found.checks[:2]} == {"metal_in_filter", "oil_at_bore"}
    told = against(
        diagnosed(("no_start", "present"), ("metal_in_filter", "present")), "pump_worn", "seal_out"
    )
    assert told.evidence[1].given_rest > 10
    assert told.evidence[1].given_rest == max(one.given_rest for one in told.evidence)


def test_the_odds_after_a_result_are_those_of_the_case_with_that_result() -> None:
    found = against(diagnosed(), "pump_worn", "seal_out")
    for outcome in found.checks[0].outcomes:
        seen = (found.checks[0].question.finding, outcome.state)
        after = against(diagnosed(*SEEN, seen), "pump_worn", "seal_out")
        assert outcome.odds == pytest.approx(after.now, abs=1e-6)


def test_checks_stand_by_what_they_tell_for_their_minutes() -> None:
    checks = against(diagnosed(), "pump_worn", "seal_out").checks
    rates = [one.bits / one.question.minutes for one in checks]
    assert rates == sorted(rates, reverse=True)
    minutes = {one.question.check.id: one.question.minutes for one in checks}
    assert minutes["look_under_cover"] == 15 + 30 + 40  # the cover off and on again


def test_causes_that_cannot_be_without_each_other_have_odds_at_the_limit() -> None:
    """With the pump sure to be found sound no odds are left for it."""
    network = diagnosed().built.network
    pump, seal = network.index["pump_worn"], network.index["seal_out"]
    evidence = {pump: np.array([1.0, 0.0])}
    found = between(Weighing(Engine(network, evidence), [pump], [pump, seal]), pump, seal)
    assert found.now == -MOST
    assert np.isfinite(found.in_turn).all()


def test_a_cause_is_not_weighed_against_itself() -> None:
    with pytest.raises(CallError, match="against itself"):
        against(diagnosed(), "pump_worn", "pump_worn")


def test_separation_is_the_information_about_which_of_two_it_was() -> None:
    """Lin 1991 (from memory): Jensen-Shannon divergence = mutual information of the source and the result."""
    p, q = np.array([0.7, 0.2, 0.1]), np.array([0.1, 0.3, 0.6])
    both = np.stack([p, q]) / 2
    information = sum(
        both[s, r] * log2(both[s, r] / (both[s].sum() * both[:, r].sum())) for s in range(2) for r in range(3)
    )
    assert separation(np.stack([p, q], axis=1), (0.5, 0.5)) == pytest.approx(information)
    assert separation(np.stack([p, p], axis=1), (0.5, 0.5)) == pytest.approx(0)
    assert separation(np.eye(2), (0.5, 0.5)) == pytest.approx(1)


def test_bits_of_a_telling_finding_are_mutual_information() -> None:
    """Oil at the bore hangs on the seal alone, by a noisy-OR with leak 0.005 and strength 0.8: closed form."""
    diagnosis = diagnosed(("no_start", "present"))
    (told,) = [
        one for one in telling_findings(diagnosis, "seal_out") if one.question.finding == "oil_at_bore"
    ]
    cause = diagnosis.cause("seal_out")
    assert cause
    shown = np.array([0.005, 1 - (1 - 0.005) * (1 - 0.8)])
    both = np.stack([1 - shown, shown], axis=1) * np.array([[1 - cause.probability], [cause.probability]])
    apart = both.sum(axis=1, keepdims=True) * both.sum(axis=0, keepdims=True)
    assert told.bits == pytest.approx(float((both * np.log2(both / apart)).sum()), abs=1e-9)
