"""What is whole in a damaged store, written into a new one; what is not is listed and keeps its number.

An event is whole where its text, the hash before it and its own hash fit together: a hash says so, wherever the row
was found and whatever became of the tables around it.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from diagnose.cases import audit, failures
from diagnose.cases.events import EventError, Learnt, NewerEvent, Opened, from_json, to_json
from diagnose.cases.opening import content, in_memory
from diagnose.cases.store import Store
from diagnose.errors import CallError, DataError, Place, Problem

LOST = "this entry was damaged and could not be saved"
# A row as it stands in a page: JSON, hash of the row before (none before the first), own hash, in a row.
_ROW = re.compile(rb"(\{\"[^\x00-\x1f\x7f-\xff]*?\})([0-9a-f]{64}|)([0-9a-f]{64})")
# What is the same in SQLite's header of every store (https://www.sqlite.org/fileformat2.html): damaged, it would
# shut the whole file.
_HEADER = {0: b"SQLite format 3\0\x10\0\x01\x01\0\x40\x20\x20", 44: b"\0\0\0\x04", 56: b"\0\0\0\x01"}


@dataclass(frozen=True, slots=True)
class Rescued:
    """What became of a store: cases and events saved, and a problem for each event that was not."""

    cases: int
    events: int
    lost: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class _StoredEvent:
    """An event as it was found. `case`, `sequence`: where it says it belongs, 0 where that was not found."""

    case: int
    sequence: int
    body: str
    parent: str
    hash: str


def rescue(path: Path, new: Path) -> Rescued:
    """Save what is whole in the file into a new store; the damaged one is only read.

    Raises CallError where the new file is there already, DataError where the old one cannot be read at all or holds
    no event that is whole.
    """
    if new.exists() or new.is_symlink():
        raise CallError(f"{new} is there already; name a file that is not.")
    try:
        pages = content(path)
    except OSError as error:
        raise DataError([audit.shut(path, error)]) from error
    rows = list(_by_table(pages))
    known = {(row.body, row.parent, row.hash) for row in rows}
    whole = _placed(
        [*rows, *(row for row in _by_bytes(pages) if (row.body, row.parent, row.hash) not in known)]
    )
    saved = set(whole.values())
    if not whole:
        raise DataError([Problem("C001", Place(str(path)), "there is no event in it that is whole")])
    return _written(path, new, whole, {(row.case, row.sequence) for row in rows if row.body not in saved})


def _by_table(pages: bytes) -> Iterator[_StoredEvent]:
    """The rows that the table still gives, one by one: a damaged page takes only its own with it."""
    try:
        connection = in_memory(_with_header(pages))
    except failures.ERRORS:
        return
    with closing(connection):
        yield from _rows_in(connection, len(pages))


def _rows_in(connection: sqlite3.Connection, size: int) -> Iterator[_StoredEvent]:
    connection.text_factory = lambda text: text.decode("utf-8", "replace")
    try:
        (last,) = connection.execute("select max(id) from event").fetchone()
    except (*failures.ERRORS, TypeError):
        return
    for id in range(1, min(last or 0, size) + 1):  # no row takes less than a byte
        try:
            query = "select case_number, sequence, body, parent, hash from event where id = ?"
            row = connection.execute(query, (id,)).fetchone()
        except failures.ERRORS:
            continue
        if row:
            case, sequence = (number if isinstance(number, int) else 0 for number in row[:2])
            yield _StoredEvent(case, sequence, *(text if isinstance(text, str) else "" for text in row[2:]))


def _by_bytes(pages: bytes) -> Iterator[_StoredEvent]:
    """The rows that stand in the bytes of the file, whatever the tables say; not those of several pages."""
    for found in _ROW.finditer(pages):
        yield _StoredEvent(0, 0, *(text.decode("ascii") for text in found.groups()))


def _with_header(pages: bytes) -> bytes:
    mended = bytearray(pages)
    for start, right in _HEADER.items():
        mended[start : start + len(right)] = right
    return bytes(mended)


def _placed(found: Iterable[_StoredEvent]) -> Mapping[tuple[int, int], str]:
    """The texts of the whole rows by case and sequence. Where a field of a row is damaged, its neighbours have it:
    its parent is the hash of one, its hash the parent of another, its case one of those there are.
    """
    rows = list(found)
    hashes = {row.hash for row in rows} | {row.parent for row in rows}
    placed: dict[tuple[int, int], str] = {}
    before, last = "", 1
    for row in rows:
        sequence = _sequence(row.body)
        if sequence is not None:
            near = dict.fromkeys((row.case, last, last + 1, *range(1, len(rows) + 1)))
            case = _case(row, [case for case in near if case > 0], before, hashes)
            if case:
                placed.setdefault((case, sequence), row.body)
                last = case
        before = row.hash
    return placed


def _case(row: _StoredEvent, cases: Iterable[int], before: str, hashes: set[str]) -> int:
    """The case whose number makes the hashes fit; 0 where none does."""
    for parent, known in ((row.parent, {row.hash}), (before, {row.hash}), (row.parent, hashes)):
        for case in cases:
            if audit.digest(parent, case, row.body) in known:
                return case
    return 0


def _sequence(body: str) -> int | None:
    try:
        values = json.loads(body)
        sequence = values["sequence"]
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    return int(sequence) if type(sequence) is int and sequence > 0 else None


def _written(
    path: Path, new: Path, whole: Mapping[tuple[int, int], str], claimed: set[tuple[int, int]]
) -> Rescued:
    """`claimed`: the numbers of rows that are not whole: the last of a case may be one of them."""
    lengths: dict[int, int] = {}
    for case, sequence in whole:
        lengths[case] = max(lengths.get(case, 0), sequence)
    for case in lengths:
        while (case, lengths[case] + 1) in claimed:
            lengths[case] += 1
    lost: list[Problem] = []
    with Store(new) as store:
        for case in range(1, max(lengths) + 1):
            bodies = []
            for sequence in range(1, lengths.get(case, 1) + 1):
                body = whole.get((case, sequence))
                if body is None or not _readable(body):
                    lost.append(audit.lost(path, f"case {case}, event {sequence}: {LOST}"))
                    body = _stand_in(sequence)
                bodies.append(body)
            store.copy_case(case, bodies)
    saved = (
        sum(lengths.values()) + sum(case not in lengths for case in range(1, max(lengths) + 1)) - len(lost)
    )
    return Rescued(len(lengths), saved, tuple(lost))


def _readable(body: str) -> bool:
    try:
        from_json(body)
    except NewerEvent:
        return True
    except EventError:
        return False
    return True


def _stand_in(sequence: int) -> str:
    """An event that keeps the number of one that was lost, and says so."""
    event = Opened(f"({LOST})") if sequence == 1 else Learnt(text=LOST)
    return to_json(replace(event, sequence=sequence))
