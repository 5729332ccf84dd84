"""The one way out to a file: whole or not at all, and never over what somebody else needs."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from diagnose.errors import CallError, DataError, Place, Problem
from diagnose.plain import one_line

PRIVATE = 0o600
"""What names machines or people is for its user alone."""
_DISK = frozenset({errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EFBIG, errno.EROFS})
"""The disk's fault, not that of the call."""
_DATABASE = b"SQLite format 3\0"
_BESIDE = ("-wal", "-shm", "-journal")
"""Endings of the files that belong to a database."""


def not_written(error: OSError) -> str:
    """Why a file could not be written."""
    return f"cannot be written: {error.strerror or error}"


def save(path: Path, write: Callable[[Path], Any], *, force: bool = False, private: bool = False) -> None:
    """Let `write` make the file beside its place, with the same endings, and move it there once it is on the disk.
    What is no plain file (a pipe, a device) is written as it is. `private`: readable for its user alone.

    Raises CallError where the file is there already and not to be overwritten, belongs to a database, or cannot be
    made; DataError where the disk fails.
    """
    free(path, force)
    try:
        if os.path.exists(path) and not os.path.isfile(path):
            write(path)
        else:
            replace(path, write, private)
    except OSError as error:
        message = not_written(error)
        if error.errno in _DISK:
            raise DataError([Problem("F001", Place(str(path)), message, "nothing was changed")]) from error
        raise CallError(f"{one_line(str(path))} {message}.") from error


def save_text(path: Path, text: str, *, force: bool = False, private: bool = False) -> None:
    """Save text as UTF-8."""
    save(path, lambda new: new.write_text(text, encoding="utf-8"), force=force, private=private)


def free(path: Path, force: bool) -> None:
    """Raise CallError where nothing may be written here; asked before long work, and again before writing."""
    name = one_line(str(path))
    if os.path.islink(path) and not os.path.exists(path):
        raise CallError(f"{name} is a link that leads nowhere.")
    if _of_database(path):
        raise CallError(f"{name} belongs to a database, perhaps the cases: it is never overwritten.")
    if os.path.isfile(path) and not force:
        raise CallError(f"{name} is there already. Name another file, or overwrite it with --force.")


def replace(path: Path, write: Callable[[Path], Any], private: bool = False) -> None:
    """Let `write` make the new file, and put it in the place of the old one: after a power cut one of the two is
    there, whole. Raises OSError, and leaves the old one, where that fails."""
    import tempfile  # not for those who only read

    place = Path(os.path.realpath(path))
    endings = "".join(place.suffixes[-2:])[-20:]
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=".diagnose-", suffix=endings)
    os.close(handle)
    new = Path(name)
    try:
        write(new)
        new.chmod(PRIVATE if private else _mode(place))
        _flush(new)
        new.replace(place)
        _flush(place.parent)
    finally:
        new.unlink(missing_ok=True)


def _mode(place: Path) -> int:
    """That of the file there, else what the user's mask leaves."""
    if place.exists():
        return place.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _flush(path: Path) -> None:
    """Have the file, or the entries of a folder, on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:  # some file systems cannot do it for a folder
            raise
    finally:
        os.close(handle)


def _of_database(path: Path) -> bool:
    whole = next(
        (path.with_name(path.name.removesuffix(end)) for end in _BESIDE if path.name.endswith(end)), path
    )
    if not os.path.isfile(whole):  # opening a pipe would wait for its other end
        return False
    try:
        with whole.open("rb") as file:
            return file.read(len(_DATABASE)) == _DATABASE
    except OSError:
        return False
