"""What is said at large: no smoke, no leaks; temperature normal, oil pressure good."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.understanding.grammar import CIRCUMSTANCES
from diagnose.understanding.polarity import DENIED, SOUND, Token
from diagnose.understanding.stems import stem

GENERAL: Mapping[frozenset[str], tuple[str, ...]] = {
    frozenset(map(stem, words.split())): tuple(ids.split())
    for words, ids in {
        "smoke": "smoke_any black_smoke white_smoke_warm blue_smoke grey_smoke",
        "leak": "leaks_any fuel_leak_outside oil_leak_outside outside_coolant_leak_seen",
        "smell": "smells_any exhaust_smell_in_cab oil_smell_burnt burning_smell_electrical",
        "noise": "noise_any knock_hard_metallic knock_deep_load ticking_top_end",
        "warning lamp": "warning_lamp_any warning_lamp_amber warning_lamp_red",
        "lamp": "warning_lamp_any warning_lamp_amber warning_lamp_red",
        "vibration": "vibration_all_speeds vibration_at_one_speed",
        "hunt": "hunts_any hunting_idle hunts_at_all_speeds",
        "white smoke": "white_smoke_warm white_smoke_cold",
        "knock": "knock_any knock_hard_metallic knock_deep_load",
        "misfire": "rough_running misfire_one_cylinder",
        "start hard": "hard_start_cold hard_start_hot",
    }.items()
}
"""What is denied at large is denied of each kind of it."""


SOUND_AT_LARGE: Mapping[frozenset[str], tuple[str, ...]] = {
    frozenset(map(stem, words.split())): tuple(ids.split())
    for words, ids in {
        "temperature": "overheats",
        "coolant temperature": "overheats",
        "engine temperature": "overheats",
        "oil pressure": "oil_gauge_low",
        "oil level": "oil_below_mark",
        "power": "low_power",
        "start": "cranks_no_start hard_start_cold hard_start_hot",
        "crank": "no_crank slow_crank",
        "idle": "hunting_idle",
        "charge": "charge_lamp_on",
        "lamp": "lights_dim",
        "dipstick": "milky_on_dipstick",
        "heater": "no_cab_heat",
        "cab heat": "no_cab_heat",
        "throttle": "no_throttle_response",
        "speed": "hunts_at_all_speeds hunting_idle",
        "compression": "compression_low_told compression_one_low compression_all_low",
        "belt": "belt_slack_or_worn belt_squeals",
        "air filter": "air_filter_dirty",
        "fan clutch": "fan_found_not_engaging",
        "fan": "fan_found_not_engaging",
        "lift pump": "lift_pump_silent",
        "coolant level": "coolant_level_found_low",
        "fuel pressure": "fuel_pressure",
        "charge voltage": "charging_voltage_low",
        "harness": "harness_damage_seen",
    }.items()
}
"""What is said to be sound at large, and the faults that it so has not."""


def sound_at_large(tokens: Sequence[Token]) -> bool:
    """Something common is said to be in order: temperature normal, oil pressure good."""
    words = frozenset(t.word for t in tokens if t.word != "OK")
    if words <= CIRCUMSTANCES and tokens[0].word == "OK":
        return False  # ok at idle says nothing of the idle
    return all(token.sign == SOUND for token in tokens) and words in SOUND_AT_LARGE


def at_large(tokens: Sequence[Token]) -> bool:
    """Something is denied of every kind: no smoke, no leaks."""
    return all(token.sign == DENIED for token in tokens) and frozenset(t.word for t in tokens) in GENERAL


def said_at_large(tokens: Sequence[Token]) -> bool:
    """Either of the two."""
    return at_large(tokens) or sound_at_large(tokens)
