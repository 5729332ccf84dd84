"""What technicians say of tests by taking away, written beside the forms of speech in the brief of the trade."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from diagnose.cases.case import fold
from diagnose.cases.events import Noted, Opened
from diagnose.intake.note import note
from diagnose.intake.outcome import Intake
from diagnose.knowledge.loader import load

CASES = yaml.safe_load((Path(__file__).parent / "words" / "away.yaml").read_text(encoding="utf-8"))


def taken(one: dict[str, Any]) -> Intake:
    events = [Noted(id, "present", sequence=n) for n, id in enumerate(one.get("there", ()), 2)]
    return note(load(), fold(1, [Opened("X-1"), *events]), one["said"])


@pytest.mark.parametrize("one", CASES, ids=[one["said"] for one in CASES])
def test_said(one: dict[str, Any]) -> None:
    found = taken(one)
    noted = {event.finding: event.state for event in found.events if isinstance(event, Noted)}
    if "means" in one:
        assert noted.get(one["means"]) == one["state"]
        finding = one["means"].partition("@")[0]
        assert finding in one.get("there", ()) or noted[finding] == "present"
    elif "asks" in one:
        assert not noted
        assert sorted(choice.text.partition(" = ")[0] for choice in found.choices) == sorted(one["asks"])
    elif "own" in one:
        assert noted == {one["own"]: "present"}
    else:
        assert not any("@" in id for id in noted)


def test_a_choice_can_be_noted() -> None:
    one = next(one for one in CASES if "asks" in one)
    events = [Opened("X-1"), Noted("cranks_no_start", "present", sequence=2)]
    wanted = "cranks_no_start@actuation_pressure_sensor"
    chosen = next(choice for choice in taken(one).choices if choice.text.startswith(wanted))
    answer = note(load(), fold(1, events), chosen.text)
    (event,) = answer.events
    assert isinstance(event, Noted)
    assert (event.finding, event.state) == ("cranks_no_start@actuation_pressure_sensor", "gone")


def test_said_not_gone() -> None:
    """`--absent`: it was looked whether it goes, and it does not."""
    events = [Opened("X-1"), Noted("rattle_front", "present", sequence=2)]
    (event,) = note(load(), fold(1, events), "rattle gone with the fan belt off", absent=True).events
    assert isinstance(event, Noted)
    assert event.state == "still there"
