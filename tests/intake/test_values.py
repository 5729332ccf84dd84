"""What a measured value comes to: findings, facts, a question; by limits that are told in
tests/intake/engine.py."""

from __future__ import annotations

from typing import Any

import pytest

from diagnose.cases.events import Event, Learnt, Measured, Noted
from diagnose.errors import CallError
from diagnose.intake.note import followed, note, tells_more
from diagnose.intake.outcome import Choice, Intake
from diagnose.intake.readings import measured
from tests.intake.engine import case, engine

KNOWN = engine()
TWELVE, TWENTY_FOUR = {"system": "12 V"}, {"system": "24 V"}
NOW = "2024-05-01T10:00:00Z"


def take(text: str, *events: Event, facts: dict[str, str] | None = None, **how: Any) -> Intake:
    return note(KNOWN, case(*events, facts=facts), text, **how)


def set_to(found: Intake) -> list[tuple[str, str]]:
    return [(one.finding, one.state) for one in found.events if isinstance(one, Noted)]


@pytest.mark.parametrize(
    ("facts", "volts", "state"), [(TWELVE, 9.5, "low"), (TWELVE, 9.7, "normal"), (TWENTY_FOUR, 19.1, "low")]
)
def test_a_value_sets_the_finding_by_the_limits_of_this_machine(
    facts: dict[str, str], volts: float, state: str
) -> None:
    found = take(f"voltage cranking {volts} V", facts=facts, confidence="likely", now=NOW)
    text = f"voltage cranking {volts} V"
    assert found.events == (
        Noted("volts", state, "likely", text, volts, "V", knowledge=KNOWN.version, time=NOW),
    )
    assert found.words == (f"{volts:g} V: Voltage cranking is low: {state}",)


def test_a_value_that_only_one_machine_shows_tells_which_it_is() -> None:
    found = take("voltage cranking 28 V", now=NOW)
    assert found.events[0] == Learnt(
        TWENTY_FOUR, text="no other fits voltage cranking 28 V", knowledge=KNOWN.version, time=NOW
    )
    assert set_to(found) == [("volts", "normal")]
    assert found.words[0] == "Machine: system: 24 V (no other fits voltage cranking 28 V)"
    assert len(found.words) == len(found.events) == 2
    assert len(take("voltage cranking 28 V", facts=TWENTY_FOUR).events) == 1


def test_where_a_fact_decides_it_is_asked_for_and_the_value_kept() -> None:
    """14 V is sound on 12 V and low on 24 V."""
    found = take("voltage cranking 14 V", confidence="unsure", now=NOW)
    kept = Measured(
        "voltage cranking", 14, "V", "unsure", "voltage cranking 14 V", knowledge=KNOWN.version, time=NOW
    )
    assert found.events == (kept,)
    assert found.question.startswith("voltage cranking 14 V: ")
    again = "voltage cranking 14 V"
    assert found.choices == (Choice(again, "12 V", TWELVE), Choice(again, "24 V", TWENTY_FOUR))
    assert found.words[0].startswith("Kept, not used yet. ")
    assert "voltage cranking 14 V" in found.words[0]


def test_a_value_that_this_machine_cannot_show_is_refused() -> None:
    with pytest.raises(CallError, match="does not fit this machine"):
        take("voltage cranking 28 V", facts=TWELVE)


def test_what_another_reading_would_change_is_said_with_it() -> None:
    """70 kPa is low, unless the oil is hotter than 90 degC; once it is known to be, it is sound."""
    found = take("oil pressure 70 kPa")
    assert set_to(found) == [("oil", "low")]
    assert found.words[0].startswith("70 kPa: Oil pressure is low: low (unless oil temperature is ")
    assert found.words[0].endswith(": note it then)")
    hot = take("oil temperature 100 degC", confidence="likely")
    assert hot.events == (
        Measured(
            "oil temperature", 100, "degC", "likely", "oil temperature 100 degC", knowledge=KNOWN.version
        ),
    )
    assert hot.words == ("oil temperature 100 degC: kept, other limits depend on it",)
    after = take("oil pressure 70 kPa", *hot.events)
    assert set_to(after) == [("oil", "normal")]
    assert after.words == ("70 kPa: Oil pressure is low: normal",)


def test_a_pressure_keeps_how_it_was_taken() -> None:
    (event,) = take("oil pressure 120 kPa gauge").events
    assert isinstance(event, Noted)
    assert (event.state, event.value, event.unit) == ("normal", 120, "kPa gauge")
    (kept,) = take("oil pressure 20 kPa gauge").events
    assert isinstance(kept, Noted)
    assert (kept.state, kept.unit) == ("none", "kPa gauge")


def test_a_quantity_that_is_known_takes_a_bare_value() -> None:
    (event,) = measured(KNOWN, case(), "oil pressure", "25 kPa").events
    assert event == Noted("oil", "none", "sure", "oil pressure 25 kPa", 25, "kPa", knowledge=KNOWN.version)


@pytest.mark.parametrize(
    ("how", "choice"),
    [
        ({"absent": True}, Choice("oil = normal", "Oil pressure is low: normal")),
        ({"state": "low"}, Choice("oil", "Oil pressure is low")),
    ],
)
def test_what_is_said_to_be_absent_or_in_a_state_is_no_reading(how: dict[str, Any], choice: Choice) -> None:
    """It may be meant as words; that is asked."""
    found = take("oil pressure 25 kPa", **how)
    assert (found.events, found.choices) == ((), (choice,))


def test_values_read_before_mean_something_else_once_the_machine_is_known() -> None:
    before = case(*take("oil pressure 70 kPa").events, Noted("rattle", "present"))
    hot = Measured("oil temperature", 100, "degC")
    after = case(*take("oil pressure 70 kPa").events, Noted("rattle", "present"), hot)
    assert followed(KNOWN, before, after) == ("70 kPa (number 2) means now: Oil pressure is low: normal",)
    assert followed(KNOWN, before, before) == ()
    cool = case(*before.history[1:], Measured("oil temperature", 50, "degC"))
    assert followed(KNOWN, before, cool) == ()
    assert not tells_more([Noted("rattle", "present")])
    assert tells_more([Learnt({})])
    assert tells_more([hot])


@pytest.mark.parametrize("text", ["oil pressure 2 V", "oil pressure 12"])
def test_a_value_in_no_unit_of_its_quantity_is_refused(text: str) -> None:
    with pytest.raises(CallError, match="oil pressure"):
        take(text)
