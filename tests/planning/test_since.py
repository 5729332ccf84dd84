"""When the machine was last right: asked where the answer matters, from the same numbers that it would change."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Checked
from diagnose.cases.scenario import load as read
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.loader import load
from diagnose.knowledge.observable import LAST_RIGHT_ANSWERS
from diagnose.planning.checks import next_checks
from diagnose.planning.shop import Shop
from diagnose.planning.since import ASK_LAST_RIGHT, SHARES, Since, since
from diagnose.planning.situation import Situation, situation

SCENARIOS = Path("scenarios")
MATTERS, SILENT = "fuel_in_oil_library", "silencer_shovel"


def case_of(name: str) -> Case:
    return fold(1, read(SCENARIOS / f"{name}.yaml", load()).events)


@cache
def stand(name: str) -> tuple[Diagnosis, Situation]:
    diagnosis = diagnose(load(), case_of(name))
    return diagnosis, situation(diagnosis, Shop())


def told(name: str) -> Since:
    found = since(*stand(name))
    assert found is not None
    return found


def after(case: Case, hours: float) -> Case:
    return replace(case, machine=replace(case.machine, last_right=hours))


@pytest.mark.slow
@pytest.mark.parametrize("name", [MATTERS, SILENT])
def test_each_answer_does_to_the_leading_cause_what_the_whole_network_says(name: str) -> None:
    """What is predicted from the fault sets, against a diagnosis of the case with the answer told."""
    now = stand(name)[1]
    lead = told(name).lead
    for answer, hours in enumerate(LAST_RIGHT_ANSWERS.values()):
        whole = diagnose(load(), after(case_of(name), hours)).cause(now.candidates[lead])
        assert whole is not None
        assert told(name).causes[answer, lead] == pytest.approx(whole.probability, abs=0.05)


def test_the_longer_ago_the_likelier_is_what_happens() -> None:
    found = told(MATTERS)
    assert (np.diff(found.causes[:, found.lead]) > 0.01).all()


def test_it_is_asked_where_it_matters_and_else_not() -> None:
    asked = {
        name: [one for one in next_checks(*stand(name)) if one.id == ASK_LAST_RIGHT]
        for name in (MATTERS, SILENT)
    }
    assert [len(found) for found in asked.values()] == [1, 0]
    (question,) = asked[MATTERS]
    assert question.value == pytest.approx(told(MATTERS).gain - Shop().time(1.0))
    assert question.value > 0
    assert sum(result.probability for result in question.results) == pytest.approx(1.0)


@pytest.mark.parametrize(("name", "before"), [(MATTERS, 1)])
def test_it_stands_among_the_checks_by_what_it_saves(name: str, before: int) -> None:
    checks = next_checks(*stand(name))
    place = [one.id for one in checks].index(ASK_LAST_RIGHT)
    assert place >= before
    assert all(one.value >= checks[place].value for one in checks[:place])
    assert all(one.value < checks[place].value for one in checks[place + 1 :])


@pytest.mark.parametrize("gone", ["told", "asked"])
def test_nobody_is_asked_twice(gone: str) -> None:
    case = case_of(MATTERS)
    if gone == "told":
        case = after(case, 500.0)
    else:
        events = read(SCENARIOS / f"{MATTERS}.yaml", load()).events
        case = fold(1, [*events, Checked(ASK_LAST_RIGHT, "not known")])
    diagnosis = diagnose(load(), case)
    assert since(diagnosis, situation(diagnosis, Shop())) is None


def rows(*leading: tuple[float, float], gain: float = 0.0) -> Since:
    return Since(np.array(leading), 0, lambda: (1000.0, gain))


def test_what_pays_worked_out_by_hand() -> None:
    """Cost 1,000: an answer must save more than 50 and its price, and move the leading cause by 0.1; or turn it."""
    steady, moving, turning = (
        ((0.9, 0.1),) * 4,
        ((0.5, 0.1), *(((0.9, 0.1),) * 3)),
        ((0.3, 0.4), *(((0.9, 0.1),) * 3)),
    )
    assert not rows(*steady, gain=500.0).pays(2.0)
    assert rows(*moving, gain=53.0).pays(2.0)
    assert not rows(*moving, gain=51.0).pays(2.0)
    assert rows(*turning).pays(2.0)


def test_the_shares_of_the_answers_are_a_distribution() -> None:
    assert SHARES.sum() == pytest.approx(1.0)
    assert len(SHARES) == len(LAST_RIGHT_ANSWERS)
