"""The audit of a case store: re-read every event, re-hash it, and say what does not fit."""

from __future__ import annotations

import hashlib
import re
import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from diagnose.cases import failures
from diagnose.cases.events import EventError, Opened, from_json
from diagnose.cases.migrations import snapshot
from diagnose.cases.waiting import PROOF
from diagnose.errors import Place, Problem

Row = tuple[int, int, int, str, str, str]
TURNS = re.compile(
    f'"kind":"(?:opened|closed|reopened|withdrawn|repaired|waits)"|"check":"{re.escape(PROOF)}'
)
"""In the canonical JSON of the events that open and close a case, and of those that tell what it waits for (a
quotation mark within a text is escaped)."""
SIGNED = '"by":"'
"""In that of the events that name who noted them."""
RESCUE = "keep this file; diagnose store rescue NEW saves what is whole"
SHUT = "the case store cannot be opened"
_TRIGGERS = frozenset({"event_no_update", "event_no_delete"})


def digest(parent: str, case: int, body: str) -> str:
    """SHA-256, in hex, of the parent's hash, the case number and the event's canonical JSON."""
    return hashlib.sha256(f"{parent}\n{case}\n{body}".encode()).hexdigest()


def problem(code: str, path: Path, message: str) -> Problem:
    """A problem of the store as a whole, with the hint that fits each of them."""
    return Problem(code, Place(str(path)), message, RESCUE)


@dataclass
class Audit:
    """What the hashes and numbers of the rows say, as far as they were looked at.

    `rows`: ids of the rows of each case, in order; `turns`: number and text of the events that open and close it or
    tell what it waits for; `newest`: the text of its last event; `signed`: of the last that names who noted it;
    `altered`: what is wrong with the rows of one case; `misplaced`: what is wrong with the numbers, so that no case
    can be trusted.
    """

    rows: defaultdict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    turns: defaultdict[int, list[tuple[int, str]]] = field(default_factory=lambda: defaultdict(list))
    newest: dict[int, str] = field(default_factory=dict)
    signed: dict[int, str] = field(default_factory=dict)
    altered: dict[int, str] = field(default_factory=dict)
    misplaced: tuple[str, ...] = ()
    _last: int = 0
    _wrong: list[str] = field(default_factory=list)
    _misnumbered: set[int] = field(default_factory=set)

    def go_on(self, connection: sqlite3.Connection) -> None:
        """Look at every row that is new, in the order of the table itself: its index can be damaged. Rows and the
        number of the last are read at one moment, or another program's new row would seem to be missing."""
        columns = "id, case_number, sequence, body, parent, hash"
        query = f"select {columns} from event not indexed where id > ? order by id"
        with snapshot(connection):
            for row in connection.execute(query, (self._last,)):
                self._take(*row)
            missing = [words for _, words in _tail(connection, self._last)]
        self.misplaced = (*self._wrong, *self._numbering(), *missing)

    def _take(self, id: int, case: int, sequence: int, body: object, parent: object, stored: object) -> None:
        self._last = id
        if not (isinstance(case, int) and isinstance(sequence, int)):
            self._wrong.append(f"an event has no number: row {id}")
            return
        self.rows[case].append(id)
        if sequence != len(self.rows[case]):
            self._misnumbered.add(case)
        if words := changed(case, sequence, body, parent, stored):
            self.altered.setdefault(case, words)
            if f'"sequence":{sequence},' not in str(body):
                self._wrong.append(words)
        self.newest[case] = str(body)
        if SIGNED in self.newest[case]:
            self.signed[case] = self.newest[case]
        if TURNS.search(self.newest[case]):
            self.turns[case].append((sequence, self.newest[case]))

    def _numbering(self) -> Iterator[str]:
        for number in range(1, len(self.rows) + 1):
            if number not in self.rows:
                yield f"case {number} is missing, or its number was changed"
        for case in sorted(self._misnumbered):
            yield f"case {case}: its events are not numbered from 1 to {len(self.rows[case])}"


def changed(case: int, sequence: int, body: object, parent: object, stored: object) -> str:
    """What is wrong with the row of an event, by its own hash; empty where nothing is."""
    known = isinstance(body, str) and isinstance(parent, str)
    if known and stored == digest(str(parent), case, str(body)):
        return ""
    return f"case {case}, event {sequence}: its text does not match its hash"


def shut(path: Path, error: OSError, hint: str = "") -> Problem:
    """That the file cannot be opened at all."""
    return Problem("C005", Place(str(path)), f"{SHUT}: {error.strerror}", hint)


def lost(path: Path, message: str) -> Problem:
    """An event that could not be saved."""
    return Problem("C017", Place(str(path)), message)


def verify(connection: sqlite3.Connection, path: Path) -> tuple[Problem, ...]:
    """Everything wrong with the store, read in one snapshot. The chain finds accidents and careless changes;
    it has no key, so that it cannot find a forger who re-hashes all that follows.
    """
    try:
        with snapshot(connection):
            return tuple(problem(code, path, message) for code, message in _findings(connection))
    except failures.ERRORS as error:
        return (problem("C004", path, f"the case store is damaged: {error}"),)


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
