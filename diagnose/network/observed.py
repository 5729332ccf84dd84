"""What an observation weighs: virtual evidence by how sure the observer is."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from diagnose.network.network import Array

LIKELIHOOD_RATIOS: Mapping[str, float] = {"sure": math.inf, "likely": 6.0, "unsure": 2.0}
"""Confidence -> how many times likelier the report is where the finding really is in that state (judgement).

`sure` is certain: that a check can err is already in the numbers of the finding itself."""


def likelihood(card: int, state: int, ratio: float) -> Array:
    """Virtual evidence: the seen state is `ratio` times as likely to be reported as each other one."""
    vector = np.full(card, 0.0 if np.isinf(ratio) else 1 / ratio)
    vector[state] = 1.0
    return vector
