"""A note goes to the case last worked on in this terminal, and never silently to a closed one."""

from __future__ import annotations

import pytest

from diagnose.cli import terminal
from tests.cli.conftest import Call, Shown


@pytest.fixture
def two(call: Call) -> None:
    call("new", "P-1", "no start")
    call("new", "P-2", "no start")


def test_the_reply_names_machine_and_complaint(two: None, call: Call) -> None:
    assert "Case 2 (P-2: no start)" in call("note", "P2291").stdout
    assert "Case 1 (P-1: no start)" in call("note", "-c", "1", "P2291").stdout


def test_a_plain_note_goes_to_the_case_last_worked_on_here(
    two: None, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two terminals, a case in each."""
    monkeypatch.setattr(terminal, "name", lambda: "/dev/pts/1")
    call("note", "-c", "1", "P2291")
    monkeypatch.setattr(terminal, "name", lambda: "/dev/pts/2")
    call("note", "-c", "2", "metal in the filter")
    monkeypatch.setattr(terminal, "name", lambda: "/dev/pts/1")
    assert "Case 1 (P-1" in call("note", "metal in the filter").stdout


def test_without_a_terminal_the_open_case_with_the_latest_entry_is_meant(two: None, call: Call) -> None:
    call("close", "-c", "2", "pump_worn", "--not-proven")
    assert "Case 1 (P-1" in call("note", "P2291").stdout


def test_a_closed_case_takes_no_note_unless_it_is_named(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start")
    call("close", "pump_worn", "--not-proven")
    said = call("note", "P2291", code=2)
    assert "Case 1 (P-1: no start) is closed" in said.output
    call("note", "-c", "1", "P2291")


def test_closing_in_a_pipe_without_a_cause_wants_words(call: Call) -> None:
    call("new", "P-1", "no start")
    assert "Name what it was" in call("close", code=2).output
    call("close", "--text", "not found, customer took it back")


def test_a_second_case_of_a_machine_is_told(call: Call) -> None:
    call("new", "P-1", "no start")
    told = " ".join(call("new", "P-1", "metal in the filter").stdout.split())
    assert "still open on this machine: case 1 (no start)" in told
