"""Promises against what came true: by hand, and by the binomial law."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.promises import Promise, bins, kept


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
