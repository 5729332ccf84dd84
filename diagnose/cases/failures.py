"""What SQLite's result codes mean for a file that only grows (https://www.sqlite.org/rescode.html)."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

STRANGE, DAMAGED = "another program's file", "damaged"
READ_ONLY, SHUT = "cannot be written", "cannot be opened"
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


def meaning(error: sqlite3.Error) -> str:
    """One of the meanings above, by the primary result code; damaged where there is none, "" for all others."""
    return _MEANINGS.get(getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF, "")
