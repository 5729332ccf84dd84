"""Shipped scenarios can be practised on; drawn machines are as asked for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Closed, Noted, Waits
from diagnose.cases.scenario import folder
from diagnose.practice.exercise import world_of
from diagnose.practice.exercise_sources import Wanted, drawn, of_case, of_scenario
from tests.shipped import scenario, shipped_knowledge

SOME = sorted(file.stem for file in folder().glob("*.yaml"))[8::19]


@pytest.mark.parametrize("id", SOME)
def test_shipped_scenario_shows_its_first_findings(id: str) -> None:
    knowledge = shipped_knowledge()
    exercise = of_scenario(scenario(id), knowledge, 3)
    world = world_of(knowledge, exercise)
    for known in exercise.truth.known:
        if known.confidence == "sure":
            assert world.shows(known.finding) == known.state
    given = [e for e in exercise.opening if isinstance(e, Noted)]
    assert given
    told = {e.finding for e in given}
    assert not told & {known.finding for known in exercise.truth.known}


def test_a_closed_case_is_practised_without_the_names_of_those_who_noted() -> None:
    """Neither who noted it nor what it waited for (which holds words) goes into an exercise."""
    knowledge = shipped_knowledge()
    case = scenario("pump_worn_plough").case()
    closed = Closed(("hp_oil_pump_worn",))
    events = [*case.history, Waits("parts", "Ann orders the pump"), closed]
    signed = (replace(one, by="Ann", sequence=n) for n, one in enumerate(events, 1))
    exercise = of_case(fold(1, signed), knowledge, 3)
    assert "Ann" not in repr(exercise)


def test_two_faults_and_an_old_code() -> None:
    knowledge = shipped_knowledge()
    exercise = drawn(knowledge, Wanted("starting", 2, True), 12)
    assert len(set(exercise.truth.causes)) == 2
    assert knowledge.causes[exercise.truth.causes[0]].system == "starting"
    codes = [e for e in exercise.opening if isinstance(e, Noted) and e.code]
    assert codes
    world = world_of(knowledge, exercise)
    for one in codes:
        assert not world.normal(one.finding)
