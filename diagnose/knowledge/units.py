"""The units of the workshop: every usual writing -> one name, and conversion by pint.

pint is imported only to convert between two different units (its import costs about 0.1 s), and with the
definitions below instead of its own list, which takes another 0.13 s to read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from diagnose.errors import CallError


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: its one name and its dimension in words.

    For pressures, `reference` is "gauge", "absolute" or "" (not said), and `vacuum` tells that the value
    counts below the barometer.
    """

    name: str
    dimension: str
    reference: str = ""
    vacuum: bool = False


_BASE = (
    "meter = [length]",
    "kilogram = [mass]",
    "second = [time]",
    "ampere = [current]",
    "kelvin = [temperature]; offset: 0",
    "turn = [rotation]",
    "ratio = []",
    "newton = kilogram * meter / second ** 2",
    "pascal = newton / meter ** 2",
    "volt = newton * meter / second / ampere",
    "liter = 1e-3 * meter ** 3",
    "minute = 60 * second",
)
# Dimension -> name of the unit -> (pint definition, other writings without spaces, dots and hyphens).
# Factors from memory of NIST SP 811, checked in the tests against pint's own list.
_UNITS: dict[str, dict[str, tuple[str, str]]] = {
    "pressure": {
        "Pa": ("pascal", ""),
        "kPa": ("1e3 * pascal", "kilopascal"),
        "MPa": ("1e6 * pascal", "megapascal"),
        "bar": ("1e5 * pascal", "bars"),
        "mbar": ("100 * pascal", "millibar hPa"),
        "psi": ("6894.757293168361 * pascal", "lb/in2 pounds lbs"),
        "inHg": ("3386.389 * pascal", 'inchhg inchesofmercury inchesmercury "hg'),
        "mmHg": ("133.322387415 * pascal", ""),
        "inH2O": ("249.08891 * pascal", 'inchh2o inwc iwc inchesofwater inchesh2o "h2o inwater'),
        "mmH2O": ("9.80665 * pascal", ""),
    },
    "voltage": {"V": ("volt", "volt volts vdc"), "mV": ("1e-3 * volt", "millivolt millivolts")},
    "current": {"A": ("ampere", "amp amps"), "mA": ("1e-3 * ampere", "milliamp milliamps")},
    "resistance": {
        "ohm": ("volt / ampere", "Ω ohms"),
        "kohm": ("1e3 * volt / ampere", "kΩ kohms kilohm kilohms"),
        "Mohm": ("1e6 * volt / ampere", "MΩ megohm megohms"),
        "mohm": ("1e-3 * volt / ampere", "mΩ milliohm milliohms"),
    },
    "temperature": {
        "degC": ("kelvin; offset: 273.15", "°C C celsius degreesC degreeC"),
        "degF": ("5 / 9 * kelvin; offset: 255.37222222222223", "°F F fahrenheit degreesF degreeF"),
    },
    "temperature difference": {
        "delta_degC": ("kelvin", "K Δ°C"),
        "delta_degF": ("5 / 9 * kelvin", "Δ°F"),
    },
    "speed of rotation": {
        "rpm": ("turn / minute", "1/min r/min rev/min revs rpms"),
        "Hz": ("turn / second", "hertz"),
    },
    "ratio": {"%": ("1e-2 * ratio", "percent pct"), "ppm": ("1e-6 * ratio", "mg/kg")},
    "time": {
        "ms": ("1e-3 * second", "msec milliseconds"),
        "s": ("second", "sec secs second seconds"),
        "min": ("minute", "mins minute minutes"),
        "h": ("60 * minute", "hr hrs hour hours"),
    },
    "length": {"mm": ("1e-3 * meter", ""), "in": ("0.0254 * meter", "inch inches")},
    "volume": {
        "mL": ("1e-3 * liter", "cc cm3 milliliter"),
        "L": ("liter", "liter liters litre litres"),
        "qt": ("0.946352946 * liter", "quart quarts"),
        "gal": ("3.785411784 * liter", "gallon gallons"),
    },
    "flow": {
        "mL/min": ("1e-3 * liter / minute", "cc/min"),
        "L/min": ("liter / minute", "lpm"),
        "gal/min": ("3.785411784 * liter / minute", "gpm"),
        "ft3/min": ("28.316846592 * liter / minute", "cfm"),
        "ft3/h": ("28.316846592 * liter / minute / 60", "cfh"),
    },
    "torque": {"Nm": ("newton * meter", ""), "lbft": ("1.3558179483314004 * newton * meter", "ftlb ftlbs")},
    "viscosity": {"cSt": ("1e-6 * meter ** 2 / second", "mm2/s")},
}
_REFERENCE = re.compile(r"(.+?)\(?(gauge|ga|g|absolute|abs|a|vacuum|vac)\)?", re.IGNORECASE)
_REFERENCES = {"g": "gauge", "a": "absolute", "v": "gauge"}


