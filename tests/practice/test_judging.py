"""Scores and mistakes against numbers worked by hand: tests/oracles/worked.yaml, asia as shipped with pgmpy."""

from __future__ import annotations

import pytest

from diagnose.network.engine import Engine
from diagnose.network.observed import Evidence, hard
from diagnose.practice.judging import apart, brier, evenly, grade, log_score, mistaken, moved, points
from tests.explaining.asia import engine as asia_engine
from tests.practice.small import FINDINGS, PRIORS, enumerated, two_layer

FORECASTS = (0.9, 0.7, 0.6, 0.3, 0.2, 0.1, 0.8, 0.4)
OUTCOMES = (1.0, 1.0, 0.0, 0.0, 1.0, 0.0, 1.0, 0.0)
CAUSES = (0, 1, 2, 3)


def evidence(**states: int) -> Evidence:
    return hard(two_layer(), states)


def named(figures: dict[int, float]) -> dict[str, float]:
    return {list(PRIORS)[v]: p for v, p in figures.items()}


def test_scores_of_forecasts_by_what_happened() -> None:
    """Worked by hand: the squares add up to 1.40 over eight."""
    assert brier(FORECASTS, OUTCOMES) == pytest.approx(0.175, abs=1e-12)
    assert log_score(FORECASTS, OUTCOMES) == pytest.approx(0.522971092323, abs=1e-12)


def test_expected_score_of_the_exact_posterior_on_asia() -> None:
    """dysp = yes: tub .018845307459, lung .102759222755, bronc .83396733633 (pgmpy and pyAgrum)."""
    engine = asia_engine({"dysp": "yes"})
    exact = [float(engine.marginal(engine.network.index[n])[1]) for n in ("tub", "lung", "bronc")]
    by_hand = (0.018845307459, 0.102759222755, 0.83396733633)
    assert exact == pytest.approx(by_hand, abs=1e-9)
    assert brier(exact, exact) == pytest.approx(sum(p * (1 - p) for p in by_hand) / 3, abs=1e-9)


@pytest.mark.parametrize("score", [brier, log_score])
def test_nothing_scores_better_than_the_exact_posterior(score: object) -> None:
    assert callable(score)
    exact = [0.018845307459, 0.102759222755, 0.83396733633]
    for place in range(3):
        for step in (-0.015, 0.01, 0.1):
            said = [p + step * (i == place) for i, p in enumerate(exact)]
            assert score(said, exact) > score(exact, exact)
            assert points(said, exact) < points(exact, exact) == 100.0


def test_first_finding_alone_is_the_worked_row() -> None:
    figures = mistaken(two_layer(), evidence(F1=1, F2=1, F3=0), CAUSES, CAUSES, [])["anchored"]
    assert named(dict(figures)) == pytest.approx(
        {"A": 0.268386250664, "B": 0.465761225943, "C": 0.02, "D": 0.1}, abs=1e-11
    )


def test_unread_codes_taken_as_not_set_are_the_worked_row() -> None:
    figures = mistaken(two_layer(), evidence(F1=1, F2=1, F3=1), CAUSES, CAUSES, [7, 8])["absence"]
    worked = {"A": 0.423914709489, "B": 0.891607278549, "C": 0.046632994426, "D": 0.111965582405}
    assert named(dict(figures)) == pytest.approx(worked, abs=1e-11)


def test_no_base_rates_by_enumeration() -> None:
    even = float((PRIORS["A"] * PRIORS["B"] * PRIORS["C"] * PRIORS["D"]) ** 0.25)
    engine = Engine(evenly(two_layer(), CAUSES), evidence(F1=1))
    found = {name: 1 - float(engine.marginal(v)[0]) for v, name in enumerate(PRIORS)}
    assert found == pytest.approx(enumerated({"F1": 1}, dict.fromkeys(PRIORS, even)), abs=1e-12)
    assert found["A"] > found["B"]  # with the true base rates B leads


def test_findings_counted_apart_by_hand() -> None:
    """Prior odds times each finding's own factor on the odds."""
    figures = named(dict(apart(two_layer(), evidence(F1=1, F2=1), CAUSES)))
    odds = 0.01 / 0.99
    for finding in ("F1", "F2"):
        alone = enumerated({finding: 1})["A"]
        odds *= alone / (1 - alone) / (0.01 / 0.99)
    assert figures["A"] == pytest.approx(odds / (1 + odds), abs=1e-12)


@pytest.mark.parametrize("mistake", ["anchored", "absence", "base rate"])
def test_figures_of_a_mistake_are_named_by_it(mistake: str) -> None:
    network, seen = two_layer(), evidence(F1=1, F2=1, F3=0)
    unread = [4 + list(FINDINGS).index(f) for f in ("F4", "F5")]
    engine = Engine(network, seen)
    exact = {v: 1 - float(engine.marginal(v)[0]) for v in CAUSES}
    found = mistaken(network, seen, CAUSES, CAUSES, unread)
    apart_from = max(abs(found[mistake][v] - exact[v]) for v in CAUSES)
    told = grade(found[mistake], exact, found).mistake
    assert told == (mistake if apart_from > 0.2 else "")
    assert grade(exact, exact, found).mistake == ""


def test_too_sure_and_too_timid() -> None:
    exact = {0: 0.6, 1: 0.2}
    assert grade({0: 0.95, 1: 0.02}, exact, {}).mistake == "too sure"
    assert grade({0: 0.35, 1: 0.2}, exact, {}).mistake == "too timid"


def test_rise_and_fall() -> None:
    before, after = {0: 0.2, 1: 0.5, 2: 0.1}, {0: 0.6, 1: 0.3, 2: 0.11}
    assert moved(before, after, [0], [1]) == (2, 0, 2)
    assert moved(before, after, [1], []) == (0, 1, 2)
