"""A log of entries that only grows: each is kept whole or not at all, and read only as it was written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, ClassVar, Generic, Self, TypeVar, cast

from diagnose.append_only import audit
from diagnose.append_only.format import Entry, EntryError, Format, sequence_of
from diagnose.append_only.sqlite import Database
from diagnose.errors import CallError, DataError, Problem

Look = TypeVar("Look", bound=audit.Audit)


class Log(Generic[Entry, Look]):
    """The entries in one file, made on first use; a context manager. A store is a log with its `format`, and with
    what it notices while it looks at the rows.

    Every method raises DataError where the file cannot be read or written, or what it reads is not what was
    written. What a writing method has returned for is on the disk. A file that cannot be written (a full or
    read-only disk) is read all the same. `told`: what opening changed in a file of an earlier version, in words.
    """

    format: ClassVar[Format[Any]]
    look: ClassVar[type[audit.Audit]] = audit.Audit

    def __init__(self, path: Path, wait: float = 5.0):
        """Open the file; `wait`: seconds to wait for another program that is writing."""
        self.path = path
        self._audited: tuple[tuple[int, int], Look] | None = None
        self._database = Database(path, self.format, wait)
        self.told = self._database.told

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._database.close()

    @property
    def current(self) -> bool:
        """Whether what is open is the file of this name, as it was read or written last, and can be written. Where
        it is not, open it anew: the file may have been moved, or changed past the database."""
        return self._database.current

    def begin(self, *entries: Entry) -> int:
        """Begin a stream with these entries; return its number (1, 2, 3, ...)."""
        with self._writing():
            number = (self.last() or 0) + 1
            self._insert(number, 1, entries)
        return number

    def append(self, stream: int, *entries: Entry) -> tuple[int, ...]:
        """Keep entries, all or none; return their numbers in the stream.

        The log gives the number, and the time where the entry has none. CallError: no such stream, or an entry
        that cannot stand at its place.
        """
        with self._writing():
            start = len(self._rows(stream)) + 1
            self._insert(stream, start, entries)
        return tuple(range(start, start + len(entries)))

    def copy(self, stream: int, bodies: Sequence[str]) -> None:
        """Add a stream whose entries are given as their canonical JSON, in order from the first."""
        with self._writing():
            self._database.insert((stream, sequence, body) for sequence, body in enumerate(bodies, 1))

    def entries(self, stream: int) -> tuple[Entry, ...]:
        """Every entry of a stream, in order. CallError: no such stream."""
        with self._database.explained():
            rows = [self._database.row(id) for id in self._rows(stream)]
        return tuple(self._read(stream, *row[2:]) for row in rows)

    def numbers(self) -> tuple[int, ...]:
        """The numbers of all streams."""
        with self._database.explained():
            return tuple(sorted(self._audit().rows))

    def last(self) -> int | None:
        """The number of the stream begun last, None where there is none."""
        with self._database.explained():
            return max(self._audit().rows, default=None)

    def verify(self) -> tuple[Problem, ...]:
        """Re-read and re-hash every entry; what is wrong with the file, as problems."""
        return audit.verify(self._database)

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with self._database.explained():
            try:
                with self._database.writing():
                    yield
            except BaseException:
                self._audited = None  # what was looked at may have been taken back
                raise

    def _rows(self, stream: int) -> list[int]:
        """The ids of the rows of a stream: they are read by these, for the index can lead astray."""
        known = self._audit().rows.get(stream)
        if known is None:
            raise CallError(f"There is no {self.format.stream} {stream}.")
        return known

    def _audit(self) -> Look:
        """The rows, looked at anew after every change of the file by another, and so far as they are new after one
        of our own. Raises DataError where they are not numbered as they were written: a number that changed puts an
        entry into another stream."""
        state = self._database.state()
        if self._audited is None or self._audited[0] != state:
            ours = self._audited is not None and self._audited[0][0] == state[0]
            found = self._audited[1] if self._audited and ours else cast(Look, self.look(self.format))
            self._audited = None
            found.go_on(self._database)
            self._audited = state, found
        found = self._audited[1]
        if found.misplaced:
            raise DataError(self._database.problem("015", words) for words in found.misplaced)
        return found

    def _intact(self, stream: int) -> None:
        if words := self._audit().altered.get(stream):
            raise DataError([self._database.problem("014", words)])

    def _read(self, stream: int, sequence: int, body: str, parent: str, stored: str) -> Entry:
        if words := audit.changed(self.format, stream, sequence, body, parent, stored):
            raise DataError([self._database.problem("014", words)])
        entry = self._decoded(stream, sequence, body)
        if sequence_of(body) != sequence:
            words = f"{self.format.stream} {stream}: its {self.format.entries} do not follow each other"
            raise DataError([self._database.problem("015", words)])
        return entry

    def _decoded(self, stream: int, sequence: int, body: str) -> Entry:
        try:
            entry: Entry = self.format.decode(body)
        except EntryError as error:
            words = f"{self.format.at(stream, sequence)}: {error}"
            raise DataError([self._database.problem(audit.unread(error), words)]) from error
        return entry

    def _insert(self, stream: int, start: int, entries: Sequence[Entry]) -> None:
        for sequence, entry in enumerate(entries, start):
            if words := self.format.misplaced(entry, sequence):
                raise CallError(words)
        now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        self._database.insert(
            (stream, sequence, self.format.encode(entry, sequence, now))
            for sequence, entry in enumerate(entries, start)
        )
