"""The case store: one SQLite file of events that only grows, each chained to the one before by its hash."""

from __future__ import annotations

import os
import sqlite3
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from platformdirs import user_data_dir

from diagnose.cases import audit, failures
from diagnose.cases.case import Case, fold
from diagnose.cases.events import (
    Closed,
    Event,
    EventError,
    NewerEvent,
    Opened,
    Reopened,
    Withdrawn,
    from_json,
    to_json,
)
from diagnose.cases.migrations import check_file, migrate, transaction, write_ahead
from diagnose.errors import CallError, DataError, Place, Problem

ENVIRONMENT = "DIAGNOSE_CASES"
_LARGEST = 2**63 - 1  # SQLite's largest integer
_KEPT = "Nothing of this entry was kept; everything recorded before is safe"
# What went wrong: our code, in words, what to do.
_REASONS = {
    failures.STRANGE: ("C001", "this is not a case store", "name another file, or restore a copy"),
    failures.DAMAGED: ("C004", "the case store is damaged", "keep this file and restore a copy"),
    failures.READ_ONLY: ("C005", "the case store cannot be written", "check the folder's permissions"),
    failures.SHUT: ("C005", "the case store cannot be opened", "check the folder's permissions"),
    failures.FULL: ("C006", f"the disk is full. {_KEPT}", "free some space and enter it again"),
    failures.BROKEN: ("C007", f"the disk failed. {_KEPT}", "check the disk and enter it again"),
    failures.BUSY: ("C008", f"another program is writing. {_KEPT}", "try again"),
}


@dataclass(frozen=True, slots=True)
class Summary:
    """One line of the list of cases. `opened` and `latest`: times of the first and last event; `void`: the
    opening was withdrawn.
    """

    number: int
    machine: str
    family: str
    complaint: str
    opened: str
    latest: str
    events: int
    closed: bool
    void: bool


def default_path() -> Path:
    """The file named by the environment's DIAGNOSE_CASES, else `cases.sqlite` in the user's data folder."""
    named = os.environ.get(ENVIRONMENT)
    return Path(named).expanduser() if named else Path(user_data_dir("diesel-diagnose")) / "cases.sqlite"


