"""Longer steps than EM's own where it creeps: squared extrapolation (SQUAREM: Varadhan & Roland, Scandinavian
Journal of Statistics 35, 2008, their third step length; from memory).

From x0, EM goes to x1 and x2. With r = x1 - x0 and v = (x2 - x1) - r the next point is x0 - 2 a r + a^2 v, a
= -|r| / |v|. Points are logarithms of probabilities, normalised row by row, so that they stay probabilities.
"""

from __future__ import annotations

import numpy as np

from diagnose.learning.learnable import Numbers
from diagnose.network.network import Array

FURTHEST = 64.0
"""Times its own step that EM is carried on at most."""


class Accelerator:
    """Told each step of EM, says where to go on; taken back where that was too far."""

    def __init__(self, numbers: Numbers):
        self.numbers = numbers
        self._first: tuple[Array, Array] | None = None
        self.safe: Array | None = None
        """Where EM itself had come to before the last long step; None if the last step was its own."""

    def next(self, before: Array, after: Array) -> Array:
        """The point to go on from, after EM's step."""
        if self._first is None:
            self._first, self.safe = (before, after), None
            return after
        (x0, x1), self._first = self._first, None
        self.safe = after
        return self._long(_log(x0), _log(x1), _log(after), after)

    def _long(self, x0: Array, x1: Array, x2: Array, after: Array) -> Array:
        r, v = x1 - x0, x2 - 2 * x1 + x0
        curvature = float(np.linalg.norm(v))
        if curvature == 0:
            return after
        a = -min(max(float(np.linalg.norm(r)) / curvature, 1.0), FURTHEST)
        point = np.exp(x0 - 2 * a * r + a**2 * v)
        point[after == 0] = 0.0
        of_cell = self.numbers.row_of_cell
        result: Array = point / np.add.reduceat(point, self.numbers.start[:-1])[of_cell]
        return result


def _log(values: Array) -> Array:
    return np.log(np.maximum(values, 1e-300))
