"""Fault codes within a text, in any common writing and in lists.

A trouble code (P0087) or the letters SPN or FMI say by themselves that a code is meant. Two bare numbers are one
only where codes are spoken of, where they are all that is said between two commas, or with the separators of a list
of codes, and never where the first is no parameter that is known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from diagnose.codes.typed import LARGEST_SPN, MAKER_SPNS, Code, _table
from diagnose.words.spans import Span

_TROUBLE = re.compile(r"\b([pcbu]\s?[0-3][0-9a-f]{3})(?:\s*[-:]\s*([0-9a-f]{2})h?)?\b", re.IGNORECASE)
_FULL = re.compile(
    r"\b(?:spn|s)\s*[:=#]?\s*(\d{2,6})\s*(?:[-/,;:.]|\s|and)*\s*(?:fmi|f)\s*[:=#]?\s*(\d{1,2})(?"
    r":\s+or\s+(\d{1,2}))?\b",
    re.IGNORECASE,
)
_HALF = re.compile(r"\b(\d{2,6})\s*[-/,.]?\s*fmi\s*[:=#]?\s*(\d{1,2})\b", re.IGNORECASE)
_SPN_PAIR = re.compile(
    r"\bspn\s*[:=#]?\s*(\d{2,6})\s*[-/.:,]?\s*(\d{1,2})\b(?!\s*(?:fmi|f\d))", re.IGNORECASE
)
_SPN_ALONE = re.compile(r"\bspn\s*[:=#]?\s*(\d{2,6})\b", re.IGNORECASE)
_PAIR = re.compile(r"(?<![\w.,/-])(\d{2,6})\s?([-/.:])\s?(\d{1,2})(?![\w/]|[.,-]\d)")
_SPACED = re.compile(r"(?<![\w.,/-])(\d{2,6})\s+(\d{1,2})(?=\s*(?:and\b|,|;|&|$))")
_SHARED_FMI = re.compile(r"\ball\s+(?:are\s+)?fmi\s*(\d{1,2})s?\b", re.IGNORECASE)
_NUMBER = re.compile(r"(?<![\w.,/-])(\d{2,6})(?![\w/]|[.,-]\d)")
_FLASH = re.compile(r"\b(?:flash|blink)\s+codes?\b", re.IGNORECASE)
_FLASHED = re.compile(r"(?<![\w.])(\d)\s?[- ]\s?(\d)(?![\w.])")
_SPOKEN_OF = re.compile(
    r"\b(codes?|dtcs?|spns?|fmis?|faults?|fault codes?|log|logged|sensor|snapshot|screen|display|dash)\b",
    re.IGNORECASE,
)
_UNIT_BEHIND = re.compile(
    r"\s*(?:psi|kpa|bar|mpa|v\b|volts?|amps?|a\b|deg|c\b|f\b|hz|rpm|%|pct|percent|hours?|hrs?|h\b|"
    r"km|miles?|mi\b|mm|in\b|"
    r"inch|l\b|litres?|gal|qts?|times|minutes?|mins?|sec|days?|weeks?|years?|months?|ton|t\b|kw|"
    r"hp|ppm|mg|ohms?|x\b)",
    re.IGNORECASE,
)


_UNIT_BEFORE = re.compile(
    r"\b(?:psi|kpa|bar|volts?|amps?|ohms?|rpm|hz|temp\w*|pressure|boost|batter\w*|batts?|charging|alternator|gap|"
    r"reads?|reading|drops to|at)\s*$",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class CodeSaid:
    """A code and where it stands; `certain`: no other is meant."""

    span: Span
    code: Code
    certain: bool = True
    other: Code | None = None


def codes_in(text: str) -> list[CodeSaid]:
    """The codes of a text, in their order."""
    found: list[CodeSaid] = []
    for one in _all(text):
        if not any(one.span.meets(other.span.start, other.span.end) for other in found):
            found.append(one)
    return sorted(found, key=lambda one: one.span.start)


def _all(text: str) -> Iterator[CodeSaid]:
    for found in _TROUBLE.finditer(text):
        letters = re.sub(r"\s", "", found[1]).upper()
        if any(c.isdigit() for c in letters[2:]):
            failure = int(found[2], 16) if found[2] else None
            yield CodeSaid(Span(*found.span()), Code(trouble=letters, failure_type=failure))
    for found in _FULL.finditer(text):
        yield from _coded(found, int(found[1]), int(found[2]), int(found[3]) if found[3] else None)
    for pattern in (_HALF, _SPN_PAIR):
        for found in pattern.finditer(text):
            yield from _coded(found, int(found[1]), int(found[2]))
    shared = _SHARED_FMI.search(text)
    if shared:
        for found in _NUMBER.finditer(text, shared.end()):
            if known(int(found[1])):
                yield from _coded(found, int(found[1]), int(shared[1]))
        yield CodeSaid(Span(*shared.span()), Code(), certain=False)
    yield from _bare(text)
    yield from _flashed(text)


def _bare(text: str) -> Iterator[CodeSaid]:
    spoken = bool(_SPOKEN_OF.search(text)) or bool(_TROUBLE.search(text))
    pairs = [
        found
        for found in _PAIR.finditer(text)
        if not _UNIT_BEHIND.match(text, found.end()) and not _UNIT_BEFORE.search(text[: found.start()])
    ]
    for found in pairs:
        number, kind = int(found[1]), int(found[3])
        alone = _alone(text, found.start(), found.end()) or not text[: found.start()].strip()
        if kind <= 31 and known(number) and (spoken or alone or (found[2] != ":" and len(found[1]) >= 3)):
            yield from _coded(found, number, kind)
    if re.search(r"\bcodes?\b", text, re.IGNORECASE):
        for found in _SPACED.finditer(text):
            if known(int(found[1])) and int(found[2]) <= 31:
                yield from _coded(found, int(found[1]), int(found[2]))


def _alone(text: str, start: int, end: int) -> bool:
    """Nothing else stands between the marks around it."""
    before, after = text[:start].rstrip(), text[end:].lstrip()
    return (not before or before[-1] in ",;:&") and (not after or after[0] in ",;&")


def _flashed(text: str) -> Iterator[CodeSaid]:
    spoken = _FLASH.search(text)
    if spoken:
        for found in _FLASHED.finditer(text, spoken.end()):
            yield CodeSaid(Span(*found.span()), Code(trouble=f"flash {found[1]}{found[2]}"))


def _coded(found: re.Match[str], spn: int, fmi: int, other: int | None = None) -> Iterator[CodeSaid]:
    if 0 < spn < LARGEST_SPN and 0 <= fmi <= 31:
        second = None if other is None or not 0 <= other <= 31 else Code(spn=spn, fmi=other)
        yield CodeSaid(Span(*found.span()), Code(spn=spn, fmi=fmi), other is None, second)


@lru_cache(maxsize=1)
def _known() -> frozenset[int]:
    return frozenset(int(number) for number in _table("spn.csv") if number.isdecimal())


def known(spn: int) -> bool:
    """Whether the number is that of a parameter that is known here, or of the maker's own."""
    return spn in _known() or spn in MAKER_SPNS or spn >= 500
