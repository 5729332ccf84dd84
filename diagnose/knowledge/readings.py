"""Measured values: text -> quantity with unit -> the states of the findings that share the quantity.

Units are never guessed: a bare number is asked for its unit. Pressures are gauge unless marked absolute.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.errors import CallError
from diagnose.knowledge.likeness import Match, Phrase, build_index, search
from diagnose.knowledge.records import Finding, Knowledge, Reading
from diagnose.knowledge.slang import normalise
from diagnose.knowledge.units import Unit, convert, parse_unit
from diagnose.knowledge.words import is_clear

CLEAR_WITH_UNIT = 80.0  # words that mean a quantity, where its unit agrees and nothing else comes near
LARGEST = 1e9  # no value on an engine is as large in any of the units
# The lowest value that can be, by dimension (gauge pressure: a perfect vacuum at a high barometer).
_LOWEST = {
    "pressure": (-105.0, "kPa"),
    "temperature": (-273.15, "degC"),
    "resistance": (0.0, "ohm"),
    "speed of rotation": (0.0, "rpm"),
    "time": (0.0, "s"),
    "volume": (0.0, "L"),
    "flow": (0.0, "L/min"),
    "viscosity": (0.0, "cSt"),
}
_NUMBER = r"[-+]?(?:\d[\d,]*\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_VALUE = re.compile(
    rf"\s*(?:=|~|about|approx\.?)?\s*({_NUMBER}|[-+]?(?:nan|inf(?:inity)?))(.*)", re.IGNORECASE
)
_VALUE_WITHIN = re.compile(rf"(?<![\w.,/+-])({_NUMBER}|[-+]?(?:nan|inf)\b)", re.IGNORECASE)
_THOUSANDS = re.compile(r"[-+]?\d{1,3}(,\d{3})+")
_STATE_WORDS = re.compile(
    r"\b(is|too|very|low|high|normal|out of range|wrong|off|bad|below|above|down|not|no)\b"
)
_NAMED_BY_VALUE = re.compile(
    r"\b(?:5|12|24)[ -]?v(?:olts?)?[ -](?=ref|supply|sensor|feed|system|set)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its unit, e.g. 2.1 MPa. An empty unit is a bare number, still to be asked about.

    `reference` of a pressure: "gauge", "absolute", or "" where the text does not say (taken as gauge).
    """

    value: float
    unit: str
    reference: str = ""

    def __str__(self) -> str:
        return " ".join(part for part in (f"{self.value:g}", self.unit, self.reference) if part)


def parse_quantity(text: str) -> Quantity:
    """`"2.1 MPa"`, `"185 F"`, `"12 in. H2O"`, `"10 inHg vacuum"`, `"30 psia"` -> Quantity.

    Raises CallError for a missing or unknown unit and for values that cannot be (nan, 1e9, below absolute
    zero, a negative resistance).
    """
    found = _VALUE.fullmatch(_plain(text))
    if not found:
        raise CallError(f"{text!r} is not a value with a unit; write for example: 2.1 MPa")
    if not found[2].strip():
        raise CallError(
            f"{text!r} has no unit; write for example: {found[1]} MPa, {found[1]} psi, {found[1]} V"
        )
    return _quantity(found[1], parse_unit(found[2]))


def split_reading(text: str) -> tuple[str, Quantity] | None:
    """The words and the value of `"actuation pressure cranking 2.1 MPa"`, value and words in any order.

    None when the text holds no value. A bare number counts only at the end of the text; its Quantity has no
    unit. Raises CallError for two values, or a value that cannot be.
    """
    plain = _NAMED_BY_VALUE.sub("", _plain(text))  # "5 V supply" is a name
    found = list(_values(plain))
    if len(found) > 1:
        raise CallError(f"{text!r} has more than one value; note one reading at a time")
    if not found:
        return _split_bare(plain)
    start, end, quantity = found[0]
    words = f"{plain[:start]} {plain[end:]}"
    words = " ".join(re.sub(r"\s(?:=|is|at|about|of)\s*$|[:=@~]", " ", f"{words} ").split())
    return (words, quantity) if words else None


