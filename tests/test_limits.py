"""Limits that follow facts and other readings, on the shipped knowledge and on drawn values.

Expected states are of the trade: a 24 V set is two 12 V sets in a row, so that every voltage of it doubles.
Voltages while cranking in the cold, and drops, as a public engine manual tables them: 6 to 8 V at -23 to -7 degC
(12 to 16 V on 24 V), isolator 0.5 V (1.0 V).
"""

from __future__ import annotations

from dataclasses import replace
from functools import reduce

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.cases.case import Case, advance, fold
from diagnose.cases.events import Event, Learnt, Measured, Noted, Opened
from diagnose.cases.scenario import loads
from diagnose.cases.understood import understood
from diagnose.diagnosis import diagnose
from diagnose.errors import CallError, DataError, Place
from diagnose.intake.note import followed, note
from diagnose.intake.outcome import Intake
from diagnose.knowledge import limits
from diagnose.knowledge.bands import Band, Reading, Scale
from diagnose.knowledge.readings import meaning, quantities
from diagnose.words.quantity import Quantity
from tests.shipped import shipped_knowledge
from tests.words.small import finding

KNOWN = shipped_knowledge()
VOLTS = {"system_voltage": "24 V"}, {"system_voltage": "12 V"}
calm = settings(deadline=None, derandomize=True)


def opened(**facts: str) -> Case:
    return fold(1, [Opened("L-04", facts=facts, sequence=1)])


def after(case: Case, *events: Event) -> Case:
    start = len(case.history)
    numbered = [replace(event, sequence=start + n) for n, event in enumerate(events, 1)]
    return reduce(advance, numbered, case)


def noted(case: Case, *texts: str) -> Case:
    return reduce(lambda case, text: after(case, *note(KNOWN, case, text).events), texts, case)


def states(case: Case) -> dict[str, str]:
    return {seen.finding: seen.state for seen in understood(KNOWN, case).case.observations}


@pytest.mark.parametrize(
    ("facts", "texts", "expected"),
    [
        ({"system_voltage": "24 V"}, ["battery at rest 23.4 V"], {"battery_rest_voltage_low": "present"}),
        ({"system_voltage": "24 V"}, ["battery at rest 25.2 V"], {"battery_rest_voltage_low": "absent"}),
        ({"system_voltage": "24 V"}, ["voltage while cranking 17 V"], {"cranking_voltage_low": "present"}),
        ({"system_voltage": "24 V"}, ["voltage while cranking 16 V"], {"cranking_voltage_low": "present"}),
        ({"system_voltage": "24 V"}, ["voltage while cranking 20 V"], {"cranking_voltage_low": "absent"}),
        (
            {"system_voltage": "24 V"},
            ["charging voltage 24.5 V"],
            {"charging_voltage_low": "present", "charging_voltage_high": "absent"},
        ),
        (
            {"system_voltage": "24 V"},
            ["charging voltage 28 V"],
            {"charging_voltage_low": "absent", "charging_voltage_high": "absent"},
        ),
        (
            {"system_voltage": "12 V"},
            ["charging voltage 16.8 V"],
            {"charging_voltage_low": "absent", "charging_voltage_high": "present"},
        ),
        (
            {"system_voltage": "12 V"},
            ["start circuit voltage drop 0.8 V"],
            {"start_circuit_drop_high": "present"},
        ),
        (
            {"system_voltage": "24 V"},
            ["start circuit voltage drop 0.8 V"],
            {"start_circuit_drop_high": "absent"},
        ),
        (
            {"system_voltage": "12 V"},
            ["isolator voltage drop cranking 0.4 V"],
            {"isolator_drop_high": "absent"},
        ),
        (
            {"system_voltage": "12 V"},
            ["isolator voltage drop cranking 0.8 V"],
            {"isolator_drop_high": "present"},
        ),
        (
            {"system_voltage": "24 V"},
            ["isolator voltage drop cranking 0.8 V"],
            {"isolator_drop_high": "absent"},
        ),
        ({"injection": "pump-line-nozzle"}, ["fuel supply pressure 34 kPa"], {"fuel_pressure": "normal"}),
        ({"injection": "pump-line-nozzle"}, ["fuel supply pressure 15 kPa"], {"fuel_pressure": "low"}),
        ({"injection": "common rail"}, ["fuel supply pressure 34 kPa"], {"fuel_pressure": "none"}),
        ({}, ["fuel supply pressure 400 kPa"], {"fuel_pressure": "normal"}),
        (
            {"system_voltage": "12 V"},
            ["ambient temperature -15 C", "battery voltage cranking 8.5 V"],
            {"cranking_voltage_low": "absent"},
        ),
        (
            {"system_voltage": "12 V"},
            ["battery voltage cranking 8.5 V", "outside temperature 5 F"],
            {"cranking_voltage_low": "absent"},
        ),
        (
            {"system_voltage": "24 V"},
            ["ambient temperature -15 C", "battery voltage cranking 13 V"],
            {"cranking_voltage_low": "absent"},
        ),
        (
            {"system_voltage": "12 V"},
            ["ambient temperature 24 C", "battery voltage cranking 8.5 V"],
            {"cranking_voltage_low": "present"},
        ),
        ({"aftertreatment": "none"}, ["exhaust back pressure 9 kPa"], {"exhaust_back_pressure": "present"}),
    ],
)
def test_states(facts: dict[str, str], texts: list[str], expected: dict[str, str]) -> None:
    assert states(noted(opened(**facts), *texts)) == expected


