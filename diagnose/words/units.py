"""The units of the workshop: every usual writing -> one name, and conversion."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

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


_MINUTE, _HOUR = 60.0, 3600.0  # seconds
_GALLON, _CUBIC_FOOT = 3.785411784, 28.316846592  # litres
# Dimension -> name of the unit -> (its size in the first unit of the dimension, other writings without spaces, dots
# and hyphens). Factors from memory of NIST SP 811, checked in the tests against a library of units.
_UNITS: dict[str, dict[str, tuple[float, str]]] = {
    "pressure": {
        "Pa": (1.0, ""),
        "kPa": (1e3, "kilopascal"),
        "MPa": (1e6, "megapascal"),
        "bar": (1e5, "bars"),
        "mbar": (100.0, "millibar hPa"),
        "psi": (6894.757293168361, "lb/in2 pounds lbs"),
        "inHg": (3386.389, 'inchhg inchesofmercury inchesmercury "hg'),
        "mmHg": (133.322387415, ""),
        "inH2O": (249.08891, 'inchh2o inwc iwc inchesofwater inchesh2o "h2o inwater'),
        "mmH2O": (9.80665, ""),
    },
    "voltage": {"V": (1.0, "volt volts vdc"), "mV": (1e-3, "millivolt millivolts")},
    "current": {"A": (1.0, "amp amps"), "mA": (1e-3, "milliamp milliamps")},
    "resistance": {
        "ohm": (1.0, "Ω ohms"),
        "kohm": (1e3, "kΩ kohms kilohm kilohms"),
        "Mohm": (1e6, "MΩ megohm megohms"),
        "mohm": (1e-3, "mΩ milliohm milliohms"),
    },
    "temperature": {
        "degC": (1.0, "°C C celsius degreesC degreeC"),
        "degF": (5 / 9, "°F F fahrenheit degreesF degreeF"),
    },
    "temperature difference": {"delta_degC": (1.0, "K Δ°C"), "delta_degF": (5 / 9, "Δ°F")},
    "speed of rotation": {
        "rpm": (1.0, "1/min r/min rev/min revs rpms"),
        "Hz": (60.0, "hertz"),
    },
    "ratio": {"%": (1.0, "percent pct"), "ppm": (1e-4, "mg/kg")},
    "time": {
        "s": (1.0, "sec secs second seconds"),
        "ms": (1e-3, "msec milliseconds"),
        "min": (_MINUTE, "mins minute minutes"),
        "h": (_HOUR, "hr hrs hour hours"),
    },
    "length": {"mm": (1.0, ""), "in": (25.4, "inch inches")},
    "volume": {
        "L": (1.0, "liter liters litre litres"),
        "mL": (1e-3, "cc cm3 milliliter"),
        "qt": (_GALLON / 4, "quart quarts"),
        "gal": (_GALLON, "gallon gallons"),
    },
    "flow": {
        "L/min": (1.0, "lpm"),
        "mL/min": (1e-3, "cc/min"),
        "gal/min": (_GALLON, "gpm"),
        "ft3/min": (_CUBIC_FOOT, "cfm"),
        "ft3/h": (_CUBIC_FOOT / _MINUTE, "cfh"),
    },
    "torque": {"Nm": (1.0, ""), "lbft": (1.3558179483314004, "ftlb ftlbs")},
    "viscosity": {"cSt": (1.0, "mm2/s")},
}
_ZERO = {"degF": -160 / 9}  # the zero of a scale, in the first unit of its dimension: 0 °F is -17.8 °C
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
    """A value in another unit; temperatures with their offset. ValueError where they are not of one dimension."""
    if unit == wanted:
        return value
    sizes, wanted_sizes = _sizes(unit), _sizes(wanted)
    if sizes is not wanted_sizes:
        raise ValueError(f"{unit} and {wanted} are not of one dimension")
    return (value * sizes[unit][0] + _ZERO.get(unit, 0.0) - _ZERO.get(wanted, 0.0)) / sizes[wanted][0]


def _sizes(unit: str) -> dict[str, tuple[float, str]]:
    """The units of the same dimension."""
    return next(units for units in _UNITS.values() if unit in units)


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
