"""What is kept survives a kill, is never changed, and does not tell the truth in plain text."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.append_only.rescue import rescue
from diagnose.errors import CallError, DataError
from diagnose.practice.expert import make
from diagnose.practice.run import ExerciseRun, started
from diagnose.practice.seal import new_key, seal, unseal
from diagnose.practice.store import ExerciseEntry, Exercises, practice_path
from tests.cli.conftest import Call
from tests.practice.small import SHOP, exercise, knowledge, run

WRITER = """
import os, sys, signal
from pathlib import Path
from diagnose.practice.store import ExerciseEntry, Exercises
kept = Exercises(Path(sys.argv[1]))
number = kept.begin(ExerciseEntry("started", {"apprentice": "Ann"}))
kept.append(number, ExerciseEntry("guessed", {"said": {"pump_worn": 0.5}}))
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_entries_survive_a_kill(tmp_path: Path) -> None:
    path = tmp_path / "p.sqlite"
    done = subprocess.run(
        [sys.executable, "-c", WRITER, str(path)], check=False, cwd=Path(__file__).parents[2]
    )
    assert done.returncode == -signal.SIGKILL
    with Exercises(path) as kept:
        assert [entry.kind for entry in kept.entries(1)] == ["started", "guessed"]
        kept.append(1, ExerciseEntry("given_up", {}))
        assert len(kept.entries(1)) == 3


def test_entries_are_never_changed(tmp_path: Path) -> None:
    with Exercises(tmp_path / "p.sqlite") as kept:
        kept.begin(ExerciseEntry("started", {}))
    raw = sqlite3.connect(tmp_path / "p.sqlite")
    for statement in ("update entry set body = 'x'", "delete from entry"):
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            raw.execute(statement)
    raw.close()


def changed(path: Path, statement: str) -> None:
    """The statement done by another program, past the guards."""
    raw = sqlite3.connect(path, isolation_level=None)
    guards = raw.execute("select name, sql from sqlite_master where type = 'trigger'").fetchall()
    for name, _ in guards:
        raw.execute(f"drop trigger {name}")
    raw.execute(statement)
    for _, text in guards:
        raw.execute(text)
    raw.close()


@pytest.mark.parametrize(
    ("statement", "read", "verified"),
    [
        (
            "update entry set body = replace(body, '1.5', '9.5') where id = 2",
            "P014 exercise 1, entry 2",
            "P014",
        ),
        ("update entry set exercise = 2, sequence = 2 where id = 2", "P015 exercise 2", "P014"),
        ("update entry set sequence = 7 where id = 2", "P015 exercise 1", "P015"),
        ("delete from entry where id = 3", "P015 the last entries are missing", "P016"),
        ("update entry set parent = 'x' where id = 2", "P014 exercise 1, entry 2", "P013"),
    ],
)
def test_a_changed_entry_is_never_read(tmp_path: Path, statement: str, read: str, verified: str) -> None:
    path = tmp_path / "p.sqlite"
    with Exercises(path) as kept:
        kept.begin(ExerciseEntry("started", {}), ExerciseEntry("guessed", {"points": 1.5}))
        kept.begin(ExerciseEntry("started", {}))
    changed(path, statement)
    with Exercises(path) as kept:
        with pytest.raises(DataError, match=read) as told:
            kept.entries(1)
        assert "store rescue" in told.value.problems[0].hint
        assert verified in [one.code for one in kept.verify()]


def test_an_exercise_whose_beginning_was_lost_keeps_its_number_only(tmp_path: Path) -> None:
    path, new = tmp_path / "p.sqlite", tmp_path / "new.sqlite"
    with Exercises(path) as kept:
        for _ in range(3):
            kept.begin(ExerciseEntry("started", {"points": 1.5}), ExerciseEntry("guessed", {"points": 1.5}))
        third = kept.entries(3)
    changed(path, "update entry set body = replace(body, '1.5', '9.5') where id in (2, 3)")
    assert [one.code for one in rescue(Exercises, path, new).lost] == ["P017", "P017"]
    with Exercises(new) as kept:
        assert [entry.kind for entry in kept.entries(1)] == ["started", "lost"]
        with pytest.raises(CallError, match="beginning of exercise 2 was damaged"):
            kept.entries(2)
        assert (kept.numbers(), kept.entries(3), kept.begin(ExerciseEntry("started", {}))) == (
            (1, 3),
            third,
            4,
        )
        assert kept.verify() == ()


def test_what_names_an_apprentice_is_for_its_user_alone(tmp_path: Path) -> None:
    with Exercises(tmp_path / "p.sqlite") as kept:
        kept.begin(ExerciseEntry("started", {}))
        assert {file.stat().st_mode & 0o777 for file in tmp_path.iterdir()} == {0o600}


