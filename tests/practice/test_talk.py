"""The guided exercise, answer by answer, as piped input; and what the trainer gets of it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.cli.conftest import Call
from tests.practice.test_keeping import SCENARIO

HARD_STOP = SCENARIO.replace("  - note: no_start\n", "  - note: no_start\n  - note: hard_stop\n")


@pytest.fixture
def mine(tmp_path: Path) -> str:
    path = tmp_path / "mine.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return str(path)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_an_exercise_from_complaint_to_debrief(call: Call, mine: str, tmp_path: Path) -> None:
    typed = "read rail pressure\n+2\np\n1 60, 2 20\nh\nh\nh\nf\nrenew the injector seals\ny\n"
    told = flat(call("practice", "start", mine, "--seed", "1", "--name", "Ann", typed=typed).stdout)
    assert "Came in for: does not start" in told
    assert "(2.2 MPa)" in told  # the value that the scenario gives
    assert "of 100 points" in told
    assert "Best now:" in told
    assert "The complaint is gone." in told
    assert "Hidden: Injector seal pushed out" in told
    values = json.loads(call("practice", "debrief", "--json", "--plot", str(tmp_path / "s.svg")).stdout)
    assert values["truth"] == ["seal_out"]
    assert values["hints"] == 3
    assert (tmp_path / "s.svg").read_text(encoding="utf-8").startswith("<svg")


def test_dangerous_moves_are_stopped_with_the_caution_and_counted(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "hard.yaml"
    path.write_text(HARD_STOP, encoding="utf-8")
    typed = "look at the injector bores while cranking\nr\n"
    told = flat(call("practice", "start", str(path), "--seed", "1", "--name", "Bo", typed=typed).stdout)
    assert told.count("STOPPED") == 2
    assert "Do not crank again" in told
    assert "Everything is kept" in told
    (row,) = json.loads(call("practice", "sheet", "--json").stdout)["exercises"]
    assert (row["stopped"], row["skills"]["safety"], row["minutes"]) == (2, 0.0, 0)


def test_what_was_said_stays_when_the_line_is_lost(call: Call, mine: str) -> None:
    call("practice", "start", mine, "--seed", "1", "--name", "Ann", typed="cut the filter\n\n")
    told = flat(call("practice", "resume", typed="n\n").stdout)
    assert "Metal in the oil filter" in told
    assert "20 min of work" in told


def test_sheet_by_apprentice(call: Call, mine: str, tmp_path: Path) -> None:
    for name in ("=Ann", "Bo"):
        call(
            "practice", "start", mine, "--seed", "1", "--name", name, typed="f\nrenew the injector seals\ny\n"
        )
    call("practice", "sheet", "--csv", str(tmp_path / "s.csv"), "--html", str(tmp_path / "s.html"))
    rows = list(csv.DictReader(io.StringIO((tmp_path / "s.csv").read_text(encoding="utf-8"))))
    assert [row["apprentice"] for row in rows] == ["'=Ann", "Bo"]
    assert all(row["ended"] == "repaired" for row in rows)
    assert "<h1>Practice sheet</h1>" in (tmp_path / "s.html").read_text(encoding="utf-8")


def test_trainer_checks_and_prints_an_exercise(call: Call, mine: str, tmp_path: Path) -> None:
    values = json.loads(call("practice", "check", mine, "--json").stdout)
    assert values["solved"] == values["tried"] > 0
    assert 0 < values["difficulty"]["checks"] < len(values["path"])
    call("practice", "paper", mine, "--folder", str(tmp_path / "out"))
    sheet = (tmp_path / "out" / "exercise.html").read_text(encoding="utf-8")
    answers = (tmp_path / "out" / "answers.html").read_text(encoding="utf-8")
    assert "The seal" not in sheet
    assert "2.2" not in sheet
    assert "Hidden: Injector seal pushed out" in answers


def test_scenario_that_hides_nothing_is_refused(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "open.yaml"
    path.write_text(SCENARIO.split("expect:")[0], encoding="utf-8")
    assert "names no cause" in call("practice", "check", str(path), code=2).stderr


def test_cause_that_cannot_show_the_findings_is_refused(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "wrong.yaml"
    path.write_text(SCENARIO.replace("seal_out", "heater_dead"), encoding="utf-8")
    assert "cannot be on this machine" in call("practice", "check", str(path), code=2).stderr


def test_drawn_machine_is_the_same_for_the_same_seed(call: Call) -> None:
    told = [
        call("practice", "start", "--draw", "--seed", "5", "--name", "Ann", typed="c\n").stdout
        for _ in range(2)
    ]
    assert told[0].split("\n", 1)[1] == told[1].split("\n", 1)[1].replace("resume 2", "resume 1")


def test_closed_case_made_anonymous(call: Call) -> None:
    call("new", "F-99", "Jo says it is dead", "--family", "old six", "--hours", "8123")
    call("note", "no start")
    call("note", "oil runs at an injector bore")
    call("close", "seal_out=by-sight")
    told = call("practice", "start", "--case", "1", "--seed", "1", "--name", "Ann", typed="n\n").stdout
    assert "F-99" not in told
    assert "Jo" not in told
    assert "8000 h" in told
    assert "Oil runs at an injector bore" not in told


def test_giving_up_at_once_still_has_a_debrief(call: Call, mine: str, tmp_path: Path) -> None:
    told = flat(call("practice", "start", mine, "--seed", "1", "--name", "Ann", typed="x\ny\n\n\n").stdout)
    assert "given up" in told
    assert "The best path on the same machine" in told
    call("practice", "debrief", "--plot", str(tmp_path / "s.svg"))


def test_handing_over_ends_it_and_costs_the_cure_on_top(call: Call, mine: str) -> None:
    told = flat(call("practice", "start", mine, "--seed", "1", "--name", "Ann", typed="o\ny\n").stdout)
    assert "The specialist found it." in told
    values = json.loads(call("practice", "debrief", "--json").stdout)
    assert values["ended"] == "handed over"
    assert values["money"] > 2500  # the shop's price for handing over, and the seals


def test_nonsense_is_told_and_loses_nothing(call: Call, mine: str) -> None:
    typed = "qwertz\np\n1 160\n99 10\nno figures\n\nf\nqwertz\nread rail pressure\n1 2\n+1 -1\n\nn\n"
    told = flat(call("practice", "start", mine, "--seed", "1", "--name", "Ann", typed=typed).stdout)
    for words in (
        "Nothing here goes by",
        "more than sure",
        "Give a number from 1",
        "no cause and per cent",
    ):
        assert words in told
    assert "Write for example: +1 -3" in told
    assert "cannot rise and fall" in told
    assert "2.2 MPa" in told