class Store:
    """The cases in one file, made on first use; a context manager. Every method raises DataError where the
    file cannot be read or written. What a writing method has returned for is on the disk.
    """

    def __init__(self, path: Path | None = None, wait: float = 5.0):
        """Open the file; `wait`: seconds to wait for another program that is writing."""
        self.path = default_path() if path is None else Path(path)
        with _explained(self.path):
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._connection = sqlite3.connect(self.path, timeout=wait, isolation_level=None)
        try:
            with _explained(self.path):
                self._prepare(wait)
        except BaseException:
            self._connection.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def new_case(self, opened: Opened, *more: Event) -> int:
        """Open a case with this event, and those that follow from it; return its number (1, 2, 3, ...)."""
        with self._writing():
            number = (self.last_case() or 0) + 1
            self._insert(number, 1, (opened, *more))
        return number

    def append(self, case: int, *events: Event) -> tuple[int, ...]:
        """Record events, all or none; return their sequence numbers.

        The store gives the number, and the time where the event has none. CallError: no such case, a second
        opening, or the withdrawal of an event that is not there.
        """
        with self._writing():
            start = self._length(case) + 1
            self._insert(case, start, events)
        return tuple(range(start, start + len(events)))

    def events(self, case: int) -> tuple[Event, ...]:
        """Every event of a case, in order. CallError: no such case."""
        with _explained(self.path):
            self._length(case)
            rows = self._connection.execute(
                "select sequence, body from event where case_number = ? order by sequence", (case,)
            )
            return tuple(self._read(case, *row) for row in rows)

    def case(self, number: int) -> Case:
        """The case as its events leave it. CallError: no such case."""
        return fold(number, self.events(number))

    def cases(self) -> list[Summary]:
        """One summary a case, by number. Reads only the events that open and close."""
        kinds = (Opened, Closed, Reopened, Withdrawn)
        with _explained(self.path):
            rows = self._connection.execute(
                "select case_number, sequence, body from event "
                f"where json_extract(body, '$.kind') in ({', '.join('?' * len(kinds))}) "
                "order by case_number, sequence",
                [kind.kind for kind in kinds],
            )
            turns: defaultdict[int, list[Event]] = defaultdict(list)
            for row in rows:
                turns[row[0]].append(self._read(*row))
            return [_summary(number, turns[number], at, length) for number, at, length in self._extents()]

    def last_case(self) -> int | None:
        """The number of the case opened last, None where there is none."""
        with _explained(self.path):
            (number,) = self._connection.execute("select max(case_number) from event").fetchone()
            return None if number is None else int(number)

    def verify(self) -> tuple[Problem, ...]:
        """Re-read and re-hash every event; what is wrong with the file, as problems."""
        return audit.verify(self._connection, self.path)

    def _prepare(self, wait: float) -> None:
        # Without recursive triggers `insert or replace` would delete a row past the trigger that refuses it.
        self._connection.execute("pragma recursive_triggers = on")
        check_file(self._connection, self.path)
        write_ahead(self._connection, wait)
        self._connection.execute("pragma synchronous = full")
        migrate(self._connection)

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with _explained(self.path), transaction(self._connection):
            yield

    def _length(self, case: int) -> int:
        query = "select max(sequence) from event where case_number = ?"
        known = 0 < case <= _LARGEST and self._connection.execute(query, (case,)).fetchone()[0]
        if not known:
            raise CallError(f"There is no case {case}.")
        return int(known)

    def _extents(self) -> Iterator[tuple[int, str, int]]:
        """Case number, time of its last event, number of its events."""
        yield from self._connection.execute(
            "select e.case_number, json_extract(e.body, '$.time'), e.sequence from event e join "
            "(select case_number, max(sequence) as last from event group by case_number) tip "
            "on e.case_number = tip.case_number and e.sequence = tip.last order by e.case_number"
        )

    def _read(self, case: int, sequence: int, body: str) -> Event:
        try:
            return from_json(body)
        except EventError as error:
            code = "C011" if isinstance(error, NewerEvent) else "C010"
            message = f"case {case}, event {sequence}: {error}"
            raise DataError([audit.problem(code, self.path, message)]) from error

    def _insert(self, case: int, start: int, events: Sequence[Event]) -> None:
        _check(events, start)
        tip = self._connection.execute("select hash from event order by id desc limit 1").fetchone()
        parent = tip[0] if tip else ""
        now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        for sequence, event in enumerate(events, start):
            body = to_json(replace(event, sequence=sequence, time=event.time or now))
            digest = audit.digest(parent, case, body)
            self._connection.execute(
                "insert into event (case_number, sequence, body, parent, hash) values (?, ?, ?, ?, ?)",
                (case, sequence, body, parent, digest),
            )
            parent = digest


def _check(events: Sequence[Event], start: int) -> None:
    """What only position can tell: a case opens once, first; only earlier events are withdrawn."""
    for sequence, event in enumerate(events, start):
        if isinstance(event, Opened) != (sequence == 1):
            raise CallError("A case starts with its opening, and has one only.")
        if isinstance(event, Withdrawn) and not 0 < event.event < sequence:
            raise CallError(f"There is no event {event.event} to withdraw.")


def _summary(number: int, turns: Sequence[Event], latest: str, length: int) -> Summary:
    state = fold(number, turns)
    first = next((event for event in turns if isinstance(event, Opened)), Opened(""))
    return Summary(
        number=number,
        machine=first.machine,
        family=first.family,
        complaint=first.complaint,
        opened=first.time,
        latest=latest,
        events=length,
        closed=state.closed is not None,
        void=state.opened is None,
    )


@contextmanager
def _explained(path: Path) -> Iterator[None]:
    """Turn what the system says into words, with what to do."""
    try:
        yield
    except sqlite3.Error as error:
        other = "C009", f"the case store failed: {error}. {_KEPT}", ""
        code, message, hint = _REASONS.get(failures.meaning(error), other)
        raise DataError([Problem(code, Place(str(path)), message, hint)]) from error
    except OSError as error:
        message = f"the case store cannot be opened: {error.strerror}"
        raise DataError([Problem("C005", Place(str(path)), message, "name another file")]) from error
