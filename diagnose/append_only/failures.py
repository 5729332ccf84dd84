"""What SQLite's result codes mean for a file that only grows (https://www.sqlite.org/rescode.html)."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Mapping
from pathlib import Path

Reason = tuple[str, str, str]
"""The number of our code, the failure in words ({} is the file), what to do."""
ERRORS = (sqlite3.Error, UnicodeDecodeError)
"""What sqlite3 raises: where its own message quotes bytes of a damaged file that are no text, the second."""
RESCUE = "keep this file; diagnose store rescue NEW saves what is whole"
PERMISSIONS = "check the permissions of the file and its folder"
ELSEWHERE = "name another case store with --store"
_KEPT = "Nothing of this entry was kept; everything recorded before is safe"
_SHUT = "005", "the {} cannot be opened", PERMISSIONS
_FULL = "006", f"the disk is full. {_KEPT}", "free some space and enter it again"
_BROKEN = "007", f"the disk failed. {_KEPT}", "check the disk and enter it again"
_BUSY = "008", f"another program is writing. {_KEPT}", "try again"
_REASONS: Mapping[int, Reason] = {
    sqlite3.SQLITE_NOTADB: ("001", "this is no {}", f"{ELSEWHERE}, or restore a copy"),
    sqlite3.SQLITE_CORRUPT: ("004", "the {} is damaged", RESCUE),
    sqlite3.SQLITE_READONLY: ("005", "the {} cannot be written", PERMISSIONS),
    sqlite3.SQLITE_CANTOPEN: _SHUT,
    sqlite3.SQLITE_PERM: _SHUT,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_IOERR: _BROKEN,
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
}
UNWRITABLE = frozenset({"005", "006", "007"})
"""The numbers of what leaves a file to be read all the same."""
_ROOM = 1 << 17
"""Bytes free that a store needs at least to be opened for writing: its shared memory of 32 KiB and some pages."""


def reason(error: Exception, path: Path) -> Reason:
    """Why it failed, by the primary result code; damaged where there is none.

    SQLite calls it a failure of the disk, or of opening, where there is no room for its shared memory: whether
    the disk of `path` has room tells the two apart.
    """
    other = "009", f"the {{}} failed: {error}. {_KEPT}", ""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
    found = _REASONS.get(code, other)
    return _FULL if found in (_BROKEN, _SHUT) and _no_room(path) else found


def _no_room(path: Path) -> bool:
    try:
        return shutil.disk_usage(path.parent).free < _ROOM
    except OSError:
        return False
