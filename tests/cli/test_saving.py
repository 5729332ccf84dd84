"""Files are written whole or not at all."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.cases.events import Opened
from diagnose.cases.store import Store
from diagnose.errors import CallError, DataError
from diagnose.saving import save, save_text
from tests.cli.conftest import Call


def half(path: Path) -> None:
    path.write_text("half of i", encoding="utf-8")
    raise OSError(28, "No space left on device")


def test_what_was_there_stays_when_the_disk_is_full(tmp_path: Path) -> None:
    file = tmp_path / "r.html"
    save_text(file, "old")
    with pytest.raises(DataError, match=r"r\.html:0:0: F001 cannot be written: No space left"):
        save(file, half, force=True)
    assert file.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [file]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    file, link = tmp_path / "r.md", tmp_path / "latest.md"
    file.write_text("old", encoding="utf-8")
    link.symlink_to(file)
    save_text(link, "new", force=True)
    assert link.is_symlink()
    assert file.read_text(encoding="utf-8") == "new"


def test_what_is_no_plain_file_is_written_as_it_is(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    save_text(pipe, "svg")
    assert os.read(reader, 10) == b"svg"
    os.close(reader)
    assert pipe.is_fifo()


def test_what_is_there_is_not_overwritten_unasked(tmp_path: Path) -> None:
    file = tmp_path / "r.csv"
    save_text(file, "old")
    with pytest.raises(CallError, match="there already"):
        save_text(file, "new")
    save_text(file, "new", force=True)
    assert file.read_text(encoding="utf-8") == "new"


def test_a_database_is_never_overwritten(tmp_path: Path) -> None:
    with Store(tmp_path / "c.csv") as store:
        store.new_case(Opened("D-07"))
        for name in ("c.csv", "c.csv-wal", "c.csv-shm", "c.csv-journal"):
            with pytest.raises(CallError, match="never overwritten"):
                save_text(tmp_path / name, "new", force=True)
        assert store.verify() == ()


def test_a_link_that_leads_nowhere_is_refused(tmp_path: Path) -> None:
    (tmp_path / "r.md").symlink_to(tmp_path / "away" / "x.md")
    (tmp_path / "loop.md").symlink_to(tmp_path / "loop.md")
    for name in ("r.md", "loop.md"):
        with pytest.raises(CallError, match="leads nowhere"):
            save_text(tmp_path / name, "x", force=True)


def test_who_may_read_it(tmp_path: Path) -> None:
    before = os.umask(0o022)
    save_text(tmp_path / "a", "x")
    save_text(tmp_path / "b", "x", private=True)
    save_text(tmp_path / "a", "x", force=True, private=True)
    os.umask(before)
    assert [(tmp_path / name).stat().st_mode & 0o777 for name in "ab"] == [0o600, 0o600]


@pytest.mark.parametrize("length", [200, 240, 251])
def test_long_names_are_as_good_as_short_ones(tmp_path: Path, length: int) -> None:
    save_text(tmp_path / f"{'x' * length}.md", "x")
    with pytest.raises(CallError, match="too long"):
        save_text(tmp_path / f"{'x' * 260}.md", "x")


@pytest.mark.parametrize(
    "words",
    [
        ("report", "-o", "x.md"),
        ("knowledge", "graph", "pump_worn", "-o", "x.md"),
        ("knowledge", "export", "--format", "bif", "x.bif"),
        ("learn", "export", "x.jsonl"),
        ("learn", "calibration", "--svg", "x.md"),
        ("plan", "--picture", "x.svg"),
        ("practice", "sheet", "--csv", "x.md"),
        ("practice", "sheet", "--html", "x.md"),
    ],
)
def test_no_command_overwrites_unasked(call: Call, tmp_path: Path, words: tuple[str, ...]) -> None:
    call("new", "D-07")
    call("note", "rail_pressure = low")
    call("close", "pump_worn")
    file = tmp_path / words[-1]
    file.write_text("mine", encoding="utf-8")
    assert "--force" in call(*words[:-1], str(file), code=2).output
    assert file.read_text(encoding="utf-8") == "mine"


def test_an_export_over_the_store_is_refused(call: Call, tmp_path: Path) -> None:
    store = str(tmp_path / "c.jsonl")
    call("--store", store, "new", "D-07")
    assert "never overwritten" in call("--store", store, "learn", "export", store, "--force", code=2).output
    call("--store", store, "store", "verify")


def test_papers_with_names_are_private(call: Call, tmp_path: Path) -> None:
    call("new", "D-07")
    call("note", "rail_pressure = low")
    for words in (("report", "-o", "a.md"), ("learn", "export", "--named", "b.jsonl")):
        call(*words[:-1], str(tmp_path / words[-1]))
        assert (tmp_path / words[-1]).stat().st_mode & 0o777 == 0o600


def test_a_full_disk_under_the_output_is_no_wrong_call(call: Call, tmp_path: Path) -> None:
    """/dev/full is a disk without room (Linux, full(4))."""
    command = [sys.executable, "-c", "from diagnose.cli.main import run; run()", "--version"]
    with open("/dev/full", "w") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True)
    assert (done.returncode, "Traceback" in done.stderr) == (1, False)
    assert "No space left" in done.stderr
