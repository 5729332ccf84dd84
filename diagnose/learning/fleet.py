"""Time at risk: how long machines ran on which each cause could have happened, whether or not they came in.

Only how long all of them ran together can be told. How that falls to the kinds of machines (those with the
same facts) is found from the cases: a kind whose causes together happen L times in a window, w of which came
in, ran w / L windows, up to a factor that is the same for all kinds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.learning.learnable import Numbers
from diagnose.network.machine import LAST_RIGHT
from diagnose.network.network import Array


class Fleet:
    """The kinds of machines that came in: how many (by weight), and the factor on what is to be expected of
    each cause, shape (causes,) each."""

    def __init__(self, numbers: Numbers, kinds: Sequence[tuple[float, Array]]):
        self.numbers = numbers
        factors = [factor for _, factor in kinds] or [np.zeros(len(numbers.causes))]
        self.factors = np.where(numbers.happens, np.array(factors), 0.0)
        weights = np.array([weight for weight, _ in kinds] or [0.0])
        self.weights = np.where(self._often(numbers.values) > 0, weights, 0.0)

    def hours_needed(self, events: Array) -> float:
        """The running hours in which the knowledge's own rates bring about as many events, all causes together."""
        total, came = float(events[self.numbers.happens].sum()), self.weights.sum()
        return LAST_RIGHT * total / came * float(self._waited(self.numbers.values).sum()) if came > 0 else 0.0

    def windows(self, hours: float, values: Array) -> Array:
        """How many of the reference machine's windows each kind ran, shape (kinds,), if all together ran so
        many hours and causes happen as often as these values say."""
        waited = self._waited(values)
        return hours / LAST_RIGHT * waited / max(float(waited.sum()), 1e-300)

    def at_risk(self, windows: Array) -> Array:
        """For each cause the reference machine's windows in which it could have happened, shape (causes,)."""
        found: Array = windows @ self.factors
        return found

    def _often(self, values: Array) -> Array:
        """How often a machine of each kind is to be expected to fail in a window."""
        found: Array = self.factors @ np.where(self.numbers.happens, self.numbers.rates(values), 0.0)
        return found

    def _waited(self, values: Array) -> Array:
        """The windows in which as many are to be expected as came in."""
        often = self._often(values)
        return np.divide(self.weights, often, out=np.zeros_like(often), where=often > 0)
