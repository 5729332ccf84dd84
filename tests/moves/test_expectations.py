"""That a scenario which does not come out as expected is told: each part of an expectation, met and unmet."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnose.cases.expectation import Expectation, ExpectedCheck, ExpectedMove
from diagnose.diagnosis import RankedCause
from diagnose.moves.advice import Advice
from diagnose.moves.expectations import unmet
from diagnose.moves.move import CHECK, REPAIR, Move
from tests.knowledge_by_hand import HERE


def cause(id: str, p: float, wrecked_by: str = "") -> RankedCause:
    return RankedCause(id, id, "test", 0.1, p, wrecked_by, True)


CAUSES = (cause("first", 0.6), cause("second", 0.3, "first"), cause("third", 0.1))
DIAGNOSIS = SimpleNamespace(
    causes=CAUSES, cause=lambda id: next((c for c in CAUSES if c.id == id), None), other_cause=0.55
)
ADVICE = cast(
    Advice,
    SimpleNamespace(
        diagnosis=DIAGNOSIS,
        next_checks=lambda: [SimpleNamespace(id=id) for id in ("look", "measure", "open")],
        move=Move(CHECK, ("look",), "", ""),
        choices=[SimpleNamespace(repairs=[SimpleNamespace(id="renew"), SimpleNamespace(id="flush")])],
        running=[SimpleNamespace(cause=CAUSES[0], advice="stop now")],
    ),
)


def told(advice: Advice = ADVICE, **expected: Any) -> tuple[str, ...]:
    values: dict[str, Any] = {
        "causes": (), "within": 1, "probability": {}, "consequence": (), "check": None, "move": None, "repairs": (),
        "keep_running": {}, "unexplained": False, **expected,
    }  # fmt: skip
    return unmet(Expectation(place=HERE, **values), advice)


ROOT = " is not told as a consequence"
LATE = ", not among the first 1 (first, second, third)"


@pytest.mark.parametrize(
    ("expected", "problems"),
    [
        ({}, []),
        ({"causes": ("first",)}, []),
        ({"causes": ("second",), "within": 2}, []),
        ({"causes": ("second",)}, [f"second stands at place 2{LATE}"]),
        ({"causes": ("first", "fourth")}, [f"fourth stands at place None{LATE}"]),
        ({"consequence": ("second",)}, []),
        ({"consequence": ("first", "fourth")}, [f"{id}{ROOT}" for id in ("first", "fourth")]),
        ({"unexplained": True}, ["first comes before the other cause (0.550)"]),
        ({"probability": {"first": (0.6, 0.7), "second": (0.2, 0.3), "fourth": (0.0, 0.1)}}, []),
        ({"probability": {"first": (0.61, 0.7)}}, ["first has probability 0.600, not 0.61 to 0.7"]),
        ({"probability": {"second": (0.2, 0.29)}}, ["second has probability 0.300, not 0.2 to 0.29"]),
        ({"probability": {"fourth": (0.1, 0.2)}}, ["fourth has probability 0.000, not 0.1 to 0.2"]),
        ({"check": ExpectedCheck(2, ("open", "measure"))}, []),
        ({"check": ExpectedCheck(2, ("open", "ask"))},
         ["open or ask is not among the first 2 checks (look, measure)"]),
        ({"move": ExpectedMove(CHECK, ("ask", "look"))}, []),
        ({"move": ExpectedMove(CHECK, ())}, []),
        ({"move": ExpectedMove(CHECK, ("ask", "open"))}, ["the next move is check look, not check ask or open"]),
        ({"move": ExpectedMove(REPAIR, ())}, ["the next move is check look, not repair"]),
        ({"move": ExpectedMove(REPAIR, ("look",))}, ["the next move is check look, not repair look"]),
        ({"repairs": ("flush", "renew")}, []),
        ({"repairs": ("flush", "other")}, ["other is not in the best repair (renew, flush)"]),
        ({"keep_running": {"first": "stop now"}}, []),
        ({"keep_running": {"first": "watch"}}, ["of first the advice is stop now, not watch"]),
        ({"keep_running": {"second": "watch"}}, ["of second the advice is none, not watch"]),
    ],
    ids=str,
)  # fmt: skip
def test_what_did_not_come_out_is_told(expected: dict[str, Any], problems: list[str]) -> None:
    assert list(told(**expected)) == problems


def with_(**more: Any) -> Advice:
    return cast(Advice, SimpleNamespace(**{**ADVICE.__dict__, **more}))


def test_nothing_listed_explains_it_where_the_other_cause_comes_first() -> None:
    for other, problems in ((0.61, 0), (0.6, 1)):
        diagnosis = SimpleNamespace(**{**DIAGNOSIS.__dict__, "other_cause": other})
        assert len(told(with_(diagnosis=diagnosis), unexplained=True)) == problems


def test_without_any_repair_those_expected_are_missed() -> None:
    assert told(with_(choices=[]), repairs=("flush",)) == ("flush is not in the best repair ()",)
