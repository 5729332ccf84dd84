"""How a store's file is opened: made for its user alone, written where that can be, and read wherever it can.

A disk that is full or read-only still gives what it holds: the file is read into memory, and over it what its
write-ahead log holds that was not yet copied back (https://www.sqlite.org/fileformat2.html#walformat).
"""

from __future__ import annotations

import os
import sqlite3
import struct
from collections.abc import Callable, Iterator
from pathlib import Path

from diagnose.append_only import failures
from diagnose.saving import PRIVATE

Prepare = Callable[[sqlite3.Connection], object]
_LOG_HEAD, _FRAME_HEAD = 32, 24  # bytes; section 4.1 of the format
_BIG_ENDIAN_SUMS = 0x377F0683  # the magic number of a log with big-endian checksums (section 4.1)
_FORMAT = slice(18, 20)  # of the file's header: 2 = write-ahead log, which a file in memory cannot have


def opened(
    path: Path, wait: float, prepare: Prepare, upgrade: Prepare
) -> tuple[sqlite3.Connection, sqlite3.Error | None]:
    """The file, prepared for writing, and None; or open for reading only, and why it cannot be written. What cannot
    be written and is of an earlier version is upgraded in memory.

    Raises sqlite3.Error or OSError where it can be neither; DataError as `prepare` does.
    """
    _make(path)
    try:
        return _prepared(sqlite3.connect(path, timeout=wait, isolation_level=None), prepare), None
    except sqlite3.Error as error:
        if failures.reason(error, path)[0] not in failures.UNWRITABLE:
            raise
        try:
            return _readable(path, wait, upgrade), error
        except (sqlite3.Error, OSError):
            raise error from None


def _make(path: Path) -> None:
    """The folder, and an empty file that nobody else may read (its log gets the same rights); one that is there is
    left as it is."""
    if path.is_file():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE))
    except FileExistsError:
        return  # another program made it just now, or it is no plain file, which SQLite says


def _prepared(connection: sqlite3.Connection, prepare: Prepare) -> sqlite3.Connection:
    try:
        prepare(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _readable(path: Path, wait: float, upgrade: Prepare) -> sqlite3.Connection:
    try:  # which reads, and writes only where there is something to upgrade
        uri = f"{path.resolve().as_uri()}?mode=ro"
        return _prepared(sqlite3.connect(uri, timeout=wait, isolation_level=None, uri=True), upgrade)
    except sqlite3.Error:
        return _prepared(in_memory(content(path)), upgrade)


def in_memory(pages: bytes) -> sqlite3.Connection:
    """A database of these bytes, in memory."""
    plain = pages[: _FORMAT.start] + b"\x01\x01" + pages[_FORMAT.stop :]
    return _prepared(sqlite3.connect(":memory:", isolation_level=None), lambda file: file.deserialize(plain))


def content(path: Path) -> bytes:
    """The whole file as it would be with its write-ahead log copied back. Raises OSError."""
    pages = bytearray(path.read_bytes())
    log = path.with_name(f"{path.name}-wal")
    size = 0
    for number, length, page in _committed(log.read_bytes() if log.exists() else b""):
        start = (number - 1) * len(page)
        pages.extend(bytes(max(0, start + len(page) - len(pages))))
        pages[start : start + len(page)] = page
        size = length * len(page)
    return bytes(pages[:size] if size else pages)


def _committed(log: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Number, size of the file in pages, and content of each page of the log that a finished entry wrote."""
    if len(log) < _LOG_HEAD:
        return
    magic, _, page_size, _, *salts = struct.unpack(">6I", log[:24])
    order = ">" if magic == _BIG_ENDIAN_SUMS else "<"
    sums, pending = _summed(log[:24], order, (0, 0)), list[tuple[int, int, bytes]]()
    for start in range(_LOG_HEAD, len(log) - _FRAME_HEAD - page_size + 1, _FRAME_HEAD + page_size):
        head, page = log[start : start + _FRAME_HEAD], log[start + _FRAME_HEAD :][:page_size]
        number, length, *frame_salts = struct.unpack(">4I", head[:16])
        sums = _summed(page, order, _summed(head[:8], order, sums))
        if frame_salts != salts or sums != struct.unpack(">2I", head[16:]):
            return  # the rest is of an earlier turn of the log, or was torn
        pending.append((number, length, page))
        if length:
            yield from ((one, length, content) for one, _, content in pending)
            pending.clear()


def _summed(data: bytes, order: str, sums: tuple[int, int]) -> tuple[int, int]:
    """The log's running checksum (section 4.2 of SQLite's file format)."""
    first, second = sums
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for one, two in zip(words[::2], words[1::2], strict=True):
        first = (first + one + second) & 0xFFFFFFFF
        second = (second + two + first) & 0xFFFFFFFF
    return first, second