@pytest.mark.parametrize(
    ("text", "fact", "said"),
    [
        ("charging voltage 24.5 V", "24 V", "Charging voltage at the batteries low"),
        ("battery at rest 25 V", "24 V", "Battery voltage at rest low: absent"),
        ("battery voltage cranking 18 V", "24 V", "Battery voltage while cranking low"),
        ("battery at rest 12.6 V", "12 V", "Battery voltage at rest low: absent"),
        ("charging voltage 14.2 V", "12 V", "Charging voltage at the batteries low: absent"),
    ],
)
def test_a_value_tells_the_voltage_of_the_set_and_says_so(text: str, fact: str, said: str) -> None:
    found = note(KNOWN, opened(), text)
    first, *_ = found.events
    assert isinstance(first, Learnt)
    assert first.facts == {"system_voltage": fact}
    assert f"Electrical system: {fact}" in found.words[0]
    assert any(said in words for words in found.words[1:])


@pytest.mark.parametrize(
    "text", ["battery at rest 8 V", "battery voltage cranking 9 V", "start circuit voltage drop 1.6 V"]
)
def test_nothing_is_asked_or_inferred_where_it_makes_no_difference(text: str) -> None:
    found = note(KNOWN, opened(), text)
    assert not found.question
    assert [(type(event), getattr(event, "state", "")) for event in found.events] == [(Noted, "present")]


def test_a_fact_that_makes_a_difference_is_asked_for_and_the_value_kept() -> None:
    found = note(KNOWN, opened(), "battery voltage cranking 14 V")
    assert "12 V or 24 V?" in found.question
    assert [choice.facts for choice in found.choices] == [
        {"system_voltage": "12 V"},
        {"system_voltage": "24 V"},
    ]
    assert [type(event) for event in found.events] == [Measured]
    assert '--fact "system_voltage=12 V"' in found.words[0]
    kept = after(opened(), *found.events)
    assert any("12 V or 24 V?" in words for words in diagnose(KNOWN, kept).unused)
    later = after(kept, Learnt({"system_voltage": "24 V"}))
    assert states(later) == {"cranking_voltage_low": "present"}
    assert followed(KNOWN, kept, later) == ("14 V (number 2) means now: Battery voltage while cranking low",)
    assert states(after(kept, Learnt({"system_voltage": "12 V"}))) == {"cranking_voltage_low": "absent"}


@pytest.mark.parametrize(
    ("fact", "text"),
    [("12 V", "battery at rest 23 V"), ("12 V", "charging voltage 28 V"), ("24 V", "battery at rest 12.4 V")],
)
def test_a_value_that_the_machine_cannot_show_is_a_problem(fact: str, text: str) -> None:
    with pytest.raises(CallError, match=f"does not fit this machine .Electrical system {fact}"):
        note(KNOWN, opened(system_voltage=fact), text)


def test_a_flat_set_is_flat_whatever_its_voltage() -> None:
    assert states(noted(opened(system_voltage="24 V"), "battery at rest 9 V")) == {
        "battery_rest_voltage_low": "present"
    }


def test_a_fact_corrected_later_changes_what_was_noted() -> None:
    case = noted(opened(system_voltage="12 V"), "start circuit voltage drop 0.8 V")
    assert states(case) == {"start_circuit_drop_high": "present"}
    later = after(case, Learnt({"system_voltage": "24 V"}))
    assert states(later) == {"start_circuit_drop_high": "absent"}
    (item,) = diagnose(KNOWN, later).evidence
    assert item.observation.state == "absent"


def test_a_value_that_no_longer_fits_is_told_and_not_used() -> None:
    case = noted(opened(), "battery at rest 12.6 V")
    later = after(case, Learnt({"system_voltage": "24 V"}))
    assert states(later) == {}
    assert any("does not fit this machine" in words for words in diagnose(KNOWN, later).unused)