def quantities(knowledge: Knowledge) -> tuple[str, ...]:
    """The names of all quantities that findings are set from, in file order."""
    return tuple(dict.fromkeys(reading.quantity for _, reading in _readings(knowledge)))


def find_quantity(knowledge: Knowledge, words: str) -> str:
    """The quantity that the words mean, by its name or the names and aliases of findings that carry it.

    Raises CallError with suggestions when none or several come near.
    """
    matches = _quantities_like(knowledge, words)
    if matches and is_clear(matches):
        return matches[0].id
    raise _not_clear(words, matches)


def states_for(knowledge: Knowledge, quantity_name: str, quantity: Quantity) -> tuple[tuple[str, str], ...]:
    """(finding id, state) for every finding that shares the quantity, by its bands in order.

    A band holds for values strictly below `below` and strictly above `above`. Raises CallError for a bare
    number, a unit of another dimension, absolute against gauge pressure, or an unknown quantity.
    """
    shared = [
        pair for pair in _readings(knowledge) if normalise(pair[1].quantity) == normalise(quantity_name)
    ]
    if not shared:
        raise CallError(
            f"{quantity_name!r} is no quantity that the knowledge knows.", quantities(knowledge)[:3]
        )
    return tuple((finding.id, _state(finding, reading, quantity)) for finding, reading in shared)


def reading_of(knowledge: Knowledge, text: str) -> tuple[str, Quantity] | None:
    """The quantity's name and the value in a text, or None when the text is no reading.

    Where the words alone leave a choice, the unit may settle it ("battery 12.4 V"). Text that only happens
    to hold a number ("misfire cylinder 3", "cranked 10 s") is no reading. Raises CallError as `split_reading`
    does, and when several quantities fit.
    """
    split = split_reading(text)
    if split is None:
        return None
    words, quantity = split
    matches = _quantities_like(knowledge, words)
    if not matches or not is_clear(matches):
        matches = tuple(match for match in matches if _fits(knowledge, match.id, quantity))
    if not matches:
        return None
    if not is_clear(matches, CLEAR_WITH_UNIT):
        raise _not_clear(words, matches)
    return matches[0].id, quantity


# ---- text -> value ----


def _plain(text: str) -> str:
    """Compatibility characters made plain (the ohm and degree signs, superscripts), minus signs alike."""
    return unicodedata.normalize("NFKC", text.replace("−", "-").replace("–", "-"))


def _quantity(number: str, unit: Unit) -> Quantity:
    value = _value(number)
    if unit.vacuum:
        value = -abs(value)
    lowest = _LOWEST.get(unit.dimension)
    if unit.reference == "absolute" and value < 0:
        raise CallError(f"{value:g} {unit.name} absolute cannot be: an absolute pressure is never negative")
    if value < 0 and lowest and convert(value, unit.name, lowest[1]) < lowest[0]:
        raise CallError(
            f"{value:g} {unit.name} cannot be: no {unit.dimension} is below {lowest[0]:g} {lowest[1]}"
        )
    return Quantity(value, unit.name, unit.reference)


def _value(number: str) -> float:
    if "," in number:
        number = _without_comma(number)
    value = float(number)
    if not math.isfinite(value) or abs(value) >= LARGEST:
        raise CallError(f"{number} is not a value that can be measured")
    return value


def _without_comma(number: str) -> str:
    """A decimal comma, or thousands where that is certain: 1,200 could be either."""
    if _THOUSANDS.match(number) and ("." in number or number.count(",") > 1):
        return number.replace(",", "")
    plain = number.replace(",", ".")
    if plain.count(".") != 1 or _THOUSANDS.fullmatch(number):
        raise CallError(f"{number} can be read in two ways; write it without the comma")
    return plain


