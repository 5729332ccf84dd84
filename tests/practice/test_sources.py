"""Shipped scenarios can be practised on; drawn machines are as asked for."""

from __future__ import annotations

import pytest

from diagnose.cases.events import Noted
from diagnose.cases.scenario import folder
from diagnose.practice.exercise import world_of
from diagnose.practice.sources import Wanted, drawn, of_scenario
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
