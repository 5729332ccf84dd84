"""Whole cases played in the bay come out as they are kept, and none of the screens kept is absurd.

The transcripts are made by `python -m tests.bay.play --write`; what must hold of them is common practice of the
trade and of the bay (a terminal of 60 by 24), no outside source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.bay.person import Play, plays
from tests.bay.play import COMMAND
from tests.bay.stage import ANSWERED, SIZES, file, perform

PLAYS = plays()
QUICK = (("boost_hose_filter_truck", 60),)
"""Those that take a few seconds."""
ALL = [(play, width) for play in PLAYS for width in SIZES]
STAND = "-" * 40
ASKED = "What did you see?"
NOT_FOR_THE_BAY = re.compile(r"\bbits?\b|\bdB\b|deciban|\.yaml|\d\.\d+ %|[<>] \d+ %|None|nan\b")


def named(value: Play | int) -> str:
    """How a test of it is called."""
    return value.id if isinstance(value, Play) else str(value)


def marked(play: Play, width: int) -> object:
    slow = (play.id, width) not in QUICK
    return pytest.param(play, width, id=f"{play.id}-{width}", marks=[pytest.mark.slow] if slow else [])


@pytest.mark.parametrize(("play", "width"), [marked(*one) for one in ALL])
def test_it_is_played_as_it_is_kept(play: Play, width: int) -> None:
    shown = perform(play, width).text
    assert file(play, width).read_text(encoding="utf-8") == shown, f"read what changed, then: {COMMAND}"


def screens(play: Play, width: int) -> tuple[tuple[str, ...], ...]:
    """What stood on the screen between two answers, the prompt last."""
    return _screens(file(play, width))


@cache
def _screens(path: Path) -> tuple[tuple[str, ...], ...]:
    found: list[tuple[str, ...]] = []
    screen: list[str] = []
    for line in path.read_text(encoding="utf-8").splitlines():
        screen.append(line)
        if ANSWERED in line:
            found.append(tuple(screen))
            screen = []
    return tuple(found)


def stands(play: Play, width: int) -> Iterator[tuple[str, ...]]:
    """The screens that tell where the case stands, from their rule on."""
    for screen in screens(play, width):
        if screen[-1].startswith(ASKED) and STAND in screen:
            yield screen[screen.index(STAND) :]


@pytest.mark.parametrize(("play", "width"), ALL, ids=named)
def test_every_case_comes_to_its_end(play: Play, width: int) -> None:
    text = file(play, width).read_text(encoding="utf-8")
    assert "[LOST]" not in text
    assert re.search(r"^closed: ", text, re.MULTILINE)


@pytest.mark.parametrize(("play", "width"), ALL, ids=named)
def test_the_true_cause_is_closed_with(play: Play, width: int) -> None:
    from tests.shipped import shipped_knowledge

    text = " ".join(file(play, width).read_text(encoding="utf-8").split())
    closed = text[text.rindex("closed: ") :]
    assert all(shipped_knowledge().causes[id].name in closed for id in play.causes)


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_where_the_case_stands_fits_one_screen(play: Play) -> None:
    """With the line that was typed, below what came before it."""
    for screen in stands(play, 60):
        assert len(screen) <= SIZES[60]
    for screen in screens(play, 60):
        assert not (screen[-1].startswith("-- Enter for more") and STAND in screen)


@pytest.mark.parametrize(("play", "width"), ALL, ids=named)
def test_no_line_is_wider_than_the_screen(play: Play, width: int) -> None:
    for line in (line.partition(ANSWERED)[0] for screen in screens(play, width) for line in screen):
        assert len(line) <= width + 1


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_the_bay_speaks_no_mathematics(play: Play) -> None:
    found = [line for screen in screens(play, 60) for line in screen if NOT_FOR_THE_BAY.search(line)]
    assert found == []


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_at_most_three_cautions_and_three_causes(play: Play) -> None:
    for screen in screens(play, 60):
        assert sum(line.startswith(("  CAUTION", "  STOP FIRST")) for line in screen) <= 3
    for screen in stands(play, 60):
        assert sum(bool(re.match(r" *\d +(over )?\d+ % ", line)) for line in screen) <= 3


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_what_must_not_be_done_is_said_once(play: Play) -> None:
    """Three stops for one engine are one stop; who stops need not be told to move it only."""
    for screen in stands(play, 60):
        words = [line for line in screen if line.startswith(("STOP NOW", "MOVE ONLY"))]
        hazards = [line for line in words if not re.search(r"\(\d+ %\)|\(over|%\)", line)]
        assert len(words) - len(hazards) <= 1


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_codes_are_never_a_list_of_questions(play: Play) -> None:
    for screen in screens(play, 60):
        assert sum(bool(re.match(r" *\d+ Code ", line)) for line in screen) <= 1


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_what_nobody_could_answer_is_not_asked_again(play: Play) -> None:
    asked = [screen[-2::-1] for screen in screens(play, 60) if screen[-1].endswith(f"these): {ANSWERED}")]
    questions = ["\n".join(one) for one in asked]
    assert len(questions) == len(set(questions))


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_five_questions_of_one_check_take_seven_keys_at_most(play: Play) -> None:
    """With two of them so: the key of the move, Enter past the cautions, the numbers with their comma; of several
    checks asked in one go each by itself."""
    keys, items = 0, 0
    for screen in screens(play, 60):
        typed = screen[-1].partition(ANSWERED)[2]
        begun = any(re.search(r"\(\d+ min\)$", line) for line in screen)
        before = 0 if screen[-1].startswith(ASKED) else len("d\n") if begun else keys
        keys = before + len(typed) + 1
        if screen[-1].startswith("Numbers (0 none"):
            items = sum(bool(re.match(r" *\d+ ", line)) for line in screen)
            if items >= 5 and len(typed) <= len("2, 4"):
                assert keys <= 8 if " " in typed else keys <= 7
            keys = len("d\n")


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_nothing_is_closed_while_a_proof_is_due(play: Play) -> None:
    text = file(play, 60).read_text(encoding="utf-8")
    for before in re.split(r"^closed: ", text, flags=re.MULTILINE)[:-1]:
        put_off = set(re.findall(r"proof due later: ([^\n]{10,30})", before))
        proved = set(re.findall(r"proved: ([^\n]{10,30})", before))
        assert {one[:10] for one in put_off} <= {one[:10] for one in proved}


@pytest.mark.parametrize("play", PLAYS, ids=named)
def test_a_repaired_machine_that_is_to_be_run_has_no_stop(play: Play) -> None:
    for screen in stands(play, 60):
        if any(line.startswith(("PROVE", "CLOSE")) for line in screen):
            assert not any(line.startswith(("STOP NOW", "MOVE ONLY", "DO NOT CRANK")) for line in screen)
