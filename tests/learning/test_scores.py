"""Brier and logarithmic score and Murphy's decomposition: worked examples, computed apart from the program
(none of them is published; the formulas are those of Brier 1950, Good 1952 and Murphy 1973, from memory)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.learning.scores import EDGES, Tallied, brier, log_score
from tests.cases.strategies import calm

FORECASTS = [0.9, 0.7, 0.6, 0.3, 0.2, 0.1, 0.8, 0.4]
OUTCOMES = [1, 1, 0, 0, 1, 0, 1, 0]


def test_brier_score_of_eight_forecasts() -> None:
    assert brier(FORECASTS, OUTCOMES) == pytest.approx(0.175, abs=1e-12)
    assert Tallied.of(FORECASTS, OUTCOMES).brier == pytest.approx(0.175, abs=1e-12)


def test_logarithmic_score_of_eight_forecasts() -> None:
    """Also by hand: -(ln .9 + ln .7 + ln .4 + ln .7 + ln .2 + ln .9 + ln .8 + ln .6) / 8."""
    by_hand = -np.log([0.9, 0.7, 0.4, 0.7, 0.2, 0.9, 0.8, 0.6]).sum() / 8
    assert log_score(FORECASTS, OUTCOMES) == pytest.approx(0.522971092323, abs=1e-12)
    assert log_score(FORECASTS, OUTCOMES) == pytest.approx(by_hand, abs=1e-12)


def test_murphy_decomposition() -> None:
    """Ten forecasts each of .1, .5, .9, of which 1, 6, 8 came true."""
    forecasts = [0.1] * 10 + [0.5] * 10 + [0.9] * 10
    outcomes = [1] + [0] * 9 + [1] * 6 + [0] * 4 + [1] * 8 + [0] * 2
    tallied = Tallied.of(forecasts, outcomes)
    murphy = tallied.murphy
    assert murphy.score == pytest.approx(0.17, abs=1e-12)
    assert murphy.reliability == pytest.approx(0.02 / 3, abs=1e-12)
    assert murphy.resolution == pytest.approx(0.26 / 3, abs=1e-12)
    assert murphy.uncertainty == pytest.approx(0.25, abs=1e-12)
    assert murphy.within == pytest.approx(0.0, abs=1e-12)
    assert tallied.calibration_error == pytest.approx(0.2 / 3, abs=1e-12)
    assert [(one.count, one.came) for one in tallied.bins] == [(10, 0.1), (10, 0.6), (10, 0.8)]


def test_each_bin_holds_what_lies_between_its_edges() -> None:
    """One forecast in the middle of each bin; one on an edge belongs above it, a sure one to the last bin."""
    middles = (EDGES[:-1] + EDGES[1:]) / 2
    tallied = Tallied.of(middles, np.ones(len(middles)))
    assert tallied.count.tolist() == [1.0] * 13
    assert [one.called for one in tallied.bins] == pytest.approx(middles.tolist())
    on = Tallied.of([*EDGES, 0.0], np.ones(len(EDGES) + 1))
    assert on.count.tolist() == [2.0, *[1.0] * 11, 2.0]


def test_a_single_forecast_and_none() -> None:
    """(0.8 - 0)^2; nothing scores nothing."""
    one = Tallied.of([0.8], [0])
    assert (one.total, one.brier, one.calibration_error) == pytest.approx((1, 0.64, 0.8))
    assert one.log_score == pytest.approx(-np.log(0.2))
    none = Tallied.of([], [])
    assert (none.total, none.brier, none.log_score, none.bins) == (0, 0, 0, [])


def test_the_standard_error_of_a_share() -> None:
    """sqrt(p (1 - p) / n), binomial: 0.04 for 20 % of a hundred."""
    (one,) = Tallied.of([0.2] * 100, [1] * 30 + [0] * 70).bins
    assert (one.count, one.called, one.came, one.spread) == pytest.approx((100, 0.2, 0.3, 0.04))


pairs = st.lists(st.tuples(st.floats(0, 1), st.booleans()), min_size=1, max_size=40)


@calm
@given(pairs, pairs)
def test_sums_can_be_added(some: list[tuple[float, bool]], more: list[tuple[float, bool]]) -> None:
    def tallied(of: list[tuple[float, bool]]) -> Tallied:
        return Tallied.of([f for f, _ in of], [o for _, o in of])

    together, added = tallied([*some, *more]), tallied(some).merge([tallied(more)])
    assert added.brier == pytest.approx(together.brier)
    assert added.log_score == pytest.approx(together.log_score)
    assert added.murphy.reliability == pytest.approx(together.murphy.reliability)


@calm
@given(pairs)
def test_the_parts_sum_to_the_score(some: list[tuple[float, bool]]) -> None:
    """With one bin for each forecast nothing is left within bins."""
    forecasts, outcomes = zip(*some, strict=True)
    rounded = np.round(forecasts, 2)
    edges = np.linspace(-0.005, 1.005, 102)
    murphy = Tallied.of(rounded, outcomes, edges).murphy
    assert murphy.within == pytest.approx(0.0, abs=1e-9)


def test_certainty_that_was_wrong_costs_much_but_not_everything() -> None:
    assert np.isfinite(log_score([0.0, 1.0], [1, 0]))
    assert log_score([0.0], [1]) > 25


def test_every_probability_has_a_bin() -> None:
    assert Tallied.of(EDGES, np.zeros(len(EDGES))).total == len(EDGES)