def test_what_was_said_in_words_is_left_as_it_is() -> None:
    case = after(opened(system_voltage="24 V"), Noted("battery_rest_voltage_low", "absent"))
    assert understood(KNOWN, case).case is case


def test_a_later_word_wins_over_a_value_kept_before() -> None:
    case = noted(opened(), "battery voltage cranking 14 V")
    case = after(case, Noted("cranking_voltage_low", "absent"), Learnt({"system_voltage": "24 V"}))
    assert states(case) == {"cranking_voltage_low": "absent"}


def test_another_reading_that_was_not_taken_is_mentioned() -> None:
    warm = note(KNOWN, opened(system_voltage="12 V"), "battery voltage cranking 8.5 V")
    assert "unless ambient temperature is below 10 degC" in warm.words[0]
    sure = note(KNOWN, opened(system_voltage="12 V"), "battery voltage cranking 5.5 V")
    assert "unless" not in sure.words[0]


def test_a_temperature_in_volts_is_refused() -> None:
    with pytest.raises(CallError, match="wanted in degC"):
        meaning(KNOWN, "ambient temperature", Quantity(3, "V"), {})
    assert "ambient temperature" in quantities(KNOWN)


SCENARIO = """
scenario: s
title: t
about: a
machine: {{number: A-1, family: hydraulic_inline_six{facts}}}
complaint: none
events:
  - reading: battery voltage cranking
    value: {value}
  - learnt: {{system_voltage: 24 V}}
"""


def test_a_scenario_keeps_a_value_until_the_fact_is_learnt() -> None:
    case = loads(SCENARIO.format(facts="", value="14 V"), "s.yaml", KNOWN).case()
    assert states(case) == {"cranking_voltage_low": "present"}
    with pytest.raises(DataError, match="S003"):
        loads(SCENARIO.format(facts=", facts: {system_voltage: 12 V}", value="18 V"), "s.yaml", KNOWN)


# ---- over drawn values ----

HERE = Place("drawn.yaml")
amounts = st.integers(1, 400)


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    edges = sorted(draw(st.sets(amounts, min_size=2, max_size=2)))
    bands = (Band("low", edges[0], None), Band("high", None, edges[1]))
    factor = draw(st.sampled_from([0.5, 2.0, 3.0, 10.0]))
    return Reading("q", "V", bands, "judgement", HERE, scale=(Scale("f", "b", factor, HERE),))


@calm
@given(readings(), amounts)
def test_a_value_scaled_with_its_limits_keeps_its_state(reading: Reading, value: int) -> None:
    one = finding("x", "X", reading=reading, states=("normal", "low", "high"))
    factor = reading.scale[0].factor
    assert limits.state(one, value * factor, {"f": "b"}, {}) == limits.state(one, value, {"f": "a"}, {})


@calm
@given(
    st.sampled_from(sorted(id for id, f in KNOWN.findings.items() if f.reading and f.reading.scale)), amounts
)
def test_on_24_volts_twice_the_value_means_the_same(id: str, tenths: int) -> None:
    on_24, on_12 = (
        limits.state(KNOWN.findings[id], tenths * by / 10, v, {}) for by, v in zip((2, 1), VOLTS, strict=True)
    )
    assert on_24 == on_12


@calm
@given(
    st.sampled_from(["battery voltage cranking", "battery voltage at rest", "charging voltage at batteries"]),
    st.integers(10, 340),
    st.sampled_from(["12 V", "24 V"]),
    st.sampled_from([-20, 0, 22]),
)
def test_the_order_in_which_things_become_known_makes_no_difference(
    name: str, tenths: int, volts: str, cold: int
) -> None:
    value = Measured(name, tenths / 10, "V")
    told = [value, Measured("ambient temperature", float(cold), "degC"), Learnt({"system_voltage": volts})]
    first, last = (states(after(opened(), *events)) for events in (told, told[::-1]))
    assert first == last
    try:
        typed = noted(opened(), f"ambient temperature {cold} degC", f"{name} {tenths / 10} V")
    except CallError:
        return
    assert states(after(typed, Learnt({"system_voltage": volts}))) == last


@calm
@given(st.integers(0, 400), st.sampled_from(["battery voltage at rest", "charging voltage at batteries"]))
def test_an_inferred_fact_gives_the_states_that_the_known_one_gives(tenths: int, name: str) -> None:
    value = Quantity(tenths / 10, "V")
    found = meaning(KNOWN, name, value, {})
    if found.learnt:
        assert meaning(KNOWN, name, value, found.learnt).states == found.states


def test_every_kept_question_is_answered_by_its_choices() -> None:
    found: Intake = note(KNOWN, opened(), "fuel supply pressure 34 kPa")
    for choice in found.choices:
        again = note(KNOWN, after(opened(), Learnt(choice.facts)), choice.text)
        assert not again.question
