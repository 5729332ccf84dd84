"""What is asked in one go: minutes and kinds, on records made by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Noted, Opened
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Check, Knowledge
from diagnose.planning import checks
from diagnose.planning import passing as passing_module
from diagnose.planning.checks import in_which_order
from diagnose.planning.options import CheckOption
from diagnose.planning.passing import in_one_go, in_passing, passing, to_the_point, were_asked
from diagnose.planning.savings import Saving
from diagnose.planning.shop import Shop
from diagnose.planning.situation import Situation, situation
from tests.knowledge_by_hand import finding, knowledge
from tests.planning.test_running_by_hand import look
from tests.shipped import shipped_knowledge


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


def go(
    saves: Mapping[int, float], minutes: Sequence[float], among: Sequence[int], id: str = "ask:use"
) -> list[int]:
    checks = [SimpleNamespace(id=id, findings=("told_a",)) for _ in minutes]
    now = SimpleNamespace(minutes=lambda n: minutes[n], checks=checks)
    saved = {n: SimpleNamespace(money=money) for n, money in saves.items()}
    nobody = cast(Diagnosis, None)
    return in_one_go(nobody, cast(Situation, now), cast("dict[int, Saving]", saved), among)


@pytest.mark.parametrize(("bears", "asked"), [(0.19, []), (0.2, [0])])
def test_what_bears_on_little_is_not_asked_beside_another(
    bears: float, asked: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fact of the machine always is."""
    monkeypatch.setattr(passing_module, "bearing", lambda diagnosis, findings: bears)
    assert go({0: 30}, [1], [0], "look:smoke") == asked
    assert go({0: 30}, [1], [0], "ask:use") == [0]


def test_all_that_saves_a_tenth_of_the_most_is_asked_the_most_first() -> None:
    assert go({0: 100, 1: 10, 2: 11, 3: 40, 4: 11}, [60, 1, 1, 1, 1], [1, 2, 3, 4]) == [3, 2, 4]


def test_ten_minutes_at_once() -> None:
    assert go({0: 30, 1: 20, 2: 10}, [4, 6, 1], [0, 1, 2]) == [0, 1]


def test_what_costs_more_than_it_saves_is_not_asked() -> None:
    assert go({0: -20, 1: -30}, [1, 1], [0, 1]) == []
    assert go({}, [], []) == []


def test_a_quick_check_comes_first_only_where_it_bears_on_what_is_in_question(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A deep knock with the oil gauge low: the bearings. A look at the coolant is quick, and not to the point
    (common practice)."""
    events = [Opened("x"), Noted("knock_deep_load", "present"), Noted("oil_gauge_low", "present")]
    case = fold(1, [replace(event, sequence=n) for n, event in enumerate(events, 1)])
    diagnosis = diagnose(shipped_knowledge(), case)
    now = situation(diagnosis, Shop())
    coolant = next(one for one in now.checks if one.id == "look_at_coolant_quality")
    assert not to_the_point(diagnosis, coolant)
    most, *others = in_which_order(diagnosis, now).saving
    quick = {to_the_point(diagnosis, now.checks[n]): n for n in others}
    for bears, expected in ((True, quick[True]), (False, most)):
        monkeypatch.setattr(checks, "quick_first", lambda *_, n=quick[bears]: n)
        assert in_which_order(diagnosis, now).first == expected