def test_other_files_are_refused(tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite"
    raw = sqlite3.connect(other)
    raw.execute("create table t (x)")
    raw.commit()
    raw.close()
    with pytest.raises(
        DataError, match="P002 this is no file of exercises but a database of another program"
    ):
        Exercises(other)


def test_no_such_exercise(tmp_path: Path) -> None:
    with Exercises(tmp_path / "p.sqlite") as kept, pytest.raises(CallError):
        kept.entries(3)


def test_file_lies_beside_the_case_store() -> None:
    assert practice_path(Path("/shop/cases.sqlite")) == Path("/shop/cases.practice.sqlite")


@pytest.mark.parametrize("cause", ["debris", "seal_out", "batteries_flat"])
def test_truth_is_not_in_the_file(tmp_path: Path, cause: str) -> None:
    """Nor its name, nor the title, whatever was done but the repair itself."""
    with Exercises(tmp_path / "p.sqlite") as kept:
        at = ExerciseRun(knowledge(), SHOP, [started(knowledge(), exercise(cause), "Ann")])
        number = kept.begin(at.entries[0])
        option = at.standing.check_option("cut_filter")
        assert option is not None
        kept.append(number, make(at, at.standing.check(option)).entry)
    stored = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    for word in (cause, knowledge().causes[cause].name, "Title", "About"):
        assert word.encode() not in stored


def test_seal_has_one_length_and_opens_with_its_key_only() -> None:
    key = new_key()
    short, long = seal({"causes": ["a"]}, key), seal({"causes": ["b" * 300]}, key)
    assert len(short) == len(long)
    assert unseal(short, key) == {"causes": ["a"]}
    with pytest.raises(ValueError, match="does not open"):
        unseal(short, new_key())


def test_json_and_debrief_tell_nothing_before_the_end(call: Call) -> None:
    call("practice", "start", str(_scenario()), "--seed", "1", "--name", "Ann", typed="h\n")
    listed = json.loads(call("practice", "list", "--json").stdout)
    sheet = call("practice", "sheet", "--json").stdout
    assert [one["ended"] for one in listed["exercises"]] == [""]
    for told in (json.dumps(listed), sheet):
        assert "seal_out" not in told
        assert "Injector seal" not in told
    refused = call("practice", "debrief", code=2)
    assert "still goes on" in refused.stderr
    assert "seal" not in refused.stderr


def test_unfinished_exercise_of_other_knowledge_is_refused() -> None:
    at = run()
    values = {**at.entries[0].values, "knowledge": "other"}
    with pytest.raises(CallError, match="changed"):
        _ = ExerciseRun(knowledge(), SHOP, [ExerciseEntry("started", values)]).beginning.exercise


def _scenario() -> Path:
    path = Path(os.environ["DIAGNOSE_CASES"]).parent / "mine.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return path


SCENARIO = """
scenario: mine
title: The seal
about: What it teaches.
machine: {number: D-07, family: old_six, hours: 9000}
complaint: does not start
events:
  - note: no_start
  - check: read_pressure
  - reading: rail pressure cranking
    value: 2.2 MPa
expect:
  causes: [seal_out]
"""


def test_full_disk_is_told_in_words_and_loses_nothing(tmp_path: Path) -> None:
    with Exercises(tmp_path / "p.sqlite") as kept:
        number = kept.begin(ExerciseEntry("started", {}))
        kept._database.connection.execute("pragma max_page_count = 1")
        with pytest.raises(DataError, match=r"disk is full\. Nothing of this entry was kept") as told:
            kept.append(number, *[ExerciseEntry("hinted", {"words": "x" * 4000})] * 100)
        assert told.value.problems[0].code == "P006"
        assert "free some space" in told.value.problems[0].hint
        assert [entry.kind for entry in kept.entries(number)] == ["started"]


def test_file_being_written_and_file_damaged_are_told_apart(tmp_path: Path) -> None:
    path = tmp_path / "p.sqlite"
    with Exercises(path) as kept:
        number = kept.begin(ExerciseEntry("started", {}))
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("begin immediate")
        kept._database.connection.execute("pragma busy_timeout = 0")
        with pytest.raises(DataError, match="another program is writing"):
            kept.append(number, ExerciseEntry("given_up", {}))
        other.execute("rollback")
        other.close()
    path.write_bytes(b"no database at all, but long enough to be looked at" * 40)
    with pytest.raises(DataError, match="no file of exercises"):
        Exercises(path)


def _under_other_knowledge() -> None:
    """As if the knowledge had changed since: every exercise names another version."""
    path = practice_path(Path(os.environ["DIAGNOSE_CASES"]))
    with Exercises(path) as kept:
        before = [kept.entries(number) for number in kept.numbers()]
    path.unlink()
    with Exercises(path) as kept:
        for started, *rest in before:
            kept.begin(replace(started, values={**started.values, "knowledge": "other"}), *rest)


def test_finished_exercise_is_told_whole_after_the_knowledge_changed(call: Call) -> None:
    call("practice", "start", str(_scenario()), "--seed", "1", "--name", "Ann", typed="x\ny\n\n\n\n")
    before = json.loads(call("practice", "debrief", "--json").stdout)
    _under_other_knowledge()
    assert json.loads(call("practice", "debrief", "--json").stdout) == before
    assert before["best"]["path"]


def test_unfinished_exercise_says_so_and_can_be_ended(call: Call) -> None:
    """The debrief stays shut until it is ended for good: else other knowledge would open it in the middle."""
    typed = "cut the filter\n\n"
    call("practice", "start", str(_scenario()), "--seed", "1", "--name", "Ann", typed=typed)
    _under_other_knowledge()
    told = call("practice", "resume", typed="\n").stdout
    assert "knowledge has changed" in told
    assert "Everything is kept" in told
    assert "still goes on" in call("practice", "debrief", code=2).stderr
    told = " ".join(call("practice", "resume", typed="y\n\n\n\n").stdout.split())
    assert "Hidden: Injector seal pushed out" in told
    assert "can no longer be worked out" in told
    values = json.loads(call("practice", "debrief", "--json").stdout)
    assert (values["ended"], values["best"]) == ("given up", None)
    assert values["path"][0]["name"] == "Cut the oil filter open"
