"""The numbers of a text that may be values, with their units."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from diagnose.errors import CallError
from diagnose.words.spans import Span, masked
from diagnose.words.stems import words
from diagnose.words.units import parse_unit

_NUMBER = re.compile(
    r"(?<![\w.,/#-])([-+]?(?:\d{1,3}(?:,\d{3})+|\d+(?:[.,]\d+)?|\.\d+))(?:\s?(?:-|to|–)\s?\d+(?"
    r":\.\d+)?(?=\s?[a-z%]))?",
    re.IGNORECASE,
)
_UNIT = re.compile(
    r"\s*([a-zA-Z°µΩ%\"][\w°%/.Ω]*(?:\s?(?:of )?(?:h2o|hg|abs|gauge|vacuum|water|mercury)\b)?)", re.IGNORECASE
)
_OTHER_UNITS = re.compile(
    r"\s*(v ?ac|v ?dc|volts? (?:ac|dc)|mpg|kw|hp|bhp|kva|km/h|kph|mph|km|miles?|mi|tons?|tonnes?|t|"
    r"metres?|meters?|m|feet|ft|"
    r"sg|litres? an hour|l/h|"
    r"gph|mv ac|degrees?|deg|btdc|kg|lbs?|pounds?|pct|revs|ish|x|times|nm)\b",
    re.IGNORECASE,
)
_NO_UNITS = frozenset(
    words("""in a c f t m k g h min s mins minute minutes sec secs second seconds hr hrs hour hours x""")
)
_WHICH_ONE = re.compile(
    r"(?:#|\bno\.?|\bnumber|\bnum|\bcyl(?:inder)?s?\.?|\bhole|\bpot|\bkilling|\bof|\bunit|\btruck|"
    r"\btrk|\bbus|\bset|\bsite|\bphase|"
    r"\bdriver (?:on|of)|\bx|\bmile|\b[a-z]+ \d+(?: and| or|,)?|\b\d+ of)\s*$",
    re.IGNORECASE,
)
_ON_ONE = re.compile(r"\bon\s+(?:\d+(?:\s*,\s*|\s+(?:and|&)\s+))*$", re.IGNORECASE)
MOST_CYLINDERS = 24  # low on 3: a cylinder and no value
_STATE_BEFORE = re.compile(
    r"(?:@|\bat|\bover|\babove|\baround|\bround|\bbelow|\bunder|\babout)\s*$", re.IGNORECASE
)
_SAME_UNIT = {
    **dict.fromkeys(("vac", "vdc", "v ac", "v dc", "volt ac", "volts ac", "volt dc", "volts dc"), "V"),
    **dict.fromkeys(("pounds", "pound", "lb", "lbs"), "psi"),
    "mv ac": "mV",
    "pct": "%",
}


class NumberInText(NamedTuple):
    """A number that may be a value: `unit` is its one name, empty where it has none that is known; `written` as
    typed."""

    span: Span
    value: float
    unit: str
    written: str


def numbers_in(text: str) -> Iterator[NumberInText]:
    """Each number that may be a value, in their order."""
    for found in _NUMBER.finditer(text):
        start, end = found.span()
        number = _value(found[1])
        name, written, stop = _unit_after(text, end)
        if not written:
            name, written = _unit_before(text, start)
        if not written and (other := _INSTEAD.match(text, end)):
            name, written, _ = _unit_after(text, other.end())
        if not written and _WHICH_ONE.search(text[:start]):
            continue
        if written.lower() in ("x", "times") or (not written and re.match(r"\s*(?:of|out of)\b", text[end:])):
            continue
        if not written and number <= MOST_CYLINDERS and number.is_integer() and _ON_ONE.search(text[:start]):
            continue
        dimension = parse_unit(name).dimension if name else ""
        if dimension == "time" or (dimension == "speed of rotation" and _STATE_BEFORE.search(text[:start])):
            continue
        if not written and _STATE_BEFORE.search(text[:start]):
            continue
        yield NumberInText(Span(start, stop), number, name, written)


NAMED_BY_VALUE = re.compile(r"\b5[ -]?v(?:olts?)?[ -]?(?=ref)", re.IGNORECASE)
"""The 5 V reference, whose value is its name."""


def without_values(text: str) -> str:
    """A name without the values in it, which are cut out of what is said as well: valve 3 mm deep."""
    if not any(letter.isdigit() for letter in text):
        return text
    text = NAMED_BY_VALUE.sub(lambda name: "v".rjust(len(name[0])), text)
    return masked(text, [one.span for one in numbers_in(text) if one.written])


_INSTEAD = re.compile(
    r"\s*,?\s*(?:instead of|rather than|not|vs\.?|against|should be|shd be|spec(?: is)?)\s+[-+]?\d+(?:\.\d+)?",
    re.IGNORECASE,
)
"""What it should be, whose unit is that of both: 13.1 instead of 28 volts."""
_CLOSES = re.compile(
    r"\s*(?:$|[.,;:)?!&]|@|(?:at|and|hot|cold|rest|resting|crank\w*|run|running|idle|idling|"
    r"steady|flat|on the|with|when|after|"
    r"used|should|instead|rather|not|want|vs|key|ki|now|normal|ok|but|rated|loaded|in|out|to|from|left|right)\b)",
    re.IGNORECASE,
)


def closed(text: str, end: int) -> bool:
    """Nothing that was counted stands behind the number: three trucks, two cups."""
    return bool(_CLOSES.match(text, end))


def _value(number: str) -> float:
    if re.fullmatch(r"[-+]?\d{1,3}(,\d{3})+", number):
        return float(number.replace(",", ""))
    return float(number.replace(",", "."))


def _unit_after(text: str, end: int) -> tuple[str, str, int]:
    """The unit's one name, as written, and where it ends."""
    other = _OTHER_UNITS.match(text, end)
    found = _UNIT.match(text, end)
    if found and not (other and len(other[1]) >= len(found[1].split()[0])):
        first = found[1].split()[0]
        for written in dict.fromkeys((found[1], found[1].rstrip("."), first, first.rstrip("."))):
            glued = not text[end : end + 1].isspace()
            if (
                written.lower() in _NO_UNITS
                and not glued
                and not (
                    written in ("A", "C", "F", "a", "c", "f") and _ends(text, found.start(1) + len(written))
                )
                and written not in ("C", "F")
            ):
                continue
            try:
                unit = parse_unit(written)
            except CallError:
                continue
            return unit.name, written, found.start(1) + len(written)
    if other:
        return _SAME_UNIT.get(other[1].lower(), ""), other[1], other.end()
    return "", "", end


_BEFORE = re.compile(r"\b(psi|kpa|bar|volts?|amps?|ohms?|ppm)\s*[:=]?\s*$", re.IGNORECASE)


def _unit_before(text: str, at: int) -> tuple[str, str]:
    """The unit that stands before its number: oil psi 45."""
    found = _BEFORE.search(text[:at])
    number_before = found and re.search(r"\d\s*$", text[: found.start()])
    return (parse_unit(found[1]).name, found[1]) if found and not number_before else ("", "")


def _ends(text: str, at: int) -> bool:
    """A lone letter is a unit only where the clause goes on with a mark, an operating state or not at all."""
    return bool(
        re.match(
            r"\s*(?:$|[.,;:)]|at\b|hot\b|cold\b|idle\b|crank|return\b|load|out|amb|"
            r"(?:with|on|and|in|by|for|per|under|over|from|to|when|after|steady|max|now|but)\b)",
            text[at:],
            re.IGNORECASE,
        )
    )
