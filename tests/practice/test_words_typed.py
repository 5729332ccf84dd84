"""What an apprentice types beside the point: taken as meant where it is clear, asked again where it is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.cases import scenario
from diagnose.cli.practice.answers import figures, ids_meant
from diagnose.cli.practice.conversation import TRYING
from diagnose.errors import CallError
from tests.cli.conftest import Call
from tests.practice.small import knowledge
from tests.practice.test_keeping import SCENARIO
from tests.practice.test_talk import HARD_STOP, flat

LISTED = ("batteries_flat", "pump_worn", "seal_out")


@pytest.mark.parametrize(
    ("text", "taken"),
    [
        ("1 60, 3 20", {"batteries_flat": 0.6, "seal_out": 0.2}),
        ("1 60 3 20", {"batteries_flat": 0.6, "seal_out": 0.2}),
        ("1=60%; 3=20 %", {"batteries_flat": 0.6, "seal_out": 0.2}),
        ("seal 35, 2 0", {"seal_out": 0.35, "pump_worn": 0.0}),
    ],
)
def test_figures_as_people_write_them(text: str, taken: dict[str, float]) -> None:
    assert figures(knowledge(), text, LISTED) == taken


@pytest.mark.parametrize("text", ["1 0.5", "1 101", "9 10", "1", "1 20 3", "qwertz 20", "0 10"])
def test_figures_that_are_none(text: str) -> None:
    with pytest.raises(CallError):
        figures(knowledge(), text, LISTED)


@pytest.mark.parametrize(
    "text", ["crank it", "start the engine", "restart", "try to start it again", "run it on"]
)
def test_cranking_and_running_are_no_check(text: str) -> None:
    assert TRYING.fullmatch(text)


@pytest.mark.parametrize("text", ["+1 -3", "12", "?!", "read rail pressure while it runs"])
def test_and_these_are_not_cranking(text: str) -> None:
    assert not TRYING.fullmatch(text)


@pytest.mark.parametrize("text", ["+1 -3", "12", "?!"])
def test_signs_and_numbers_mean_no_check(text: str) -> None:
    with pytest.raises(CallError, match="goes by"):
        ids_meant(knowledge(), text, ("checks", "findings"))


def test_cranking_in_words_is_stopped_and_so_is_looking_how_it_cranks(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "hard.yaml"
    path.write_text(HARD_STOP.replace("  - note: no_start\n", ""), encoding="utf-8")
    typed = "crank it\nlook: no start\n"
    told = flat(call("practice", "start", str(path), "--seed", "1", "--name", "Bo", typed=typed).stdout)
    assert told.count("STOPPED") == 2


def test_asked_again_instead_of_lost(call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Figures that were wrong, a check that was not meant, a machine that is not in the list."""
    path = tmp_path / "mine.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    typed = "p\n1 0.5\n1 50\nread rail pressure\nn\nn\n"
    told = flat(call("practice", "start", str(path), "--seed", "1", "--name", "Ann", typed=typed).stdout)
    assert "for one half write 50" in told
    assert "of 100 points" in told
    assert "2.2 MPa" not in told
    assert "0 min of work" in told.rsplit("What do you do?", 1)[0]
    monkeypatch.setattr(scenario, "folder", lambda: tmp_path)
    told = flat(call("practice", "start", "--name", "Ann", typed="999\nq\n").stdout)
    assert "Give a number from 1 to" in told
    assert "No exercise was begun." in told
