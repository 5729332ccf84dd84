"""What is whole in a damaged store, written into a new one; what is not is listed and keeps its number.

An entry is whole where its text, the hash before it and its own hash fit together: a hash says so, wherever the row
was found and whatever became of the tables around it.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.append_only import failures
from diagnose.append_only.format import LOST, EntryError, Format, NewerEntry, sequence_of
from diagnose.append_only.log import Log
from diagnose.append_only.opening import content, in_memory
from diagnose.append_only.sqlite import digest, migrate, shut
from diagnose.errors import CallError, DataError, Problem

# A row as it stands in a page: JSON, hash of the row before (none before the first), own hash, in a row.
_ROW = re.compile(rb"(\{\"[^\x00-\x1f\x7f-\xff]*?\})([0-9a-f]{64}|)([0-9a-f]{64})")
# What is the same in SQLite's header of every log (https://www.sqlite.org/fileformat2.html): damaged, it would
# shut the whole file.
_HEADER = {0: b"SQLite format 3\0\x10\0\x01\x01\0\x40\x20\x20", 44: b"\0\0\0\x04", 56: b"\0\0\0\x01"}


@dataclass(frozen=True, slots=True)
class Rescued:
    """What became of a file: streams and entries saved, and a problem for each entry that was not."""

    streams: int
    entries: int
    lost: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    """An entry as it was found. `stream`, `sequence`: where it says it belongs, 0 where that was not found."""

    stream: int
    sequence: int
    body: str
    parent: str
    hash: str


def must_be_free(new: Path) -> None:
    """Raise CallError where there is something of this name."""
    if new.exists() or new.is_symlink():
        raise CallError(f"{new} is there already; name a file that is not.")


def rescue(log: type[Log[Any, Any]], path: Path, new: Path) -> Rescued:
    """Save what is whole in the file into a new one of the same kind; the damaged one is only read.

    Raises CallError where the new file is there already, DataError where the old one cannot be read at all or holds
    no entry that is whole (but for a whole file in which nothing was written yet).
    """
    must_be_free(new)
    try:
        pages = content(path)
    except OSError as error:
        raise DataError([shut(path, log.format, error)]) from error
    rows = list(_by_table(log.format, pages))
    known = {(row.body, row.parent, row.hash) for row in rows}
    whole = _placed(
        [*rows, *(row for row in _by_bytes(pages) if (row.body, row.parent, row.hash) not in known)]
    )
    saved = set(whole.values())
    if not whole and not _unused(log.format, pages):
        words = f"there is no {log.format.entry} in it that is whole"
        raise DataError([log.format.problem(path, "001", words)])
    claimed = {(row.stream, row.sequence) for row in rows if row.body not in saved}
    return _written(log, path, new, whole, claimed)


def _by_table(format: Format[Any], pages: bytes) -> Iterator[_Row]:
    """The rows that the table still gives, one by one: a damaged page takes only its own with it."""
    try:
        connection = in_memory(_with_header(pages))
    except failures.ERRORS:
        return
    with closing(connection):
        with suppress(*failures.ERRORS):
            migrate(connection, format)  # rows of an earlier version have no hashes before
        yield from _rows_in(connection, format, len(pages))


def _rows_in(connection: sqlite3.Connection, format: Format[Any], size: int) -> Iterator[_Row]:
    connection.text_factory = lambda text: text.decode("utf-8", "replace")
    try:
        (last,) = connection.execute(f"select max(id) from {format.entry}").fetchone()
    except (*failures.ERRORS, TypeError):
        return
    query = f"select {format.column}, sequence, body, parent, hash from {format.entry} where id = ?"
    for id in range(1, min(last or 0, size) + 1):  # no row takes less than a byte
        try:
            row = connection.execute(query, (id,)).fetchone()
        except failures.ERRORS:
            continue
        if row:
            stream, sequence = (number if isinstance(number, int) else 0 for number in row[:2])
            yield _Row(stream, sequence, *(text if isinstance(text, str) else "" for text in row[2:]))


def _unused(format: Format[Any], pages: bytes) -> bool:
    """Whether this is a whole file of the kind in which no entry was ever written."""
    try:
        with closing(in_memory(pages)) as connection:
            (mark,) = connection.execute("pragma application_id").fetchone()
            (whole,) = connection.execute("pragma integrity_check").fetchone()
            (given,) = connection.execute("select count(*) from sqlite_sequence").fetchone()
    except failures.ERRORS:
        return False
    return bool((mark, whole, given) == (format.mark, "ok", 0))


def _by_bytes(pages: bytes) -> Iterator[_Row]:
    """The rows that stand in the bytes of the file, whatever the tables say; not those of several pages."""
    for found in _ROW.finditer(pages):
        yield _Row(0, 0, *(text.decode("ascii") for text in found.groups()))


def _with_header(pages: bytes) -> bytes:
    mended = bytearray(pages)
    for start, right in _HEADER.items():
        mended[start : start + len(right)] = right
    return bytes(mended)


def _placed(found: Iterable[_Row]) -> Mapping[tuple[int, int], str]:
    """The texts of the whole rows by stream and number. Where a field of a row is damaged, its neighbours have it:
    its parent is the hash of one, its hash the parent of another, its stream one of those there are.
    """
    rows = list(found)
    hashes = {row.hash for row in rows} | {row.parent for row in rows}
    placed: dict[tuple[int, int], str] = {}
    before, last = "", 1
    for row in rows:
        sequence = sequence_of(row.body)
        if sequence is not None:
            near = dict.fromkeys((row.stream, last, last + 1, *range(1, len(rows) + 1)))
            stream = _stream(row, [one for one in near if one > 0], before, hashes)
            if stream:
                placed.setdefault((stream, sequence), row.body)
                last = stream
        before = row.hash
    return placed


def _stream(row: _Row, streams: Iterable[int], before: str, hashes: set[str]) -> int:
    """The stream whose number makes the hashes fit; 0 where none does."""
    for parent, known in ((row.parent, {row.hash}), (before, {row.hash}), (row.parent, hashes)):
        for stream in streams:
            if digest(parent, stream, row.body) in known:
                return stream
    return 0


def _written(
    log: type[Log[Any, Any]],
    path: Path,
    new: Path,
    whole: Mapping[tuple[int, int], str],
    claimed: set[tuple[int, int]],
) -> Rescued:
    """`claimed`: the numbers of rows that are not whole: the last of a stream may be one of them."""
    lengths: dict[int, int] = {}
    for stream, sequence in whole:
        lengths[stream] = max(lengths.get(stream, 0), sequence)
    for stream in lengths:
        while (stream, lengths[stream] + 1) in claimed:
            lengths[stream] += 1
    lost: list[Problem] = []
    written = 0
    with log(new) as file:
        for stream in range(1, max(lengths, default=0) + 1):
            bodies = []
            for sequence in range(1, lengths.get(stream, 1) + 1):
                body = whole.get((stream, sequence))
                if body is None or not _readable(log.format, body):
                    lost.append(log.format.problem(path, "017", f"{log.format.at(stream, sequence)}: {LOST}"))
                    body = log.format.encode(log.format.stand_in(sequence), sequence, "")
                bodies.append(body)
            file.copy(stream, bodies)
            written += len(bodies)
    return Rescued(len(lengths), written - len(lost), tuple(lost))


def _readable(format: Format[Any], body: str) -> bool:
    try:
        format.decode(body)
    except NewerEntry:
        return True
    except EntryError:
        return False
    return True
