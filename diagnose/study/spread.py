"""How far a number of the knowledge may be off.

As a Beta distribution worth `ess` cases, its log-odds have the standard deviation 1 / sqrt(ess p (1 - p)) (delta
method). That takes a rare event worth ten cases for all but unknown, wider than whoever wrote it meant: so a number
is held to be off by no more than WIDEST (judgement).
"""

from __future__ import annotations

import math

from diagnose.knowledge.number import Number

WIDEST = math.log(5)
"""Most that log-odds are off: a factor of 5 in the odds."""
WIDEST_DEVIATION = WIDEST / 1.645
"""Standard deviation of a normal distribution that keeps nine draws in ten within WIDEST."""


def spread(number: Number, multiplies: str = "") -> float:
    """Standard deviation of the log-odds of a probability, at most WIDEST. That of a factor on the odds: as of an
    odds ratio from `ess` cases spread evenly over two by two fields, 4 / sqrt(ess) (Woolf 1955, from memory)."""
    if multiplies:
        return min(4 / math.sqrt(number.ess), WIDEST)
    return min(1 / math.sqrt(number.ess * number.value * (1 - number.value)), WIDEST)


def moved(p: float, by: float) -> float:
    """The probability with its log-odds moved."""
    odds = p / (1 - p) * math.exp(by)
    return odds / (1 + odds)


def multiplied(p: float, by: float) -> float:
    """The probability with its hazard, -ln(1 - p), multiplied by exp(by)."""
    return -math.expm1(math.log1p(-p) * math.exp(by))


def worth(p: float, ess: float) -> float:
    """How many cases a probability is drawn as worth: `ess`, but as many as keep the standard deviation of its
    log-odds within WIDEST_DEVIATION (about one case of the rarer kind)."""
    return max(ess, 1 / (WIDEST_DEVIATION**2 * p * (1 - p)))
