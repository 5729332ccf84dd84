"""A number of the knowledge: never without its basis."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.errors import Place

COMMON_PRACTICE = "common practice"
JUDGEMENT = "judgement"
SHOP = "shop"
"""Basis of a number that a shop's overlay gives."""


@dataclass(frozen=True, slots=True)
class Number:
    """A number with its basis (the id of a source that gives it, `common practice` or `judgement`) and the
    equivalent sample size `ess`: how many cases the number is worth."""

    value: float
    basis: str
    ess: float
    place: Place
