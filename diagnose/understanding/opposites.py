"""Words that may not be crossed: hot and cold, idle and load, front and rear, high and low, oil in coolant and
coolant in oil."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from diagnose.understanding.grammar import CIRCUMSTANCES
from diagnose.understanding.stems import stem

PAIRS = (
    "hot cold", "idle load", "idle road", "load unloaded", "front rear", "high low", "open close",
    "open shut", "hill idle", "sudden gradual", "before after", "in out", "supply return", "left right",
    "inlet outlet", "intake exhaust", "black white", "black blue", "white blue", "black grey", "blue grey",
    "white grey", "amber red", "oil fuel", "hot freeze", "up down", "top bottom", "early late",
    "one several", "one all", "cold warm", "fast slow", "long short", "hand battery",
    "injector compressor", "urea coolant", "cam crank", "engine transmission", "stuck loose",
    "oil coolant", "water oil", "coolant fuel", "upper lower",
)  # fmt: skip


def _opposites() -> Mapping[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for pair in PAIRS:
        one, other = map(stem, pair.split())
        found.setdefault(one, set()).add(other)
        found.setdefault(other, set()).add(one)
    return {word: frozenset(others) for word, others in found.items()}


OPPOSITES = _opposites()
CROSSED, TURNED = 0.6, 0.5
"""Factors of likeness: for each opposite said, and for sides that were exchanged (judgement)."""


def opposed(said: Iterable[str], phrase: Iterable[str]) -> float:
    """Below 1 where the phrase has the opposite of a word that was said, and not the word itself."""
    words, others = set(said), set(phrase)
    crossed_pairs = sum(
        1
        for word in words - others
        if any(other in others and other not in words for other in OPPOSITES.get(word, ()))
    )
    return float(CROSSED ** min(crossed_pairs, 2))


def opposed_within(said: Iterable[str]) -> bool:
    """Hot and cold, idle and load in one: two things were said."""
    words = set(said) & CIRCUMSTANCES
    return any(not words.isdisjoint(OPPOSITES.get(word, ())) for word in words)


def crossed(words: Sequence[str], others: Sequence[str]) -> float:
    """Below 1 where "in" or "since" has the same things on the other side: oil in coolant, coolant in oil."""
    hinge = next((word for word in HINGES if word in words and word in others), "")
    if not hinge:
        return 1.0
    left, right = _sides(words, hinge)
    other_left, other_right = _sides(others, hinge)
    same = len(left & other_left) + len(right & other_right)
    turned = len(left & other_right) + len(right & other_left)
    return TURNED if turned > same else 1.0


HINGES = ("in", "since")


def _sides(words: Sequence[str], hinge: str) -> tuple[set[str], set[str]]:
    middle = words.index(hinge)
    return set(words[:middle]), set(words[middle + 1 :])
