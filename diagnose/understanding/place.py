"""Where it is and under which circumstances it shows, as a text says it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

import diagnose.understanding.parts as kinds
from diagnose.understanding.grammar import CIRCUMSTANCES
from diagnose.understanding.parts import Part
from diagnose.understanding.stems import stem, words
from diagnose.understanding.tokens import Chunk

_CYLINDER = re.compile(
    r"(?:#|\b(?:cyl(?:inder)?s?|hole|pot|number|num|no)\.?\s?#?)\s?(\d{1,2})\b(?!\s?(?:psi|bar|"
    r"v\b|%|kpa|degrees|hours|h\b))",
    re.IGNORECASE,
)
_SIDE = re.compile(
    r"\b(left|right|port|starboard|near|off)[ -]?(?:hand )?(?:side|bank|engine|motor)\b|\b(front|"
    r"rear|back|top|bottom)(?: of the)? (?:end|side|engine)\b",
    re.IGNORECASE,
)
_NAMES = {
    stem(word): word
    for word in words(
        """hot cold idle load hill unloaded wet standing bumps road intermittent sudden gradual front rear"""
    )
}
_PLACES = frozenset(map(stem, ["front", "rear"]))


def places_in(text: str) -> Iterator[Part]:
    """Cylinders, banks and ends."""
    for found in _CYLINDER.finditer(text):
        yield Part(kinds.PLACE, *found.span(), found[0], f"cylinder {found[1]}")
    for found in _SIDE.finditer(text):
        yield Part(kinds.PLACE, *found.span(), found[0], " ".join(found[0].lower().split()))


def circumstances_in(text: str, clauses: Iterable[Chunk]) -> Iterator[Part]:
    """When it shows: hot, cold, at idle, under load, uphill, in the wet, after standing, now and then."""
    for chunk in clauses:
        for token in chunk.tokens:
            if token.word in CIRCUMSTANCES and token.end > token.start and token.word in _NAMES:
                kind = kinds.PLACE if token.word in _PLACES else kinds.CIRCUMSTANCE
                yield Part(kind, token.start, token.end, text[token.start : token.end], _NAMES[token.word])
