"""Promises against what came true: by hand, and by the binomial law."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.promises import Promise, bins, kept
from tests.benchmarks.workshop import bills


def promised(share: float, true: int, of: int) -> list[Promise]:
    return [Promise(share, number < true) for number in range(of)]


def test_by_hand() -> None:
    """Of 100 promises of 20 %, 28 came true: 8 more, at a standard deviation of sqrt(100 * 0.2 * 0.8) = 4."""
    found = kept(promised(0.2, 28, 100))
    assert found is not None
    assert (found.number, found.came_true) == (100, 0.28)
    assert found.promised == pytest.approx(0.2)
    assert found.error == pytest.approx(0.0449, abs=1e-4)
    assert found.away == pytest.approx(2.0)


def test_each_promise_is_in_one_bin_and_all_are_in_the_last_line() -> None:
    shares = (0.0, 0.049, 0.05, 0.149, 0.15, 0.35, 0.649, 0.65, 1.0)
    found = bins([Promise(share, False) for share in shares])
    assert [one.number for one in found] == [2, 2, 1, 2, 2, 9]


def test_only_promises_that_are_right_are_kept() -> None:
    """Of right promises the deviations are standard normal; of turned ones, far off."""
    random = np.random.default_rng(5)
    shares = random.beta(1, 3, 4000)
    happened = random.random(4000) < shares
    right = bins([Promise(float(p), bool(true)) for p, true in zip(shares, happened, strict=True)])
    wrong = bins([Promise(float(p), not true) for p, true in zip(shares, happened, strict=True)])
    assert all(abs(one.away) < 4 for one in right)
    assert wrong[-1].away > 20


def test_nothing_promised_is_nothing_kept() -> None:
    assert bins([]) == []


@pytest.mark.slow
def test_what_is_promised_of_repairs_comes_true_in_the_workshop() -> None:
    """Forty machines, one step of look-ahead, which is the same every time. Promises that are right are off by less
    than three standard errors nearly always; while nothing unlisted stood beside what is listed, small ones were
    off by five."""
    found = [one for number in range(40) for one in bills((0, number, ["one step ahead"], 0.0)).values()]
    promises = [promise for one in found for promise in one.promises]
    small, every = kept(promises, 0.0, 0.15), kept(promises)
    assert every is not None
    assert every.number >= 20
    assert abs(every.away) < 3
    assert small is None or small.away < 3
