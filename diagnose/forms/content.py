"""The content of a file, or why it cannot be had."""

from __future__ import annotations

from pathlib import Path

from diagnose.errors import Place, Problem

MAX_BYTES = 5_000_000  # twice all that is shipped, in one file


def read_bytes(path: Path) -> bytes | Problem:
    """The file's content, or why it cannot be had. Never reads more than the limit."""
    try:
        with path.open("rb") as file:
            content = file.read(MAX_BYTES + 1)
    except OSError as error:
        return Problem("K001", Place(str(path)), f"cannot be read: {error.strerror or error}")
    if len(content) > MAX_BYTES:
        hint = "split it into several files"
        return Problem("K003", Place(str(path)), f"is larger than {MAX_BYTES // 1_000_000} MB", hint)
    return content
