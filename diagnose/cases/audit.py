"""The audit of a case store: re-read every event, re-hash it, and say what does not fit."""

from __future__ import annotations

import hashlib
import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from diagnose.cases import failures
from diagnose.cases.events import EventError, Opened, from_json
from diagnose.errors import Place, Problem

Row = tuple[int, int, int, str, str, str]
_TRIGGERS = frozenset({"event_no_update", "event_no_delete"})


def digest(parent: str, case: int, body: str) -> str:
    """SHA-256, in hex, of the parent's hash, the case number and the event's canonical JSON."""
    return hashlib.sha256(f"{parent}\n{case}\n{body}".encode()).hexdigest()


def problem(code: str, path: Path, message: str) -> Problem:
    """A problem of the store as a whole, with the hint that fits each of them."""
    return Problem(
        code, Place(str(path)), message, "keep this file; diagnose store rescue NEW saves what is whole"
    )


@dataclass(frozen=True, slots=True)
class Audit:
    """What the hashes and numbers of all rows say. `rows`: the ids of the rows of each case, in order;
    `misplaced`: what is wrong with the numbers, so that no case can be trusted; `altered`: what is wrong with the
    rows of one case."""

    rows: dict[int, list[int]]
    misplaced: tuple[str, ...]
    altered: dict[int, str]


def audit(connection: sqlite3.Connection) -> Audit:
    """Look at every row, in the order of the table itself: its index can be damaged by itself."""
    numbers: defaultdict[int, list[int]] = defaultdict(list)
    ids: defaultdict[int, list[int]] = defaultdict(list)
    wrong, altered, last = list[str](), dict[int, str](), 0
    query = "select id, case_number, sequence, body, parent, hash from event not indexed order by id"
    for last, case, sequence, body, parent, stored in connection.execute(query):
        if not (isinstance(case, int) and isinstance(sequence, int)):
            wrong.append(f"an event has no number: row {last}")
            continue
        numbers[case].append(sequence)
        ids[case].append(last)
        if words := changed(case, sequence, body, parent, stored):
            altered.setdefault(case, words)
            if f'"sequence":{sequence},' not in str(body):
                wrong.append(words)
    lengths = {case: len(numbers[case]) for case in sorted(numbers)}
    missing = (n for n in range(1, len(lengths) + 1) if n not in lengths)
    wrong += [f"case {n} is missing, or its number was changed" for n in missing]
    wrong += [
        f"case {case}: its events are not numbered from 1 to {lengths[case]}"
        for case in lengths
        if numbers[case] != list(range(1, lengths[case] + 1))
    ]
    wrong += [words for _, words in _tail(connection, last)]
    return Audit({case: ids[case] for case in lengths}, tuple(wrong), altered)


def changed(case: int, sequence: int, body: object, parent: object, stored: object) -> str:
    """What is wrong with the row of an event, by its own hash; empty where nothing is."""
    known = isinstance(body, str) and isinstance(parent, str)
    if known and stored == digest(str(parent), case, str(body)):
        return ""
    return f"case {case}, event {sequence}: its text does not match its hash"


def lost(path: Path, message: str) -> Problem:
    """An event that could not be saved."""
    return Problem("C017", Place(str(path)), message)


def verify(connection: sqlite3.Connection, path: Path) -> tuple[Problem, ...]:
    """Everything wrong with the store, read in one snapshot. The chain finds accidents and careless changes;
    it has no key, so that it cannot find a forger who re-hashes all that follows.
    """
    try:
        connection.execute("begin")
        return tuple(problem(code, path, message) for code, message in _findings(connection))
    except failures.ERRORS as error:
        return (problem("C004", path, f"the case store is damaged: {error}"),)
    finally:
        if connection.in_transaction:
            connection.execute("rollback")


def _findings(connection: sqlite3.Connection) -> Iterator[tuple[str, str]]:
    yield from _pages(connection)
    yield from _guards(connection)
    tip, lengths, last = "", dict[int, int](), 0
    for row in connection.execute(
        "select id, case_number, sequence, body, parent, hash from event order by id"
    ):
        yield from _row(row, tip, lengths)
        last, tip = row[0], row[5]
    yield from _tail(connection, last)


def _pages(connection: sqlite3.Connection) -> Iterator[tuple[str, str]]:
    for (line,) in connection.execute("pragma integrity_check"):
        if line != "ok":
            yield "C004", f"the case store is damaged: {line}"


def _guards(connection: sqlite3.Connection) -> Iterator[tuple[str, str]]:
    names = {name for (name,) in connection.execute("select name from sqlite_master where type = 'trigger'")}
    for name in sorted(_TRIGGERS - names):
        yield "C012", f"the guard {name} is gone: events could have been changed"


def _row(row: Row, tip: str, lengths: dict[int, int]) -> Iterator[tuple[str, str]]:
    """One event against the one before it and the length of its case so far (which it adds to)."""
    _, case, sequence, body, parent, stored = row
    where = f"case {case}, event {sequence}"
    if parent != tip:
        yield "C013", f"{where}: the event recorded before it is missing or changed"
    if wrong := changed(case, sequence, body, parent, stored):
        yield "C014", wrong
    if sequence != lengths.get(case, 0) + 1:
        yield "C015", f"{where}: it does not follow event {lengths.get(case, 0)}"
    lengths[case] = sequence
    yield from _content(where, sequence, body)


def _content(where: str, sequence: int, body: object) -> Iterator[tuple[str, str]]:
    if not isinstance(body, str):
        yield "C010", f"{where}: this is no text"
        return
    yield from _told(where, sequence, body)


def _told(where: str, sequence: int, body: str) -> Iterator[tuple[str, str]]:
    try:
        event = from_json(body)
    except EventError as error:
        yield "C010", f"{where}: {error}"
        return
    if event.sequence != sequence:
        yield "C015", f"{where}: its text says that it is event {event.sequence}"
    if isinstance(event, Opened) != (sequence == 1):
        yield "C015", f"{where}: a case starts with its opening, and has one only"


def _tail(connection: sqlite3.Connection, last: int) -> Iterator[tuple[str, str]]:
    highest = connection.execute("select seq from sqlite_sequence where name = 'event'").fetchone()
    given = highest[0] if highest else 0
    if last != given:
        yield "C016", f"the last events are missing: {given} were recorded, the last here is number {last}"
