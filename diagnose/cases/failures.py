"""What SQLite's result codes mean for a file that only grows (https://www.sqlite.org/rescode.html)."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Mapping
from pathlib import Path

STRANGE, DAMAGED = "another program's file", "damaged"
READ_ONLY, SHUT = "cannot be written", "cannot be opened"
ERRORS = (sqlite3.Error, UnicodeDecodeError)
"""What sqlite3 raises: where its own message quotes bytes of a damaged file that are no text, the second."""
FULL, BROKEN, BUSY = "disk full", "disk failed", "another is writing"

_MEANINGS: Mapping[int, str] = {
    sqlite3.SQLITE_NOTADB: STRANGE,
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: SHUT,
    sqlite3.SQLITE_PERM: SHUT,
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_IOERR: BROKEN,
    sqlite3.SQLITE_BUSY: BUSY,
    sqlite3.SQLITE_LOCKED: BUSY,
}
_ROOM = 1 << 17
"""Bytes free that a store needs at least to be opened for writing: its shared memory of 32 KiB and some pages."""


def meaning(error: Exception, path: Path | None = None) -> str:
    """One of the meanings above, by the primary result code; damaged where there is none, "" for all others.

    SQLite calls it a failure of the disk, or of opening, where there is no room for its shared memory: whether
    the disk of `path` has room tells the two apart.
    """
    found = _MEANINGS.get(getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF, "")
    return FULL if found in (BROKEN, SHUT) and path is not None and _no_room(path) else found


def _no_room(path: Path) -> bool:
    try:
        return shutil.disk_usage(path.parent).free < _ROOM
    except OSError:
        return False
