"""What the knowledge tells apart, on a knowledge where it can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.study.deep import comparable, deep, dominated, idle, pairs, whole_minutes
from diagnose.study.leading import draw, lead_in_own_cases, telling
from diagnose.study.signatures import Signatures, signatures
from tests.network.random_networks import random_network
from tests.study.small import small


@pytest.fixture(scope="module")
def known() -> Signatures:
    return signatures(small())


def at(known: Signatures, finding: str, cause: str) -> float:
    return float(1 - known.shown[known.findings.index(finding), 0, known.causes.index(cause)])


def test_signatures_are_noisy_or_worked_out_by_hand(known: Signatures) -> None:
    """P(starved) = 1 - (1 - 0.01)(1 - 0.9); P(stalls) = 1 - (1 - 0.02)(1 - 0.01 * 0.9)(1 - 0.8 P(starved))."""
    starved = 1 - 0.99 * 0.1
    other = 1 - 0.01 * 0.9
    assert at(known, "stalls", "pump_worn") == pytest.approx(
        1 - 0.98 * other * (1 - 0.8 * starved), abs=1e-12
    )
    assert at(known, "pump_found_worn", "pump_worn") == pytest.approx(1 - 0.99 * 0.1, abs=1e-12)
    assert at(known, "pump_found_worn", "filter_plugged") == pytest.approx(0.01, abs=1e-12)


def test_the_quickest_good_check_separates_a_pair(known: Signatures) -> None:
    found = {frozenset((pair.first, pair.second)): pair for pair in pairs(known)}
    pair = found[frozenset(("filter_plugged", "pump_worn"))]
    assert (pair.check, pair.finding, pair.minutes) == ("open_filter", "filter_found_dirty", 10)
    assert pair.apart == pytest.approx((1 - 0.99 * 0.2) - 0.01, abs=1e-12)


def test_twins_are_told_apart_by_nothing(known: Signatures) -> None:
    report = deep(small(), samples=3)
    assert [(p.first, p.second, p.apart) for p in report.not_separated] == [
        ("first_twin", "second_twin", 0.0)
    ]


def test_only_comparable_causes_are_paired(known: Signatures) -> None:
    rivals = comparable(known)
    assert rivals[known.causes.index("filter_plugged"), known.causes.index("second_twin")]
    assert not rivals.diagonal().any()
    assert (rivals == rivals.T).all()


def test_a_check_that_shows_the_same_in_more_time_is_needless() -> None:
    assert [(one.check, one.by) for one in dominated(small())] == [("open_filter_slowly", "open_filter")]


def test_minutes_count_dismantling() -> None:
    knowledge = small()
    assert whole_minutes(knowledge, knowledge.checks["open_pump"]) == 15 + 20 + 10


def test_a_finding_that_nothing_shifts_is_idle(known: Signatures) -> None:
    assert [one.finding for one in idle(known)] == ["hums"]


def test_the_less_likely_twin_never_leads(known: Signatures) -> None:
    never = list(lead_in_own_cases(known, comparable(known), samples=30, seed=1))
    assert [one.cause for one in never] == ["second_twin"]
    assert never[0].above == "first_twin"


def test_the_same_seed_gives_the_same_report() -> None:
    assert deep(small(), 5, seed=3) == deep(small(), 5, seed=3)


def test_progress_is_told_from_start_to_end() -> None:
    heard: list[tuple[int, int]] = []
    deep(small(), 1, told=lambda done, of: heard.append((done, of)))
    assert heard == [(done, 4) for done in range(5)]


def test_telling_findings_are_the_causes_own(known: Signatures) -> None:
    cause = known.causes.index("pump_worn")
    assert telling(known, cause, comparable(known)[cause]) == ["stalls", "pump_found_worn"]


def test_drawn_worlds_follow_the_network() -> None:
    """Frequencies of 20,000 draws against exact marginals, within five standard errors."""
    from diagnose.network.engine import posterior

    network = random_network(4)
    worlds = draw(network, set(range(len(network.names))), {}, 20000, np.random.default_rng(5))
    exact = posterior(network, {}).marginals
    for variable, marginal in exact.items():
        shares = np.bincount(worlds[:, variable], minlength=len(marginal)) / len(worlds)
        error = np.sqrt(marginal * (1 - marginal) / len(worlds))
        assert (np.abs(shares - marginal) <= 5 * error + 1e-12).all()