def _values(text: str) -> Iterator[tuple[int, int, Quantity]]:
    """Every value with a known unit: where it starts and ends, and what it is."""
    for found in _VALUE_WITHIN.finditer(text):
        unit = _unit_after(text, found.end())
        if unit:
            yield found.start(), unit[0], _quantity(found[1], unit[1])


def _unit_after(text: str, start: int) -> tuple[int, Unit] | None:
    """The longest writing of a unit, up to four words, that follows; where it ends."""
    ends = [start + word.end() for word in re.finditer(r"[^\s,;]+", text[start:])][:4]
    for end in reversed(ends):
        try:
            return end, parse_unit(text[start:end])
        except CallError:
            continue
    return None


def _split_bare(text: str) -> tuple[str, Quantity] | None:
    found = re.fullmatch(rf"(.*?[^\W\d_].*?)[\s:=]+({_NUMBER})\s*", text)
    return (found[1].strip(), Quantity(_value(found[2]), "")) if found else None


# ---- value -> states ----


def _readings(knowledge: Knowledge) -> Iterator[tuple[Finding, Reading]]:
    for finding in knowledge.findings.values():
        if finding.reading:
            yield finding, finding.reading


def _quantities_like(knowledge: Knowledge, words: str) -> tuple[Match, ...]:
    return search(build_index(tuple(_quantity_phrases(knowledge))), words)


def _not_clear(words: str, matches: tuple[Match, ...]) -> CallError:
    what = "does not clearly name one quantity." if matches else "is no quantity that the knowledge knows."
    return CallError(f"{words!r} {what}", [match.id for match in matches[:3]])


def _fits(knowledge: Knowledge, quantity_name: str, quantity: Quantity) -> bool:
    """The unit has the dimension that the quantity is measured in."""
    if not quantity.unit:
        return False
    wanted = (
        parse_unit(reading.unit) for _, reading in _readings(knowledge) if reading.quantity == quantity_name
    )
    given = parse_unit(quantity.unit)
    return any(_as_wanted(given, unit).dimension == unit.dimension for unit in wanted)


def _quantity_phrases(knowledge: Knowledge) -> Iterator[Phrase]:
    for finding, reading in _readings(knowledge):
        names = (finding.name, finding.id.replace("_", " "), *finding.aliases)
        bare = (" ".join(_STATE_WORDS.sub(" ", name.lower()).split()) for name in names)
        for text in dict.fromkeys((reading.quantity, *bare)):
            yield Phrase(reading.quantity, "reading", text, normalise(text))


def _state(finding: Finding, reading: Reading, quantity: Quantity) -> str:
    value = _in_unit(quantity, reading)
    for band in reading.bands:
        if (band.below is None or value < band.below) and (band.above is None or value > band.above):
            return band.state
    return finding.states[0]


def _in_unit(quantity: Quantity, reading: Reading) -> float:
    """The value in the reading's unit, rounded to what a conversion can carry."""
    wanted = parse_unit(reading.unit)
    if not quantity.unit:
        raise CallError(f"{quantity} has no unit: {reading.quantity} is wanted in {reading.unit} or alike")
    given = _as_wanted(parse_unit(quantity.unit), wanted)
    if given.dimension != wanted.dimension:
        raise CallError(
            f"{quantity} is a {given.dimension}: {reading.quantity} is wanted in {reading.unit} or alike"
        )
    if (quantity.reference == "absolute") != (wanted.reference == "absolute"):
        raise CallError(
            f"{reading.quantity} is wanted as {wanted.reference or 'gauge'} pressure: the two differ by the "
            "barometer, about 101 kPa (14.7 psi) at sea level and less higher up. Write the value in "
            f"{wanted.name} {wanted.reference or 'gauge'}"
        )
    return float(f"{convert(quantity.value, given.name, wanted.name):.9g}")


def _as_wanted(given: Unit, wanted: Unit) -> Unit:
    """A difference of temperatures is also written in plain degrees."""
    if wanted.dimension == "temperature difference" and given.dimension == "temperature":
        return parse_unit(f"delta_{given.name}")
    return given
