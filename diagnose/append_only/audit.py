"""The audit of a log: re-read every entry, re-hash it, and say what does not fit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from diagnose.append_only.format import EntryError, Format, NewerEntry, sequence_of
from diagnose.append_only.sqlite import Database, Row, digest
from diagnose.errors import DataError, Problem


@dataclass
class Audit:
    """What the hashes and numbers of the rows say, as far as they were looked at.

    `rows`: ids of the rows of each stream, in order; `first`: the text of its first; `altered`: what is wrong with
    the rows of one stream; `misplaced`: what is wrong with the numbers, so that no stream can be trusted.
    """

    format: Format[Any]
    rows: defaultdict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    first: dict[int, str] = field(default_factory=dict)
    altered: dict[int, str] = field(default_factory=dict)
    misplaced: tuple[str, ...] = ()
    _last: int = 0
    _wrong: list[str] = field(default_factory=list)
    _misnumbered: set[int] = field(default_factory=set)
    _changed: list[tuple[str, str, str, object]] = field(default_factory=list)

    def go_on(self, database: Database) -> None:
        """Look at every row that is new. Rows and the number of the last are read at one moment, or another
        program's new row would seem to be missing."""
        with database.snapshot():
            for row in database.rows(self._last):
                self._take(*row)
            missing = [words for _, words in _tail(database, self._last)]
        self.misplaced = (*self._wrong, *self._numbering(), *missing)

    def noticed(self, stream: int, sequence: int, body: str) -> None:
        """Called with every row that has a number; a store keeps here what it lists of a stream."""

    def _take(
        self, id: int, stream: int, sequence: int, body: object, parent: object, stored: object
    ) -> None:
        self._last = id
        if not (isinstance(stream, int) and isinstance(sequence, int)):
            self._wrong.append(f"an {self.format.entry} has no number: row {id}")
            return
        self.rows[stream].append(id)
        self.first.setdefault(stream, str(body))
        if sequence != len(self.rows[stream]):
            self._misnumbered.add(stream)
        if words := changed(self.format, stream, sequence, body, parent, stored):
            self.altered.setdefault(stream, words)
            self._changed.append((words, str(parent), str(body), stored))
        self.noticed(stream, sequence, str(body))

    def _numbering(self) -> Iterator[str]:
        one, entries = self.format.stream, self.format.entries
        for number in range(1, len(self.rows) + 1):
            if number not in self.rows:
                yield f"{one} {number} is missing, or its number was changed"
        for stream in sorted(self._misnumbered):
            yield f"{one} {stream}: its {entries} are not numbered from 1 to {len(self.rows[stream])}"
        others = range(
            1, len(self.rows) + 2
        )  # one more: the last may have changed its number, and be gone now
        for words, parent, body, stored in self._changed:
            yield from (f"{words}, but as {one} {n}" for n in others if digest(parent, n, body) == stored)


def changed(
    format: Format[Any], stream: int, sequence: int, body: object, parent: object, stored: object
) -> str:
    """What is wrong with the row of an entry, by its own hash; empty where nothing is."""
    known = isinstance(body, str) and isinstance(parent, str)
    if known and stored == digest(str(parent), stream, str(body)):
        return ""
    return f"{format.at(stream, sequence)}: its text does not match its hash"


def unread(error: EntryError) -> str:
    """The number of the problem that an entry cannot be read."""
    return "011" if isinstance(error, NewerEntry) else "010"


def verify(database: Database) -> tuple[Problem, ...]:
    """Everything wrong with the log, read in one snapshot. The chain finds accidents and careless changes;
    it has no key, so that it cannot find a forger who re-hashes all that follows.
    """
    try:
        with database.explained(), database.snapshot():
            return tuple(database.problem(number, words) for number, words in _findings(database))
    except DataError as error:
        return error.problems


def _findings(database: Database) -> Iterator[tuple[str, str]]:
    yield from database.damage()
    tip, lengths, last = "", dict[int, int](), 0
    for row in database.rows():
        yield from _row(database.format, row, tip, lengths)
        last, tip = row[0], row[5]
    yield from _tail(database, last)


def _row(format: Format[Any], row: Row, tip: str, lengths: dict[int, int]) -> Iterator[tuple[str, str]]:
    """One entry against the one before it and the length of its stream so far (which it adds to)."""
    _, stream, sequence, body, parent, stored = row
    where = format.at(stream, sequence)
    if parent != tip:
        yield "013", f"{where}: the {format.entry} recorded before it is missing or changed"
    if wrong := changed(format, stream, sequence, body, parent, stored):
        yield "014", wrong
    if sequence != lengths.get(stream, 0) + 1:
        yield "015", f"{where}: it does not follow {format.entry} {lengths.get(stream, 0)}"
    lengths[stream] = sequence
    if isinstance(body, str):
        yield from ((number, f"{where}: {words}") for number, words in _told(format, sequence, body))
    else:
        yield "010", f"{where}: this is no text"


def _told(format: Format[Any], sequence: int, body: str) -> Iterator[tuple[str, str]]:
    try:
        entry = format.decode(body)
    except EntryError as error:
        yield unread(error), str(error)
        return
    if sequence_of(body) != sequence:
        yield "015", f"its text says that it is {format.entry} {sequence_of(body)}"
    if words := format.misplaced(entry, sequence):
        yield "015", words


def _tail(database: Database, last: int) -> Iterator[tuple[str, str]]:
    given = database.given()
    if last != given:
        entries = database.format.entries
        yield "016", f"the last {entries} are missing: {given} were recorded, the last here is number {last}"
