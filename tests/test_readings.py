"""Readings: text to quantity to state. Conversions are checked against pint's own list of units."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import CallError
from diagnose.knowledge.bands import Band
from diagnose.knowledge.readings import find_quantity, reading_of, states_for
from diagnose.words.quantity import Quantity, parse_quantity, split_reading
from diagnose.words.units import convert, parse_unit
from tests.words.small import finding, knowledge, measured

CRANKING = "actuation pressure cranking"
KNOWN = knowledge(
    [
        measured(
            "actuation_pressure_low", "Actuation pressure while cranking is low", "icp low cranking",
            quantity=CRANKING, unit="MPa", bands=[Band("none", 0.7, None), Band("low", 3.5, None)],
        ),
        measured(
            "actuation_pressure_dead", "No actuation pressure at all",
            quantity=CRANKING, unit="psi", bands=[Band("present", 50, None)],
        ),
        measured(
            "battery_low_cranking", "Battery voltage while cranking is low",
            quantity="battery voltage cranking", unit="V", bands=[Band("low", 9.6, None)],
        ),
        measured(
            "battery_rest", "Battery voltage at rest is low",
            quantity="battery voltage at rest", unit="V", bands=[Band("low", 12.2, None)],
        ),
        measured(
            "coolant_hot", "Coolant temperature is high",
            quantity="coolant temperature", unit="degC",
            bands=[Band("high", None, 110), Band("warm", 110, 95)],
        ),
        measured(
            "oil_pressure_low", "Oil pressure cranking is low",
            quantity="oil pressure cranking", unit="kPa", bands=[Band("low", 70, None)],
        ),
        measured(
            "radiator_drop", "Radiator temperature drop is large",
            quantity="radiator temperature drop", unit="delta_degC", bands=[Band("large", None, 12)],
        ),
        measured(
            "manifold", "Manifold pressure", quantity="manifold pressure", unit="kPa abs",
            bands=[Band("low", 90, None)],
        ),
        finding("cranks_no_start", "Cranks but does not start", "no start"),
    ]
)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "quantity"),
    [
        ("2.1 MPa", Quantity(2.1, "MPa")),
        ("2.1mpa", Quantity(2.1, "MPa")),
        ("305 psi", Quantity(305, "psi")),
        ("9.4 V", Quantity(9.4, "V")),
        ("9,4 volts", Quantity(9.4, "V")),
        ("-3 inHg", Quantity(-3, "inHg")),
        ("−3 in. Hg", Quantity(-3, "inHg")),
        ("10 inHg vacuum", Quantity(-10, "inHg", "gauge")),
        ("85 °C", Quantity(85, "degC")),
        ("85 ℃", Quantity(85, "degC")),
        ("185 F", Quantity(185, "degF")),
        ("185 degrees F", Quantity(185, "degF")),
        ("12 inH2O", Quantity(12, "inH2O")),
        ("12 in. H₂O", Quantity(12, "inH2O")),
        ("12 inches of water", Quantity(12, "inH2O")),
        ("140 rpm", Quantity(140, "rpm")),
        ("4 %", Quantity(4, "%")),
        ("200 ppm", Quantity(200, "ppm")),
        ("30 psia", Quantity(30, "psi", "absolute")),
        ("30 psig", Quantity(30, "psi", "gauge")),
        ("3 kPa (abs)", Quantity(3, "kPa", "absolute")),
        ("1,234,567 Pa", Quantity(1234567, "Pa")),
        ("about 5 ft-lb", Quantity(5, "lbft")),
        ("5 mohm", Quantity(5, "mohm")),
        ("5 Mohm", Quantity(5, "Mohm")),
        ("0.5 kΩ", Quantity(0.5, "kohm")),
        (".5 bar", Quantity(0.5, "bar")),
        ("150/min", None),
    ],
)
def test_parse(text: str, quantity: Quantity | None) -> None:
    if quantity is None:
        with pytest.raises(CallError):
            parse_quantity(text)
    else:
        assert parse_quantity(text) == quantity


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2.1", "no unit"),
        ("12 furlongs", "not a unit"),
        ("5 MOHM", "Did you mean: Mohm, mohm"),
        ("MPa", "not a value"),
        ("", "not a value"),
        ("300-305 psi", "not a unit"),
        ("1,200 psi", "two ways"),
        ("nan V", "not a value that can be measured"),
        ("inf psi", "not a value that can be measured"),
        ("-inf psi", "not a value that can be measured"),
        ("1e9 Pa", "not a value that can be measured"),
        ("1e999 V", "not a value that can be measured"),
        ("-1 psia", "never negative"),
        ("-40 inHg", "cannot be"),
        ("-300 °C", "cannot be"),
        ("-460 F", "cannot be"),
        ("-5 ohm", "cannot be"),
        ("-140 rpm", "cannot be"),
    ],
)
def test_nonsense_is_refused(text: str, said: str) -> None:
    with pytest.raises(CallError, match=said):
        parse_quantity(text)


# Every unit against pint's own definition of it (pint 0.24 and later, default registry).
PINT_NAMES = {
    "Pa": "pascal", "kPa": "kilopascal", "MPa": "megapascal", "bar": "bar", "mbar": "millibar", "psi": "psi",
    "inHg": "inch_Hg", "mmHg": "millimeter_Hg", "inH2O": "inch_H2O", "V": "volt", "mV": "millivolt",
    "A": "ampere", "mA": "milliampere",
    "ohm": "ohm", "kohm": "kiloohm", "Mohm": "megaohm", "mohm": "milliohm",
    "degC": "degC", "degF": "degF", "delta_degC": "delta_degC", "delta_degF": "delta_degF", "rpm": "rpm",
    "Hz": "revolution / second", "%": "percent", "ppm": "ppm", "ms": "ms", "s": "second", "min": "minute",
    "h": "hour", "mm": "millimeter", "in": "inch", "mL": "milliliter", "L": "liter", "qt": "quart",
    "gal": "gallon", "mL/min": "milliliter / minute", "L/min": "liter / minute", "gal/min": "gallon / minute",
    "ft3/min": "foot ** 3 / minute", "ft3/h": "foot ** 3 / hour", "Nm": "newton * meter",
    "lbft": "foot * force_pound", "cSt": "centistokes",
}  # fmt: skip
FIRST = {parse_unit(name).dimension: name for name in reversed(PINT_NAMES)}


def test_conversions_agree_with_pints_own_units() -> None:
    import pint

    registry: Any = pint.UnitRegistry()
    for name, theirs in PINT_NAMES.items():
        first = FIRST[parse_unit(name).dimension]
        expected = registry.Quantity(17.5, theirs).to(PINT_NAMES[first]).magnitude
        assert convert(17.5, name, first) == pytest.approx(expected, rel=1e-6), name


def test_fixed_points() -> None:
    """Water boils at 212 °F and 100 °C; one bar is 14.5038 psi (common tables)."""
    assert convert(212, "degF", "degC") == pytest.approx(100)
    assert convert(-40, "degF", "degC") == pytest.approx(-40)
    assert convert(1, "bar", "psi") == pytest.approx(14.5038, abs=1e-4)


def test_tenfolds_stay_exact() -> None:
    """A value at a limit is at it in every unit."""
    assert [convert(35, "bar", "MPa"), convert(350, "kPa", "bar"), convert(0.35, "MPa", "kPa")] == [
        3.5,
        3.5,
        350,
    ]


def test_only_units_of_one_dimension_are_converted() -> None:
    with pytest.raises(ValueError, match="not of one dimension"):
        convert(1, "bar", "V")


@given(st.floats(-80, 1e6), st.sampled_from(["kPa", "psi", "bar", "inHg", "inH2O"]))
def test_conversion_round_trip(value: float, unit: str) -> None:
    assert convert(convert(value, "kPa", unit), unit, "kPa") == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "split"),
    [
        ("actuation pressure cranking 2.1 MPa", ("actuation pressure cranking", Quantity(2.1, "MPa"))),
        ("icp 305 psi cranking", ("icp cranking", Quantity(305, "psi"))),
        ("icp=2.1MPa", ("icp", Quantity(2.1, "MPa"))),
        ("12.6v battery", ("battery", Quantity(12.6, "V"))),
        ("crankcase pressure: 6 inches of water", ("crankcase pressure", Quantity(6, "inH2O"))),
        ("coolant temp is 185 degrees F", ("coolant temp", Quantity(185, "degF"))),
        ("actuation pressure 2.1", ("actuation pressure", Quantity(2.1, ""))),
        ("misfire cylinder 3", ("misfire cylinder", Quantity(3, ""))),
        ("5 volt reference 4.6 V", ("reference", Quantity(4.6, "V"))),
        ("no start", None),
        ("2.1 MPa", None),
        ("164/18", None),
        ("P2291", None),
        ("", None),
    ],
)
def test_split(text: str, split: tuple[str, Quantity] | None) -> None:
    assert split_reading(text) == split


def test_two_values_are_refused() -> None:
    with pytest.raises(CallError, match="more than one value"):
        split_reading("oil pressure 40 psi at 1500 rpm")


@pytest.mark.parametrize(
    ("text", "low", "dead"),
    [
        ("0.1 MPa", "none", "present"),
        ("50 psi", "none", "normal"),
        ("0.7 MPa", "low", "normal"),  # a limit itself is not below it
        ("305 psi", "low", "normal"),
        ("700 kPa", "low", "normal"),
        ("3500 kPa", "normal", "normal"),
        ("35 bar", "normal", "normal"),
        ("600 psig", "normal", "normal"),
    ],
)
def test_one_value_sets_all_findings_of_the_quantity(text: str, low: str, dead: str) -> None:
    expected = (("actuation_pressure_low", low), ("actuation_pressure_dead", dead))
    assert states_for(KNOWN, CRANKING, parse_quantity(text)) == expected


@pytest.mark.parametrize(("text", "state"), [("185 F", "normal"), ("210 F", "warm"), ("235 F", "high")])
def test_temperatures_have_an_offset(text: str, state: str) -> None:
    assert states_for(KNOWN, "coolant temperature", parse_quantity(text)) == (("coolant_hot", state),)


@pytest.mark.parametrize(("text", "state"), [("8 °C", "normal"), ("20 F", "normal"), ("25 F", "large")])
def test_differences_of_temperature_have_none(text: str, state: str) -> None:
    assert states_for(KNOWN, "radiator temperature drop", parse_quantity(text)) == (("radiator_drop", state),)


@pytest.mark.parametrize(
    ("name", "quantity", "said"),
    [
        (CRANKING, Quantity(2.1, ""), "wanted in MPa"),
        (CRANKING, Quantity(9, "V"), "is a voltage.*wanted in MPa"),
        (CRANKING, Quantity(2, "MPa", "absolute"), "wanted as gauge pressure.*barometer"),
        ("manifold pressure", Quantity(95, "kPa"), "wanted as absolute pressure.*barometer"),
        ("shoe size", Quantity(9, "V"), "no quantity that the knowledge knows"),
    ],
)
def test_wrong_units_are_told(name: str, quantity: Quantity, said: str) -> None:
    with pytest.raises(CallError, match=said):
        states_for(KNOWN, name, quantity)


def test_absolute_pressure_where_it_is_wanted() -> None:
    assert states_for(KNOWN, "manifold pressure", parse_quantity("12 psia")) == (("manifold", "low"),)


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("actuation pressure cranking", CRANKING),
        ("icp cranking", CRANKING),
        ("icp", CRANKING),
        ("coolant temp", "coolant temperature"),
        ("oil presure cranking", "oil pressure cranking"),
        ("battery volts at rest", "battery voltage at rest"),
    ],
)
def test_quantities_are_found_by_words(words: str, name: str) -> None:
    assert find_quantity(KNOWN, words) == name


def test_a_vague_quantity_asks() -> None:
    with pytest.raises(CallError, match="does not clearly name") as error:
        find_quantity(KNOWN, "battery voltage")
    assert set(error.value.suggestions) == {"battery voltage cranking", "battery voltage at rest"}
    with pytest.raises(CallError, match="no quantity"):
        find_quantity(KNOWN, "zzz")


def test_reading_of_a_text() -> None:
    assert reading_of(KNOWN, "icp 2.1 MPa") == (CRANKING, Quantity(2.1, "MPa"))
    assert reading_of(KNOWN, "actuation pressure cranking 2.1") == (CRANKING, Quantity(2.1, ""))
    assert reading_of(KNOWN, "cranked 10 s no start") is None
    assert reading_of(KNOWN, "misfire cylinder 3") is None
    assert reading_of(KNOWN, "no start") is None
    with pytest.raises(CallError, match="does not clearly name"):
        reading_of(KNOWN, "battery voltage 9 V")


@pytest.mark.parametrize("read", [parse_quantity, split_reading, lambda text: reading_of(KNOWN, text)])
@given(text=st.text(max_size=40) | st.from_regex(r"[0-9.,e+-]{1,9} ?[a-zA-Z%]{0,4}", fullmatch=True))
def test_any_text_is_answered_or_refused(read: Callable[[str], object], text: str) -> None:
    with contextlib.suppress(CallError):
        read(text)
