"""Situations in which a wrong word can hurt somebody or wreck an engine: what must be said, and what must not.

Sources stand beside each; where none does, it is common practice of the trade.
"""

from __future__ import annotations

import pytest

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.paths import strengths_below
from diagnose.knowledge.readings import meaning
from diagnose.knowledge.rules import Survey
from diagnose.network.machine import Machine
from diagnose.planning.options import all_hazards, suspected
from diagnose.words.quantity import parse_quantity
from tests.shipped import shipped_knowledge

KNOWLEDGE = shipped_knowledge()


def seen(*findings: str, **facts: str) -> Diagnosis:
    """The answer where these were found; with "no " before it, looked for and not there."""
    observed = []
    for number, said in enumerate(findings, 2):
        states = KNOWLEDGE.findings[said.removeprefix("no ")].states
        state = states[0] if said.startswith("no ") else states[1]
        observed.append(Observation(said.removeprefix("no "), state, event=number))
    return diagnose(
        KNOWLEDGE, Case(1, Machine("T-19", facts=facts), epochs=(Epoch(observations=tuple(observed)),))
    )


def stops(diagnosis: Diagnosis) -> list[str]:
    return [hazard.id for hazard in suspected(diagnosis)]


def hazards(check: str) -> tuple[str, ...]:
    return all_hazards(KNOWLEDGE, KNOWLEDGE.checks[check].hazards, KNOWLEDGE.checks[check].access)


def says(check: str, words: str) -> bool:
    return words in " ".join(KNOWLEDGE.checks[check].steps)


def states(quantity: str, value: str, **facts: str) -> dict[str, str]:
    return dict(meaning(KNOWLEDGE, quantity, parse_quantity(value), facts, {}).states)


@pytest.mark.parametrize("beside", ["coolant_loss", "oil_level_rising", "white_smoke_cold"])
def test_a_dead_stop_forbids_the_starter(beside: str) -> None:
    """Bar by hand before the starter is used (US Navy, NAVEDTRA 14076)."""
    assert "hydraulic_lock" in stops(seen("no_crank_hard_stop", beside))


def test_what_ran_away_is_not_started_to_look() -> None:
    """An engine that ran away is stopped by its air, and not started before the cause is found (in the sense of
    US Navy, NAVEDTRA 14076)."""
    ran = seen("engine_overspeeds")
    assert "ran_away" in stops(ran)
    assert not {"cranking", "running"} & set(KNOWLEDGE.checks["look_after_runaway"].wants)
    assert stops(seen("overspeeds_at_start")) == stops(seen("hunts_any")) == []


def test_a_running_machine_with_gas_in_its_coolant_is_not_stopped() -> None:
    """A seep fills no cylinder: it runs, and needs no half a day of opening cylinders to be ruled out."""
    assert (
        stops(seen("combustion_gas_dye", "coolant_loss", "no no_crank_hard_stop", "no cranks_no_start")) == []
    )


def test_coolant_under_pressure_can_fill_a_cylinder() -> None:
    """Whoever pumps a cooling system up bars the engine by hand before it is started again."""
    pumping = [id for id in KNOWLEDGE.checks if id.startswith("cooling_pressure_test")]
    pumping += ["look_along_cooling_outside", "look_up_from_below", "look_under_valve_cover"]
    assert len(pumping) > 4
    assert [id for id in pumping if "hydraulic_lock" not in hazards(id)] == []


def test_valves_that_may_meet_pistons_are_settled_by_hand_and_soon() -> None:
    (hazard,) = (one for one in KNOWLEDGE.hazards.values() if one.id == "valves_meet_pistons")
    assert hazard.cleared_by[0] == "try_timing_pin"
    assert "unexpected_start" in hazards("try_timing_pin")
    assert says("try_timing_pin", "never by force")


