"""How good forecasts were: Brier and logarithmic score, Murphy's decomposition, the reliability diagram.

A forecast is a probability f for something that came about (o = 1) or did not (o = 0).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from diagnose.network.network import Array

EDGES = np.array([0.0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
"""Of the bins; narrow below, where most causes of a case stand."""
LEAST = 1e-12
"""A forecast counts as no nearer to 0 or 1 than this in the logarithmic score."""


def brier(forecasts: ArrayLike, outcomes: ArrayLike) -> float:
    """Mean of (f - o)^2 (Brier, Monthly Weather Review 78, 1950); 0 is best, 0.25 is what 50 % always
    gets."""
    f, o = np.asarray(forecasts, dtype=float), np.asarray(outcomes, dtype=float)
    return float(((f - o) ** 2).mean())


def log_score(forecasts: ArrayLike, outcomes: ArrayLike) -> float:
    """Mean of -ln of the probability given to what came about (Good, JRSS B 14, 1952), in nats."""
    return float(_log_losses(np.asarray(forecasts, dtype=float), np.asarray(outcomes, dtype=float)).mean())


def _log_losses(forecasts: Array, outcomes: Array) -> Array:
    given = np.where(outcomes > 0, forecasts, 1 - forecasts)
    losses: Array = -np.log(np.clip(given, LEAST, 1.0))
    return losses


@dataclass(frozen=True, slots=True)
class Murphy:
    """Score = reliability - resolution + uncertainty + within (Murphy, J. Applied Meteorology 12, 1973).
    `within` is what differing forecasts in one bin leave over, 0 where each bin has one forecast."""

    score: float
    reliability: float
    resolution: float
    uncertainty: float

    @property
    def within(self) -> float:
        """The rest."""
        return self.score - (self.reliability - self.resolution + self.uncertainty)


@dataclass(slots=True, eq=False)
class Tallied:
    """Forecasts added up in bins: how many, sum of f, of o, of (f - o)^2 and of the logarithmic losses, shape
    (bins,) each. Sums can be added, so that any number of forecasts takes the same room."""

    count: Array
    called: Array
    came: Array
    squares: Array
    losses: Array

    @classmethod
    def of(cls, forecasts: ArrayLike, outcomes: ArrayLike, edges: Array = EDGES) -> Tallied:
        """The sums of some forecasts. A forecast on an edge belongs to the bin above it."""
        f, o = np.asarray(forecasts, dtype=float).ravel(), np.asarray(outcomes, dtype=float).ravel()
        place = np.clip(np.searchsorted(edges, f, side="right") - 1, 0, len(edges) - 2)

        def sums(weights: Array) -> Array:
            return np.bincount(place, weights, len(edges) - 1).astype(float)

        return cls(sums(np.ones(len(f))), sums(f), sums(o), sums((f - o) ** 2), sums(_log_losses(f, o)))

    def merge(self, others: Iterable[Tallied]) -> Tallied:
        """These and the others together, in place."""
        for other in others:
            self.count = self.count + other.count
            self.called = self.called + other.called
            self.came = self.came + other.came
            self.squares = self.squares + other.squares
            self.losses = self.losses + other.losses
        return self

    @property
    def total(self) -> float:
        """How many forecasts."""
        return float(self.count.sum())

    @property
    def brier(self) -> float:
        """The Brier score."""
        return float(self.squares.sum() / max(self.total, 1))

    @property
    def log_score(self) -> float:
        """The logarithmic score, nats."""
        return float(self.losses.sum() / max(self.total, 1))

    @property
    def murphy(self) -> Murphy:
        """The Brier score taken apart."""
        n, base = max(self.total, 1), self._base
        here = self.count > 0
        called, came = self.called[here] / self.count[here], self.came[here] / self.count[here]
        weight = self.count[here] / n
        return Murphy(
            self.brier,
            float(weight @ (called - came) ** 2),
            float(weight @ (came - base) ** 2),
            base * (1 - base),
        )

    @property
    def calibration_error(self) -> float:
        """Expected calibration error: mean over forecasts of |called - came| of its bin."""
        return float(np.abs(self.called - self.came).sum() / max(self.total, 1))

    @property
    def bins(self) -> list[Bin]:
        """The bins that hold anything, in order."""
        return [
            Bin(
                int(self.count[b]), float(self.called[b] / self.count[b]), float(self.came[b] / self.count[b])
            )
            for b in np.flatnonzero(self.count)
        ]

    @property
    def _base(self) -> float:
        return float(self.came.sum() / max(self.total, 1))


@dataclass(frozen=True, slots=True)
class Bin:
    """Of a bin: how many forecasts, what they said on average, and how often it came true."""

    count: int
    called: float
    came: float

    @property
    def spread(self) -> float:
        """Standard error of `came` if the forecasts were right."""
        return float(np.sqrt(max(self.called * (1 - self.called), 1e-12) / self.count))
