"""Every shipped scenario comes out as it says.

The scenarios are invented; the facts that they rest on are of the trade (common practice) or published, as each
says in `about`.
"""

from __future__ import annotations

import pytest
from _pytest.mark.structures import ParameterSet

from diagnose.cases.scenario import folder, load_folder
from diagnose.moves.advice import advised
from diagnose.moves.expectations import unmet
from diagnose.planning.shop import Shop
from tests.shipped import diagnosed, scenario, shipped_knowledge

SCENARIOS = sorted(file.stem for file in folder().glob("*.yaml"))


def marked(number: int, id: str) -> ParameterSet:
    """Every second one is slow: all of them take minutes."""
    return pytest.param(id, id=id, marks=[pytest.mark.slow] if number % 2 else [])


@pytest.mark.parametrize("id", [marked(*one) for one in enumerate(SCENARIOS)])
def test_comes_out_as_it_says(id: str) -> None:
    expected = scenario(id).expect
    assert expected is not None
    diagnosis = diagnosed(id)
    assert unmet(expected, advised(diagnosis, Shop())) == ()
    assert diagnosis.unused == ()


def test_there_are_enough_and_each_is_named_as_its_file() -> None:
    found = load_folder(folder(), shipped_knowledge())
    assert len(found) >= 60
    assert [one.id for one in found] == SCENARIOS
