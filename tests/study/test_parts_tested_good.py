"""A part tested good takes with it what the test went through: its seals and joints in place, not on the bench.

The trade's rule, not the program's: under pressure, voltage or flow in its place the part is tested with what holds
it; off the engine these stay behind.
"""

from __future__ import annotations

from functools import cache

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Event, Noted, Opened
from diagnose.diagnosis import diagnose
from diagnose.knowledge.loader import load

RAIL, UNIT, PUMP = "common_rail_inline_six", "unit_injector_inline_six", "pump_line_nozzle_inline_six"
CLEARED, KEPT = 0.45, 0.9
"""Odds after the test over odds before: at most, and at least."""
TESTS = {
    "oil cooler on the bench": (
        UNIT,
        "oil_in_coolant",
        "cooler_core_bubbles",
        "oil_cooler_core_leak",
        "oil_cooler_seal_leak",
    ),
    "oil cooler in place": (
        UNIT,
        "oil_in_coolant",
        "cooler_passes_air_in_place",
        "oil_cooler_core_leak oil_cooler_seal_leak",
        "head_gasket_oil_water",
    ),
    "charge-air system under pressure": (
        RAIL,
        "low_power",
        "charge_pressure_fall",
        "charge_hose_leak charge_cooler_leak",
        "air_filter_plugged",
    ),
    "charge-air cooler plugged alone": (
        RAIL,
        "low_power",
        "charge_cooler_leak_found",
        "charge_cooler_leak",
        "charge_hose_leak",
    ),
    "rail injectors' return flow in place": (
        RAIL,
        "cranks_no_start",
        "total_return_flow_high",
        "rail_injector_return_leak rail_connector_tube_leaking",
        "rail_metering_valve_stuck",  # a worn pump's metal wears injectors: sound ones speak a little against it
    ),
    "nozzles on the tester": (
        RAIL,
        "cranks_no_start",
        "nozzle_drips",
        "injector_needle_stuck_open",
        "rail_connector_tube_leaking",
    ),
    "batteries each alone": (
        UNIT,
        "slow_crank",
        "battery_load_test_fails",
        "batteries_weak",
        "battery_cables_poor",
    ),
    "start circuit while cranking": (
        UNIT,
        "slow_crank",
        "start_circuit_drop_high",
        "battery_cables_poor battery_isolator_faulty",
        "batteries_weak",
    ),
    "cooling system under pressure cold": (
        UNIT,
        "coolant_loss",
        "pressure_test_falls",
        "coolant_hose_or_radiator_leak water_pump_seal_leaking",
        "radiator_cap_weak",
    ),
    "pressure cap on the tester": (
        UNIT,
        "coolant_loss",
        "cap_fails_its_test",
        "radiator_cap_weak",
        "coolant_hose_or_radiator_leak",
    ),
    "injection pump on the bench": (
        PUMP,
        "rough_running",
        "pump_delivery_low_on_bench",
        "pump_elements_worn delivery_valve_leaking",
        "injector_nozzle_coked",
    ),
}


@cache
def odds(family: str, complaint: str, good: str = "") -> dict[str, float]:
    """Odds of every cause, the complaint noted, and one test with a sound result."""
    knowledge = load()
    events: list[Event] = [
        Opened("M-1", family, dict(knowledge.families[family].facts)),
        Noted(complaint, knowledge.findings[complaint].states[-1]),
    ]
    if good:
        events.append(Noted(good, knowledge.findings[good].states[0]))
    causes = diagnose(knowledge, fold(1, events)).causes
    return {one.id: one.probability / (1 - one.probability) for one in causes}


def ratios(name: str) -> dict[str, float]:
    family, complaint, good, *_ = TESTS[name]
    before, after = odds(family, complaint), odds(family, complaint, good)
    return {id: after[id] / before[id] for id in before}


@pytest.mark.parametrize("name", TESTS)
def test_what_the_test_went_through_is_cleared_and_nothing_else(name: str) -> None:
    *_, cleared, kept = TESTS[name]
    found = ratios(name)
    assert {id: found[id] for id in cleared.split() if found[id] > CLEARED} == {}
    assert {id: found[id] for id in kept.split() if found[id] < KEPT} == {}


def test_an_oil_cooler_good_on_the_bench_leaves_its_seals_first() -> None:
    on_bench = odds(UNIT, "oil_in_coolant", "cooler_core_bubbles")
    assert on_bench["oil_cooler_seal_leak"] > on_bench["oil_cooler_core_leak"]
    assert on_bench["oil_cooler_seal_leak"] > odds(UNIT, "oil_in_coolant")["oil_cooler_seal_leak"]
