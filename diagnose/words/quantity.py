"""A measured value as it is typed: text -> number with unit.

Units are never guessed: a bare number is asked for its unit. Pressures are gauge unless marked absolute.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.errors import CallError
from diagnose.words.units import Unit, convert, parse_unit

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
