"""The bay asks when the machine was last right: once, where it matters, in plain words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from diagnose.cases.case import Case
from diagnose.cli.bay import hold
from diagnose.cli.bay.since import hours_told
from diagnose.cli.context import CommandContext
from diagnose.cli.recording import open_scenario
from diagnose.cli.talk import Talk

Answer = Callable[..., tuple[Case, list[str]]]
DAY = 10.0


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("300 h", 300.0),
        ("40", 40.0),
        ("1,200 hours", 1200.0),
        ("2.5 h", 2.5),
        ("yesterday", DAY),
        ("it ran fine until yesterday", DAY),
        ("this morning", DAY / 2),
        ("two days ago", 2 * DAY),
        ("since last week", 5 * DAY),
        ("about 2 weeks ago", 10 * DAY),
        ("a couple of months", 42 * DAY),
        ("a year or so", 250 * DAY),
        ("two hours ago", 2.0),
        ("never", 8000.0),
    ],
)
def test_an_answer_in_plain_words_is_running_hours(text: str, hours: float) -> None:
    assert hours_told(text, DAY, 8000.0) == pytest.approx(hours)


@pytest.mark.parametrize("text", ["white smoke", "since the service", "P2291", "some time"])
def test_what_is_no_time_is_not_guessed(text: str) -> None:
    assert hours_told(text, DAY) is None


def test_a_day_of_a_standby_machine_is_shorter() -> None:
    assert hours_told("yesterday", 1.0) == 1.0


@pytest.fixture
def answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Answer:
    """Take up a scenario in the bay with these answers, then the end of input: the case, and what was asked."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.delenv("DIAGNOSE_SHOP", raising=False)

    def run(scenario: str, *answers: str) -> tuple[Case, list[str]]:
        context = CommandContext(store_path=tmp_path / "cases.sqlite")
        number = open_scenario(context, Path(f"scenarios/{scenario}.yaml")).number
        left: Iterator[str] = iter(("1", *answers))
        asked: list[str] = []

        def read(prompt: str) -> str:
            asked.append(prompt)
            try:
                return next(left)
            except StopIteration:
                raise EOFError from None

        hold(context, Talk(read))
        return context.case(number), asked

    return run


def times_asked(asked: list[str]) -> int:
    return sum(prompt.startswith("Hours since") for prompt in asked)


def test_it_is_asked_before_anything_is_shown_and_the_answer_kept(answer: Answer) -> None:
    case, asked = answer("another_key_library", "since last week")
    assert asked[1].startswith("Hours since")
    assert times_asked(asked) == 1
    assert case.machine.last_right == pytest.approx(50.0)


def test_what_is_not_understood_is_asked_again(answer: Answer) -> None:
    case, asked = answer("another_key_library", "the blue one", "300 h")
    assert times_asked(asked) == 2
    assert case.machine.last_right == pytest.approx(300.0)


def test_not_known_leaves_the_default_and_is_not_asked_again(answer: Answer) -> None:
    case, asked = answer("another_key_library", "", "l", "", "q")
    assert times_asked(asked) == 1
    assert case.machine.last_right is None


def test_where_it_changes_nothing_it_is_not_asked(answer: Answer) -> None:
    _, asked = answer("silencer_shovel", "q")
    assert times_asked(asked) == 0
