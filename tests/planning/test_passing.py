"""What is asked in one go: minutes and kinds, on records made by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Check, Knowledge
from diagnose.planning.options import CheckOption
from diagnose.planning.passing import in_one_go, in_passing, passing, were_asked
from diagnose.planning.savings import Saving
from diagnose.planning.situation import Situation
from tests.knowledge_by_hand import finding, knowledge
from tests.planning.test_running_by_hand import look


def known(*checks: Check) -> Knowledge:
    kinds = {
        "told_a": "question",
        "told_b": "question",
        "smoke": "symptom",
        "gauge": "reading",
        "dirt": "inspection",
    }
    plain = knowledge(*(replace(finding(id, 0.1), kind=kind) for id, kind in kinds.items()))
    return replace(plain, checks={check.id: check for check in checks})


def option(check: Check) -> CheckOption:
    return CheckOption(check.id, check.name, check.minutes.value, check, check.reveals)


@pytest.mark.parametrize(
    ("reveals", "asked"),
    [
        (("told_a", "told_b", "gauge"), True),
        (("told_a", "smoke", "dirt"), True),
        (("told_a", "gauge"), False),
        (("gauge",), False),
        ((), False),
    ],
)
def test_two_of_three_told_or_seen_in_passing_is_asking(reveals: tuple[str, ...], asked: bool) -> None:
    assert in_passing(known(), option(look("one", 5, *reveals))) is asked


@pytest.mark.parametrize(
    "more",
    [{"tools": ("torch",)}, {"access": ("cover",)}, {"wants": ("running",)}, {"minutes": 5.1}],
    ids=str,
)
def test_what_takes_a_tool_opens_something_runs_it_or_takes_long_is_not(more: dict[str, Any]) -> None:
    check = look("one", more.pop("minutes", 5), "told_a", **more)
    assert not in_passing(known(), option(check))


@pytest.mark.parametrize(("id", "asked"), [("ask:use", True), ("look:smoke", True), ("try:belt", False)])
def test_without_a_procedure_the_id_tells(id: str, asked: bool) -> None:
    assert in_passing(known(), CheckOption(id, id, 1, None, ("smoke",))) is asked


def test_by_number() -> None:
    checks = [
        option(look("one", 5, "told_a")),
        option(look("two", 5, "gauge")),
        option(look("three", 1, "smoke")),
    ]
    assert passing(known(), cast(Situation, SimpleNamespace(checks=checks)), [0, 1, 2]) == [0, 2]


@pytest.mark.parametrize(
    ("done", "asked"),
    [((), False), (("ask:use",), True), (("look:smoke",), True), (("one",), True), (("two", "gone"), False)],
)
def test_whether_something_was_asked_since_the_last_repair(done: tuple[str, ...], asked: bool) -> None:
    knowledge = known(look("one", 5, "told_a"), look("two", 5, "gauge"))
    epochs = [SimpleNamespace(checks=("ask:use",)), SimpleNamespace(checks=done)]
    case = SimpleNamespace(epochs=epochs)
    assert were_asked(cast(Diagnosis, SimpleNamespace(knowledge=knowledge, case=case))) is asked


def go(saves: Mapping[int, float], minutes: Sequence[float], among: Sequence[int]) -> list[int]:
    now = SimpleNamespace(minutes=lambda n: minutes[n])
    saved = {n: SimpleNamespace(money=money) for n, money in saves.items()}
    return in_one_go(cast(Situation, now), cast("dict[int, Saving]", saved), among)


def test_all_that_saves_a_tenth_of_the_most_is_asked_the_most_first() -> None:
    assert go({0: 100, 1: 10, 2: 11, 3: 40, 4: 11}, [60, 1, 1, 1, 1], [1, 2, 3, 4]) == [3, 2, 4]


def test_ten_minutes_at_once() -> None:
    assert go({0: 30, 1: 20, 2: 10}, [4, 6, 1], [0, 1, 2]) == [0, 1]


def test_what_costs_more_than_it_saves_is_not_asked() -> None:
    assert go({0: -20, 1: -30}, [1, 1], [0, 1]) == []
    assert go({}, [], []) == []
