"""Which case was last worked on in this terminal: a line of a small file beside the case store.

Losing it loses nothing: then the open case with the latest entry is meant.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from pathlib import Path

from diagnose.saving import replace


def name() -> str:
    """The terminal's name; empty where there is none."""
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError, AttributeError):
            return os.ttyname(stream.fileno())
    return ""


def last(store: Path) -> int | None:
    """The case last worked on here, if that is known."""
    found = _all(store).get(name()) if name() else None
    return found if isinstance(found, int) else None


def remember(store: Path, number: int) -> None:
    """Keep that this case was worked on here."""
    terminal = name()
    if not terminal or last(store) == number:
        return
    told = json.dumps(_all(store) | {terminal: number})
    with contextlib.suppress(OSError):
        replace(_file(store), lambda new: new.write_text(told, encoding="utf-8"), private=True)


def _all(store: Path) -> dict[str, object]:
    try:
        told = json.loads(_file(store).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}


def _file(store: Path) -> Path:
    return store.with_name(f"{store.name}.terminals")
