"""The bus log beside a scenario says what that scenario says (both made up; they rest on common practice)."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.cases.events import Noted
from diagnose.cases.scenario import folder, load
from diagnose.codes.log_survey import LogSurvey, survey
from diagnose.codes.timeline import NONE
from diagnose.knowledge.loader import load as knowledge
from tests.codes.bus import codes, state
from tests.codes.test_command import Run, run, shown

__all__ = ["run"]  # the fixture


@pytest.fixture(scope="module")
def log() -> Path:
    return folder() / "logs" / "filter_plugged_crusher.log"


@pytest.fixture(scope="module")
def found(log: Path) -> LogSurvey:
    return survey(log, readings=True)


def test_the_log_has_the_codes_of_the_scenario_in_the_order_of_their_coming(found: LogSurvey) -> None:
    engine, brakes = found.modules
    assert [code[:2] for code in codes(engine)] == [(94, 18), (157, 18), (5585, 18)]
    first = [seen.sightings[0].first for seen in engine.codes]
    assert first == sorted(first)
    assert state(brakes) == NONE
    assert (found.troubles, found.skipped) == ((), {})


def test_noting_the_log_gives_the_findings_of_the_scenario(run: Run, log: Path) -> None:
    scenario = load(folder() / "three_codes_one_root_crusher.yaml", knowledge())
    told = [event for event in scenario.events if isinstance(event, Noted) and (event.code or event.value)]
    run("new", "C-02", "cranks but does not start")
    noted = shown(run, "codes", str(log), "--note", "--readings")["noted"]["events"]
    by_log = {(event["finding"], event["state"]) for event in noted if "finding" in event}
    assert {(event.finding, event.state) for event in told} <= by_log
