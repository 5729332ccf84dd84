"""The one way out to a file: whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from diagnose.errors import CallError


def save(path: Path, write: Callable[[Path], Any]) -> None:
    """Let `write` make the file beside its place, with the same ending, and move it there. What is no plain file
    (a pipe, a device) is written as it is. Raises CallError where that cannot be done."""
    place = path.resolve()
    new = place.with_name(f".{place.name}.{os.getpid()}.part{place.suffix}")
    try:
        if path.exists() and not path.is_file():
            write(path)
        else:
            write(new)
            new.replace(place)
    except OSError as error:
        raise CallError(f"{path} cannot be written: {error.strerror or error}.") from error
    finally:
        new.unlink(missing_ok=True)


def save_text(path: Path, text: str) -> None:
    """Save text as UTF-8."""
    save(path, lambda new: new.write_text(text, encoding="utf-8"))
