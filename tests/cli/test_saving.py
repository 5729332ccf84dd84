"""Files are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from diagnose.cli.saving import save, save_text
from diagnose.errors import CallError


def half(path: Path) -> None:
    path.write_text("half of i", encoding="utf-8")
    raise OSError(28, "No space left on device")


def test_what_was_there_stays_when_the_disk_is_full(tmp_path: Path) -> None:
    file = tmp_path / "r.html"
    save_text(file, "old")
    with pytest.raises(CallError, match=r"r\.html cannot be written: No space left"):
        save(file, half)
    assert file.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [file]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    file, link = tmp_path / "r.md", tmp_path / "latest.md"
    file.write_text("old", encoding="utf-8")
    link.symlink_to(file)
    save_text(link, "new")
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