@pytest.mark.parametrize(
    ("check", "hazard", "words"),
    [
        ("look_for_dry_parts", "skin_injection", "Shield on"),
        ("drive_regulator_directly", "skin_injection", "the engine must not start"),
        ("run_from_clean_can", "flammable_fluid", "the return led into the same can"),
        ("run_from_clean_can", "runaway", "hot parts"),
        ("bar_engine_by_hand", "unexpected_start", "do not use the starter"),
        ("ask_kind_of_smell", "", "battery off at once"),
        ("ask_kind_of_noise", "", "not run again"),
    ],
)
def test_the_caution_stands_at_the_step(check: str, hazard: str, words: str) -> None:
    assert not hazard or hazard in hazards(check)
    assert says(check, words)


def test_a_frozen_battery_is_neither_charged_nor_jumped() -> None:
    """It bursts (29 CFR 1910.178 for charging gas; common practice for frost)."""
    assert "Never charge or jump a frozen battery" in KNOWLEDGE.hazards["battery_gas"].caution
    charging = [one for one in KNOWLEDGE.repairs.values() if "harge" in one.name]
    assert charging
    assert [one.id for one in charging if "battery_frozen" in {cure.cause for cure in one.cures}] == []


@pytest.mark.parametrize(
    ("quantity", "value", "system_voltage", "finding", "state"),
    [
        # 13.2 to 15.0 V on 12 V, twice that on 24 V (common practice)
        ("charging voltage at batteries", "28.2 V", "24 V", "charging_voltage_low", "absent"),
        ("charging voltage at batteries", "28.2 V", "24 V", "charging_voltage_high", "absent"),
        ("charging voltage at batteries", "26.0 V", "24 V", "charging_voltage_low", "present"),
        ("charging voltage at batteries", "13.0 V", "12 V", "charging_voltage_low", "present"),
        ("battery voltage cranking", "20 V", "24 V", "cranking_voltage_low", "absent"),
        ("battery voltage cranking", "16 V", "24 V", "cranking_voltage_low", "present"),
        ("isolator voltage drop cranking", "0.8 V", "24 V", "isolator_drop_high", "absent"),
        ("isolator voltage drop cranking", "0.3 V", "12 V", "isolator_drop_high", "absent"),
        ("isolator voltage drop cranking", "0.8 V", "12 V", "isolator_drop_high", "present"),
        # 34 inches of water = 8.47 kPa (US Army TM 5-3805-260-24; 1 inH2O = 0.249089 kPa, NIST SP 811)
        ("exhaust back pressure", "8.2 kPa", "", "exhaust_back_pressure", "absent"),
        ("exhaust back pressure", "9.9 kPa", "", "exhaust_back_pressure", "present"),
    ],
)
def test_a_limit_condemns_what_is_bad_and_nothing_else(
    quantity: str, value: str, system_voltage: str, finding: str, state: str
) -> None:
    facts = {"system_voltage": system_voltage} if system_voltage else {}
    known = states(quantity, value, **facts)
    sound = KNOWLEDGE.findings[finding].states[0]
    assert known.get(finding, sound) == {"absent": sound}.get(state, state)


def test_pinholes_of_a_liner_let_coolant_into_the_oil_first() -> None:
    """The usual sign is coolant in the oil: when the engine stands, the cooling system has the pressure."""
    shown = strengths_below(Survey(KNOWLEDGE).links, "liner_perforated")
    assert shown["coolant_in_oil"] > 3 * shown["oil_in_coolant"] > 0
    assert shown["oil_in_coolant"] < 0.2
    assert shown["combustion_gas_dye"] < 0.35


def test_a_biased_rail_sensor_hides_behind_the_loop() -> None:
    """The module holds what the sensor says, so pressure above command is not its sign."""
    shown = strengths_below(Survey(KNOWLEDGE).links, "rail_sensor_biased")
    assert shown["rail_above_command"] < 0.1


def test_a_stuck_open_needle_of_a_rail_keeps_the_engine_from_starting() -> None:
    """A needle that does not close empties the rail: it cranks and does not start, and the cylinder may be full."""
    answer = seen("cranks_no_start", "nozzle_drips", injection="common rail")
    assert "injector_needle_stuck_open" in [cause.id for cause in answer.causes[:4]]


def test_coolant_from_the_exhaust_cooler_reaches_what_stands_behind_it() -> None:
    shown = strengths_below(Survey(KNOWLEDGE).links, "egr_cooler_leaking")
    assert shown["coolant_salts_on_catalyst"] > 0.1
