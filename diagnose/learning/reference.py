"""The reference machine, on which a cause's learnt row holds: LAST_RIGHT running hours since it was last
right, parts of unknown age, every multiplier 1.

A cause that happens is there with p0 = 1 - exp(-E), E what is to be expected on the reference machine; with r
times as much, with 1 - (1 - p0)^r. A cause that has a share is there with p0 = the share; with its odds times
r elsewhere."""

from __future__ import annotations

import numpy as np

from diagnose.knowledge.records import Cause
from diagnose.network.machine import LAST_RIGHT
from diagnose.network.network import Array
from diagnose.network.priors import Exposures


def unit(cause: Cause) -> float:
    """Occurrences on the reference machine if the cause's frequency were 1; of a share: 1."""
    return 1.0 if cause.per == "share" else Exposures(None, None).per_hour(cause.per) * LAST_RIGHT


def present(cause: Cause) -> float:
    """P(present) on the reference machine."""
    if cause.per == "share":
        return cause.frequency.value
    return -float(np.expm1(-cause.frequency.value * unit(cause)))


def frequency(cause: Cause, present: float) -> float:
    """The cause's frequency with which the reference machine has it with this probability."""
    return present if cause.per == "share" else -float(np.log1p(-present)) / unit(cause)


def to_expect(happens: bool, present: Array) -> Array:
    """Occurrences to expect where it is there with this probability (of a share: its odds), elementwise."""
    below = np.minimum(present, 1 - 1e-15)
    return -np.log1p(-below) if happens else below / (1 - below)
