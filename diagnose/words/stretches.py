"""The sentence and the clause that a stretch of text stands in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from diagnose.words.spans import Span

_FULL_STOP = re.compile(r"[.;!?\n](?=\s|$)")


def sentences_with(text: str, spans: Sequence[Span]) -> list[Span]:
    """The sentences that have any of some stretches."""
    stops = [0, *(stop.end() for stop in _FULL_STOP.finditer(text)), len(text)]
    every = [Span(one, other) for one, other in pairwise(stops)]
    return [one for one in every if any(one.meets(span.start, span.end) for span in spans)]


_MARKS = re.compile(r"[.,;:!?\n]|\bbut\b")


def clause_around(text: str, start: int, end: int) -> str:
    """The words from the mark before a stretch to the mark behind it."""
    before = max((mark.end() for mark in _MARKS.finditer(text, 0, start)), default=0)
    after = next(
        (mark.end() if mark[0] == "?" else mark.start() for mark in _MARKS.finditer(text, end)), len(text)
    )
    return text[before:after]
