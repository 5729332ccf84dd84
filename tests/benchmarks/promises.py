"""Whether what was promised came true: shares promised one by one, against what happened."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

BOUNDS = (0.0, 0.05, 0.15, 0.35, 0.65, 1.0)


@dataclass(frozen=True, slots=True)
class Promise:
    """The probability with which something was said to happen, and whether it did."""

    share: float
    came_true: bool


@dataclass(frozen=True, slots=True)
class Kept:
    """The promises between two shares. `error`: standard error of the share that came true. `away`: by how many
    standard errors more came true than was promised, were every promise right."""

    low: float
    high: float
    number: int
    promised: float
    came_true: float
    error: float
    away: float


def kept(promises: Iterable[Promise], low: float = 0.0, high: float = 1.0) -> Kept | None:
    """The promises with low <= share < high (1 belongs to the last); None where there are none.

    The error is the binomial's; that of the promises is the root of the sum of their variances p (1 - p)
    (Spiegelhalter, Statistics in Medicine 1986, from memory).
    """
    mine = [one for one in promises if low <= one.share < high or one.share == high == 1]
    if not mine:
        return None
    number, told = len(mine), sum(one.share for one in mine)
    true = sum(one.came_true for one in mine)
    share, chance = true / number, sqrt(sum(one.share * (1 - one.share) for one in mine))
    away = (true - told) / chance if chance else 0.0
    return Kept(low, high, number, told / number, share, sqrt(share * (1 - share) / number), away)


def bins(promises: Sequence[Promise]) -> list[Kept]:
    """The promises by their size, and last all of them."""
    found = [kept(promises, low, high) for low, high in pairwise(BOUNDS)]
    return [one for one in (*found, kept(promises)) if one is not None]


def told(promises: Sequence[Promise]) -> str:
    """The bins as a table."""
    lines = [f"{'promised':>12}{'number':>8}{'mean':>8}{'came true':>18}{'away':>7}"]
    for one in bins(promises):
        stretch = f"{100 * one.low:.0f}-{100 * one.high:.0f} %"
        true = f"{one.came_true:.1%} +- {one.error:.1%}"
        lines.append(f"{stretch:>12}{one.number:>8}{one.promised:>8.1%}{true:>18}{one.away:>+7.1f}")
    return "\n".join(lines)
