"""diagnose store verify and rescue, as they are called; learning passes over what cannot be read."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

from diagnose.practice.store import ExerciseEntry, Exercises, practice_path
from tests.cli.conftest import Call, Shown, call, shown
from tests.practice.test_earlier_store import written

__all__ = ["call", "shown"]


def broken(path: Path) -> None:
    """One entry of the second of three cases is changed."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("drop trigger event_no_update")
    connection.execute("update event set body = replace(body, 'G-02', 'G-03') where case_number = 2")
    connection.close()


def opened(call: Call, tmp_path: Path) -> Path:
    for machine in ("D-07", "G-02", "K-03"):
        call("new", machine)
        call("note", "rail_pressure = low")
        call("close", "pump_worn", "--confirmed", "by-sight", "--proven")
    return tmp_path / "cases.sqlite"


def test_a_whole_store(call: Call, shown: Shown, tmp_path: Path) -> None:
    opened(call, tmp_path)
    assert "3 cases, 9 entries, all whole" in " ".join(call("store", "verify").output.split())
    values = call("store", "verify", "--json").stdout
    assert '"whole": true' in values
    call("store", "rescue", str(tmp_path / "new.sqlite"))
    call("store", "rescue", str(tmp_path / "new.sqlite"), code=2)


def test_a_damaged_store(call: Call, tmp_path: Path) -> None:
    path = opened(call, tmp_path)
    broken(path)
    assert "C014 case 2, event 1" in call("store", "verify", code=1).output
    assert "C014" in call("causes", "-c", "2", code=1).output
    call("causes", "-c", "1")
    listed = call("cases", code=1).output
    assert "damaged" in listed
    assert "D-07" in listed
    told = call("store", "rescue", str(tmp_path / "new.sqlite"), code=1).output
    assert "Lost: 1 entry" in told
    call("--store", str(tmp_path / "new.sqlite"), "store", "verify")


def exercises(tmp_path: Path) -> Path:
    path = practice_path(tmp_path / "cases.sqlite")
    with Exercises(path) as kept:
        kept.begin(ExerciseEntry("started", {}), ExerciseEntry("guessed", {"points": 1.5}))
    return path


def test_the_exercises_beside_the_cases_are_seen_to(call: Call, shown: Shown, tmp_path: Path) -> None:
    opened(call, tmp_path)
    path = exercises(tmp_path)
    lines = call("store", "verify").output.splitlines()
    assert [line.rpartition(": ")[2] for line in lines] == [
        "3 cases, 9 entries, all whole",
        "1 exercise, 2 entries, all whole",
    ]
    told = json.loads(call("store", "verify", "--json").stdout)
    assert (told["cases"], told["events"], told["files"][1]["exercises"]) == (3, 9, 1)
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("drop trigger entry_no_update")
    raw.execute("update entry set body = replace(body, '1.5', '9.5')")
    raw.close()
    told = json.loads(call("store", "verify", "--json", code=1).stdout)
    assert [one["whole"] for one in told["files"]] == [True, False]
    assert "P014 exercise 1, entry 2" in call("store", "verify", code=1).output
    new = tmp_path / "new.sqlite"
    told = json.loads(call("store", "rescue", str(new), "--json", code=1).stdout)
    assert [len(one["lost"]) for one in told["files"]] == [0, 1]
    lines = call("--store", str(new), "store", "verify").output.splitlines()
    assert [line.rpartition(": ")[2] for line in lines] == [
        "3 cases, 9 entries, all whole",
        "1 exercise, 2 entries, all whole",
    ]


def test_one_file_that_is_beyond_saving_does_not_take_the_other_with_it(call: Call, tmp_path: Path) -> None:
    cases = opened(call, tmp_path)
    exercises(tmp_path)
    cases.write_bytes(b"nothing" * 1000)
    told = call("store", "verify", code=1).output
    assert "C001" in told
    assert "1 exercise, 2 entries, all whole" in told
    told = call("store", "rescue", str(tmp_path / "new.sqlite"), code=1).output
    assert "C001" in told
    assert "1 exercise, 2 entries. Nothing was lost." in told
    assert practice_path(tmp_path / "new.sqlite").exists()


def test_files_in_which_nothing_was_written_yet_are_whole(call: Call, tmp_path: Path) -> None:
    call("cases")
    call("practice", "list")
    assert call("store", "verify").output.count("all whole") == 2
    assert call("store", "rescue", str(tmp_path / "new.sqlite")).output.count("Nothing was lost") == 2


def test_nothing_is_saved_over_exercises_that_are_there(call: Call, tmp_path: Path) -> None:
    opened(call, tmp_path)
    exercises(tmp_path)
    practice_path(tmp_path / "new.sqlite").write_text("mine")
    call("store", "rescue", str(tmp_path / "new.sqlite"), code=2)
    assert not (tmp_path / "new.sqlite").exists()


def test_exercises_of_an_earlier_version_are_told_to_be_migrated(call: Call, tmp_path: Path) -> None:
    written(practice_path(tmp_path / "cases.sqlite"), ())
    assert "an earlier version wrote this file of exercises" in call("practice", "list").stderr
    assert call("practice", "list").stderr == ""


def test_no_store_is_made_by_looking_at_it(call: Call, tmp_path: Path) -> None:
    call("store", "verify", code=2)
    assert not (tmp_path / "cases.sqlite").exists()


def test_learning_passes_over_a_case_that_cannot_be_read_and_names_it(call: Call, tmp_path: Path) -> None:
    broken(opened(call, tmp_path))
    told = call("learn", "--json").stderr
    assert told.count("Passed over") == 1
    assert "C014 case 2" in told
    exported = call("learn", "export", str(tmp_path / "x.jsonl"))
    assert "2 cases" in exported.stdout