def parse_unit(text: str) -> Unit:
    """The unit that a text writes: `psi`, `in. H2O`, `degrees F`, `kPa abs`, `inHg vacuum`.

    As written first, then without regard to case where that leaves one unit (`mpa` is MPa, but `MOHM` could
    be two). Raises CallError for an unknown or doubtful unit.
    """
    squeezed = re.sub(r"[\s.·*-]", "", text)
    unit = _look_up(squeezed) or _referenced(squeezed)
    if unit is None:
        raise CallError(f"{text.strip()!r} is not a unit that is known here", _likely(squeezed))
    return unit


def convert(value: float, unit: str, wanted: str) -> float:
    """A value in another unit of the same dimension; temperatures with their offset."""
    if unit == wanted:
        return value
    registry, names = _registry()
    return float(registry.Quantity(value, names[unit]).to(names[wanted]).magnitude)


def _look_up(squeezed: str) -> Unit | None:
    exact, caseless = _writings()
    found = exact.get(squeezed) or caseless.get(squeezed.casefold(), ())
    return found[0] if len(found) == 1 else None


def _referenced(squeezed: str) -> Unit | None:
    """A pressure unit with gauge, absolute or vacuum behind it: psig, kPa(a), inHg vac."""
    found = _REFERENCE.fullmatch(squeezed)
    unit = _look_up(found[1]) if found else None
    if found is None or unit is None or unit.dimension != "pressure":
        return None
    mark = found[2][0].lower()
    return Unit(unit.name, unit.dimension, _REFERENCES[mark], vacuum=mark == "v")


def _likely(squeezed: str) -> list[str]:
    """Known names that differ from the text in case only, or begin like it."""
    names = [name for units in _UNITS.values() for name in units]
    return [name for name in names if name.casefold()[:2] == squeezed.casefold()[:2]][:3]


@lru_cache(maxsize=1)
def _writings() -> tuple[dict[str, tuple[Unit, ...]], dict[str, tuple[Unit, ...]]]:
    """Every writing, as it is and without case, with the units that it can mean."""
    exact: dict[str, tuple[Unit, ...]] = {}
    caseless: dict[str, tuple[Unit, ...]] = {}
    for dimension, units in _UNITS.items():
        for name, (_, others) in units.items():
            unit = Unit(name, dimension)
            for writing in (name, *others.split()):
                exact[writing] = (unit,)
                known = caseless.get(writing.casefold(), ())
                caseless[writing.casefold()] = known if unit in known else (*known, unit)
    return exact, caseless


@lru_cache(maxsize=1)
def _registry() -> tuple[Any, dict[str, str]]:
    """Pint with these units only, and the plain name that each has there (pint takes no `%` or `L/min`)."""
    import pint

    definitions = [(name, line) for units in _UNITS.values() for name, (line, _) in units.items()]
    names = {name: f"unit_{i}" for i, (name, _) in enumerate(definitions)}
    registry: Any = pint.UnitRegistry([*_BASE, *(f"{names[name]} = {line}" for name, line in definitions)])
    return registry, names
