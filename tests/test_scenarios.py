"""Every shipped scenario comes out as it says.

The scenarios are invented; the facts that they rest on are of the trade (common practice) or published, as each
says in `about`.
"""

from __future__ import annotations

import pytest

from diagnose.cases.scenario import Scenario, folder, load_folder
from diagnose.diagnosis import diagnose
from diagnose.knowledge.loader import load
from diagnose.planning.checks import next_checks
from diagnose.planning.expectations import unmet
from diagnose.planning.keep_running import keep_running
from diagnose.planning.repairs import repair_choices
from diagnose.planning.shop import Shop
from diagnose.planning.situation import situation

SCENARIOS = load_folder(folder(), load())


@pytest.mark.parametrize("scenario", SCENARIOS, ids=[scenario.id for scenario in SCENARIOS])
def test_comes_out_as_it_says(scenario: Scenario) -> None:
    assert scenario.expect is not None
    diagnosis = diagnose(load(), scenario.case())
    now = situation(diagnosis, Shop())
    repairs = repair_choices(diagnosis, now)
    advice = keep_running(diagnosis, Shop())
    assert unmet(scenario.expect, diagnosis, next_checks(diagnosis, now), repairs, advice) == ()
    assert diagnosis.unused == ()


def test_there_are_enough() -> None:
    assert len(SCENARIOS) >= 60
