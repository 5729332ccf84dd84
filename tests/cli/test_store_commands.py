"""diagnose store verify and rescue, as they are called; learning passes over what cannot be read."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from tests.cli.conftest import Call, Shown, call, shown

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
