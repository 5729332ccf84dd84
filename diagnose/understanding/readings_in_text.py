"""Measured values within a text: number, unit, what was measured and in which state the engine was.

A value goes to the quantity whose name is said; the operating state (hot, idle, cranking, key on, at load) decides
among several of that name. Where it is not said, or no name is, the value is asked about, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from diagnose.knowledge.records import Knowledge
from diagnose.understanding.numbers_in_text import NAMED_BY_VALUE, closed, numbers_in
from diagnose.understanding.parts import Alternative
from diagnose.understanding.place import places_in
from diagnose.understanding.quantities import (
    DIFFERENCE,
    STATE_PATTERNS,
    UNSAID,
    context,
    core_of,
    known,
    matches_of,
)
from diagnose.understanding.slang import of_shop
from diagnose.words.spans import Span
from diagnose.words.stems import stem, words
from diagnose.words.units import parse_unit

_BOUND = re.compile(
    r"\b(?:spec|should be|shd be|want|wants|needs?|expected|used to be|was|limit|commanded|command|target|"
    r"desired|asked|set ?point|instead of|"
    r"against|vs|from)\s*(?:(?:is|of|about|bout|abt|around|approx\.?|roughly|at least|at most|min|max)\s+)*$",
    re.IGNORECASE,
)
_BOUND_BEHIND = re.compile(
    r"\s*,?\s*(?:but |and )?(?:it |now )?(?:reads|reading|read|measures|measured|actual(?:ly)?|is reading|got|"
    r"found)\s+(?:only |about )?[-+]?\d",
    re.IGNORECASE,
)
"""Behind what should be: 60 ohm reads 121."""
_STOPS = re.compile(r"[.;:!?\n](?=\s|$)|\bbut\b|\bexcept\b", re.IGNORECASE)
_SAME_AGAIN = frozenset(
    map(
        stem,
        words(
            """new filter run running then now old other psi climb rise rose bar degree low drop fall go hit"""
        ),
    )
)
CLEAR = 0.62  # likelihood of the quantity from which a value is taken without a question


@dataclass(frozen=True, slots=True)
class Value:
    """A value in the text: `words`: the stretch that says what it is of; `unit` empty where none is known here;
    `written` is the unit as typed; `bound`: it is said what it should be or once was, not what was read; `named`:
    the words name a quantity, though without a unit nothing may come of it."""

    span: Span
    words: Span
    value: float
    unit: str
    written: str
    quantities: tuple[Alternative, ...] = ()
    sure: bool = False
    bound: bool = False
    core: frozenset[str] = frozenset()
    named: bool = False


def values_in(knowledge: Knowledge, text: str) -> list[Value]:
    """The values of a text, in their order."""
    found: list[Value] = []
    before: frozenset[str] = frozenset()
    states_before: frozenset[str] = frozenset()
    unit_before = ""
    text = NAMED_BY_VALUE.sub(lambda name: "v".rjust(len(name[0])), text)
    slang = of_shop(knowledge)
    places = [part for part in places_in(text) if any(letter.isdigit() for letter in part.id)]
    for span, number, unit, written in numbers_in(text):
        if not written and any(part.start < span.end and span.start < part.end for part in places):
            continue
        words = _words_span(text, span, min(found[-1].words.end, span.start) if found else 0)
        near, states = context(text, words, span, slang)
        bare = not unit and not written
        if bare and not closed(text, span.end):
            continue
        states = states or (states_before if found else states)
        known_unit = unit or (unit_before if bare else "")
        around = f"{text[words.start : span.start]} {text[span.end : words.end]}".lower()
        core = near if near - _SAME_AGAIN else before
        matches = matches_of(knowledge, core, states, known_unit, around) if known_unit or bare else []
        if bare and not (matches and matches[0].likelihood >= (0.4 if known_unit else 0.6)):
            continue
        degrees = written.lower() in DEGREES
        if degrees:
            matches = matches_of(knowledge, core, states, "degC", around)
        unitless, named = not known_unit, bool(matches)
        if degrees or (unitless and _scaled(knowledge, matches)):
            matches = _in_units(knowledge, matches) if _said_as_such(near, matches) else []
        elif unitless:
            known_unit, matches = _customary(knowledge, matches)
        inherited = bool(before) and core is before and bool(known_unit and unit_before)
        other = inherited and parse_unit(known_unit).dimension != parse_unit(unit_before).dimension
        sure = (
            not other
            and not _of_something_else(text, span, words, matches)
            and not any(one.unit for one in matches)
            and (not unitless or _plain_enough(known_unit, number, matches))
            and bool(matches)
            and matches[0].state != UNSAID
            and bool(known_unit)
            and matches[0].likelihood >= CLEAR
            and (len(matches) == 1 or matches[0].likelihood - matches[1].likelihood >= 0.12)
        )
        bound = bool(_BOUND.search(text[: span.start]) or _BOUND_BEHIND.match(text, span.end))
        value = Value(
            span,
            words,
            number,
            "" if bound and bare else known_unit,
            written,
            tuple(matches[:3]),
            sure,
            bound,
            core_of(knowledge, matches) if sure else frozenset(),
            named,
        )
        found.append(value)
        before, states_before, unit_before = core, states, unit or unit_before
    return found


_AT = re.compile(
    r"\b(?:at|across|on|over|between|out of) (?:the |its |that )?"
    r"(starter|solenoid|alternator|module|ecm|relay|plug|pump|"
    r"fuse|lamp|injector|sensor|connector|pin|terminal|wire|cable|isolator|switch)s?\b",
    re.IGNORECASE,
)
_MORE_OR_LESS = re.compile(
    r"\s*(?:low|lower|down|less|short|below|high|higher|more|over|up|off)\b(?! (?:idle|load|speed|at|to))",
    re.IGNORECASE,
)


def _of_something_else(text: str, value: Span, words: Span, matches: Sequence[Alternative]) -> bool:
    """It was measured at a part that the quantity does not name, or says only by how much: 18 % low."""
    name = matches[0].id if matches else ""
    place = _AT.search(text[words.start : words.end])
    elsewhere = bool(place and stem(place[1].lower()) not in set(map(stem, name.split())))
    return elsewhere or bool(_MORE_OR_LESS.match(text, value.end) and not DIFFERENCE.search(name))


DEGREES = frozenset(words("deg degree degrees"))
UNITS = {"temperature": ("degC", "degF"), "pressure": ("psi", "bar", "kPa")}
"""The units that a bare temperature or pressure may be in; it is asked in which."""


def _scaled(knowledge: Knowledge, matches: Sequence[Alternative]) -> bool:
    """The quantity that was named is one whose unit nobody can guess."""
    units = {one.name: one.unit for one in known(knowledge)[0]}
    return bool(matches) and units[matches[0].id].dimension in UNITS


def _said_as_such(near: frozenset[str], matches: Sequence[Alternative]) -> bool:
    """A temperature or a pressure was spoken of, and of what."""
    return bool(near & _AS_SUCH) and bool(matches) and matches[0].likelihood >= CLEAR


_AS_SUCH = frozenset(map(stem, ("temperature", "pressure", "boost", "overheat", "coolant")))


def _in_units(knowledge: Knowledge, matches: Sequence[Alternative]) -> list[Alternative]:
    """The likeliest quantity in each of its units."""
    if not matches:
        return []
    best = matches[0]
    units = {one.name: one.unit for one in known(knowledge)[0]}
    return [replace(best, unit=unit) for unit in UNITS.get(units[best.id].dimension, ())]


def _plain_enough(unit: str, number: float, matches: Sequence[Alternative]) -> bool:
    """Batteries 12.1 at rest, which can only be volts."""
    usual = PLAUSIBLE.get(parse_unit(unit).dimension) if unit else None
    return bool(usual and matches and matches[0].likelihood >= SURELY and usual[0] <= number <= usual[1])


PLAUSIBLE = {"voltage": (0.5, 60.0)}  # volts of a machine
SURELY = 0.95  # likelihood of the quantity where a bare number is taken (judgement)
CUSTOMARY = frozenset(("voltage", "current", "resistance", "ratio", "speed of rotation"))
"""Of these a bare number is in one customary unit, and a question with that unit makes sense."""


def _customary(knowledge: Knowledge, matches: Sequence[Alternative]) -> tuple[str, list[Alternative]]:
    """The unit in which a bare number would be, where there is one, and the quantities that are measured in it."""
    units = {one.name: one.unit for one in known(knowledge)[0]}
    usual = [one for one in matches if units[one.id].dimension in CUSTOMARY]
    if not usual:
        return "", []
    unit = units[usual[0].id].name
    return unit, [one for one in usual if units[one.id].name == unit]


def _words_span(text: str, value: Span, after: int) -> Span:
    """From the last mark, or the last value, to the end of this one's clause."""
    start = after
    for stop in _STOPS.finditer(text, after, value.start):
        if stop[0] != ":":
            start = stop.end()
    comma = text.rfind(",", start, value.start)
    if comma >= 0 and re.search(r"[a-z]{2}", text[comma : value.start], re.IGNORECASE):
        start = comma + 1
    following = re.search(r"[.,;:!?\n](?=\s|$)|\d|\b(?:but|and|except|then)\b", text[value.end :])
    end = value.end + (following.start() if following else len(text) - value.end)
    between = text[value.end : end].lower()
    if (
        following
        and following[0].isdigit()
        and not any(pattern.search(between) for _, pattern in STATE_PATTERNS)
    ):
        end = value.end  # the words before the next number are that one's
    return Span(start, end)
