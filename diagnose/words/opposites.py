"""Words that may not be crossed: hot and cold, idle and load, front and rear, high and low, oil in coolant and
coolant in oil."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from diagnose.words.grammar import CIRCUMSTANCES
from diagnose.words.stems import stem

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
SIDES = (
    ("above over beyond past more", "below under beneath less fewer"),
    ("left", "right"),
    ("many", "few"),
)
"""What is said on one side and on the other by words that are no plain words: above the plate and below it."""
SIDE_OF = {
    word: f"{number}{side}"
    for number, pair in enumerate(SIDES)
    for side, said in zip("+-", pair, strict=True)
    for word in said.split()
}
"""Each such word -> the number of its pair and its side."""


def other_side(sides: Iterable[str], others: Iterable[str]) -> bool:
    """One side only was said of something, and the other has the other side of it only."""
    said, named = set(sides), set(others)
    return any(
        {f"{pair}+", f"{pair}-"} == (both := {one for one in said | named if one[0] == pair})
        and len(said & both) == len(named & both) == 1
        for pair in {side[0] for side in said}
    )


CROSSED, TURNED = 0.6, 0.5
"""Factors of likeness: for each opposite said, and for sides that were exchanged (judgement)."""


SOUND_AGAINST: Mapping[str, frozenset[str]] = {
    word: frozenset(map(stem, faults.split()))
    for words, faults in {
        "ok okay good fine great perfect pass passed passes working works normal healthy sound alright": "bad",
        "clean": "block dirty soot rust sludge oil mess carbon metal cloudy crust collapse corrode residue mud",
        "clear": "block dirty cloudy collapse kink",
        "tight": "loose slack leak wet play move",
        "free": "stuck bind hard tight bent drag",
        "dry": "wet leak oil water drip",
        "full": "low empty loss below lose",
        "holds held holding": "fall leak low loss drop lose bubble",
        "steady": "hunt swing jump vary high low flicker unstable bounce",
        "strong well": "low slow hard dead bad",
        "bright": "dim flicker dead",
        "smooth smoothly": "rough jerk bind vibration scrape",
        "firm": "soft loose collapse",
        "intact undamaged": "break crack tear damage missing chafe hole worn melt leak",
        "solid": "loose crack soft break",
    }.items()
    for word in words.split()
} | {"": frozenset([stem("bad")])}
"""What a word that says that something is sound denies of it: what is tight is not loose."""


def denied_by_praise(marks: Iterable[str]) -> frozenset[str]:
    """The faults that something has not of which such words were said; `marks`: the words."""
    return frozenset[str]().union(*(SOUND_AGAINST.get(mark, ()) for mark in marks))


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
