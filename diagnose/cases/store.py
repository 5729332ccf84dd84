"""The case store: one SQLite file of events that only grows, each chained to the one before by its hash."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from platformdirs import user_data_dir

from diagnose.cases import audit, failures
from diagnose.cases.case import Case, fold
from diagnose.cases.events import (
    COOLING,
    Event,
    EventError,
    NewerEvent,
    Opened,
    Withdrawn,
    from_json,
    to_json,
)
from diagnose.cases.migrations import check_file, durable, migrate, transaction
from diagnose.cases.opening import Held, opened
from diagnose.cases.waiting import waits_for
from diagnose.errors import CallError, DataError, Place, Problem

ENVIRONMENT = "DIAGNOSE_CASES"
_ROW = "select sequence, body, parent, hash from event"
_PERMISSIONS = "check the folder's permissions"
_KEPT = "Nothing of this entry was kept; everything recorded before is safe"
# What went wrong: our code, in words, what to do.
_REASONS = {
    failures.STRANGE: ("C001", "this is not a case store", "name another file, or restore a copy"),
    failures.DAMAGED: ("C004", "the case store is damaged", audit.RESCUE),
    failures.READ_ONLY: ("C005", "the case store cannot be written", _PERMISSIONS),
    failures.SHUT: ("C005", audit.SHUT, _PERMISSIONS),
    failures.FULL: ("C006", f"the disk is full. {_KEPT}", "free some space and enter it again"),
    failures.BROKEN: ("C007", f"the disk failed. {_KEPT}", "check the disk and enter it again"),
    failures.BUSY: ("C008", f"another program is writing. {_KEPT}", "try again"),
}


@dataclass(frozen=True, slots=True)
class Summary:
    """One line of the list of cases. `opened` and `latest`: times of the first and last event; `void`: the
    opening was withdrawn; `problem`: why the case cannot be read, all else being empty then. `by`: who noted last,
    of those who said so; `waits_for`: what an open case waits for, with what was said of it in `waits_text`;
    `causes`: what a closed one was, by id.
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
    problem: str = ""
    by: str = ""
    waits_for: tuple[str, ...] = ()
    waits_text: str = ""
    causes: tuple[str, ...] = ()


def default_path() -> Path:
    """The file named by the environment's DIAGNOSE_CASES, else `cases.sqlite` in the user's data folder."""
    named = os.environ.get(ENVIRONMENT)
    return Path(named).expanduser() if named else Path(user_data_dir("diesel-diagnose")) / "cases.sqlite"


class Store(Held):
    """The cases in one file, made on first use; a context manager. Every method raises DataError where the
    file cannot be read or written, or what it reads is not what was written. What a writing method has returned
    for is on the disk. A file that cannot be written (a full or read-only disk) is read all the same.
    """

    def __init__(self, path: Path | None = None, wait: float = 5.0):
        """Open the file; `wait`: seconds to wait for another program that is writing."""
        self.path = default_path() if path is None else Path(path)
        self._audited: tuple[tuple[int, int], audit.Audit] | None = None
        self._summaries: list[Summary] | None = None
        with _explained(self.path):
            self._connection, self._unwritable = opened(
                self.path, wait, lambda connection: _prepare(connection, self.path, wait)
            )
            self._file = _identity(self.path)

    @property
    def current(self) -> bool:
        """Whether what is open is the file of this name, as it was read or written last, and can be written. Where
        it is not, open it anew: the file may have been moved, or changed past SQLite."""
        return not self._unwritable and self._file == _identity(self.path)

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

    def copy_case(self, number: int, bodies: Sequence[str]) -> None:
        """Add a case whose events are given as their canonical JSON, in order from the first."""
        with self._writing():
            self._chain((number, sequence, body) for sequence, body in enumerate(bodies, 1))

    def events(self, case: int) -> tuple[Event, ...]:
        """Every event of a case, in order. CallError: no such case."""
        with _explained(self.path):
            ids = self._rows(case)
            self._intact(case)
            rows = [self._connection.execute(f"{_ROW} where id = ?", (id,)).fetchone() for id in ids]
        read = tuple(self._read(case, *row) for row in rows)
        if [event.sequence for event in read] != list(range(1, len(ids) + 1)):
            problem = audit.problem("C015", self.path, f"case {case}: its events do not follow each other")
            raise DataError([problem])
        return read

    def case(self, number: int) -> Case:
        """The case as its events leave it. CallError: no such case."""
        return fold(number, self.events(number))

    def cases(self) -> list[Summary]:
        """One summary a case, by number. A case that cannot be read says so in its summary."""
        with _explained(self.path):
            known = self._audit()
            if self._summaries is None:
                self._summaries = [self._summary(known, number) for number in sorted(known.rows)]
        return list(self._summaries)

    def summary(self, number: int) -> Summary | None:
        """That of one case; None where there is no such case."""
        with _explained(self.path):
            known = self._audit()
            return self._summary(known, number) if number in known.rows else None

    def last_case(self) -> int | None:
        """The number of the case opened last, None where there is none."""
        with _explained(self.path):
            return max(self._audit().rows, default=None)

    def verify(self) -> tuple[Problem, ...]:
        """Re-read and re-hash every event; what is wrong with the file, as problems."""
        return audit.verify(self._connection, self.path)

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with _explained(self.path):
            if self._unwritable:
                raise self._unwritable
            try:
                with transaction(self._connection):
                    yield
            except BaseException:
                self._audited = None  # what was looked at may have been taken back
                raise
            self._file = _identity(self.path)

    def _length(self, case: int) -> int:
        return len(self._rows(case))

    def _rows(self, case: int) -> list[int]:
        """The ids of the rows of a case: they are read by these, for the index can lead astray."""
        known = self._audit().rows.get(case)
        if known is None:
            raise CallError(f"There is no case {case}.")
        return known

    def _audit(self) -> audit.Audit:
        """The rows, looked at anew after every change of the file by another, and so far as they are new after one
        of our own. Raises DataError where they are not numbered as they were written: a number that changed puts an
        event into another case."""
        state = self._state()
        if self._audited is None or self._audited[0] != state:
            ours = self._audited and self._audited[0][0] == state[0]
            found = self._audited[1] if self._audited and ours else audit.Audit()
            self._audited = self._summaries = None
            found.go_on(self._connection)
            self._audited = state, found
        found = self._audited[1]
        if found.misplaced:
            raise DataError(audit.problem("C015", self.path, words) for words in found.misplaced)
        return found

    def _state(self) -> tuple[int, int]:
        """Changes when another program, or this one, changes the file."""
        (others,) = self._connection.execute("pragma data_version").fetchone()
        return others, self._connection.total_changes

    def _intact(self, case: int) -> None:
        if words := self._audit().altered.get(case):
            raise DataError([audit.problem("C014", self.path, words)])

    def _read(self, case: int, sequence: int, body: str, parent: str, stored: str) -> Event:
        if words := audit.changed(case, sequence, body, parent, stored):
            raise DataError([audit.problem("C014", self.path, words)])
        return self._event(case, sequence, body)

    def _event(self, case: int, sequence: int, body: str) -> Event:
        try:
            return from_json(body)
        except EventError as error:
            code = "C011" if isinstance(error, NewerEvent) else "C010"
            message = f"case {case}, event {sequence}: {error}"
            raise DataError([audit.problem(code, self.path, message)]) from error

    def _summary(self, known: audit.Audit, number: int) -> Summary:
        length = len(known.rows[number])
        try:
            self._intact(number)
            turns = [self._event(number, *turn) for turn in known.turns[number]]
            latest, by = known.newest[number], known.signed.get(number)
            named = str(json.loads(by)["by"]) if by else ""
            return _summary(number, turns, str(json.loads(latest)["time"]), length, named)
        except DataError as error:
            return Summary(number, "", "", "", "", "", length, closed=False, void=False, problem=str(error))

    def _insert(self, case: int, start: int, events: Sequence[Event]) -> None:
        _check(events, start)
        now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        stamped = (
            replace(event, sequence=sequence, time=event.time or now)
            for sequence, event in enumerate(events, start)
        )
        self._chain((case, event.sequence, to_json(event)) for event in stamped)

    def _chain(self, rows: Iterable[tuple[int, int, str]]) -> None:
        """Add rows of (case, sequence, text), each with the hash of the one before it."""
        tip = self._connection.execute("select hash from event order by id desc limit 1").fetchone()
        parent = tip[0] if tip else ""
        for case, sequence, body in rows:
            digest = audit.digest(parent, case, body)
            self._connection.execute(
                "insert into event (case_number, sequence, body, parent, hash) values (?, ?, ?, ?, ?)",
                (case, sequence, body, parent, digest),
            )
            parent = digest


def _prepare(connection: sqlite3.Connection, path: Path, wait: float) -> None:
    check_file(connection, path)
    durable(connection, wait)
    migrate(connection)


def _check(events: Sequence[Event], start: int) -> None:
    """What only position can tell: a case opens once, first; only earlier events are withdrawn."""
    for sequence, event in enumerate(events, start):
        if isinstance(event, Opened) != (sequence == 1):
            raise CallError("A case starts with its opening, and has one only.")
        if isinstance(event, Withdrawn) and not 0 < event.event < sequence:
            raise CallError(f"There is no event {event.event} to withdraw.")


def _gone_on(state: Case, since: int, length: int) -> bool:
    """Whether anything but withdrawals came after this number and counts, also what is not among the turns."""
    withdrawals = {event.sequence for event in state.history if isinstance(event, Withdrawn)}
    return bool(set(range(since + 1, length + 1)) - withdrawals - state.withdrawn)


def _summary(number: int, turns: Sequence[Event], latest: str, length: int, by: str) -> Summary:
    state = fold(number, turns)
    if state.waits and state.waits.reason == COOLING and _gone_on(state, state.waits.sequence, length):
        state = replace(state, waits=None)
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
        by=by,
        waits_for=waits_for(state),
        waits_text=state.waits.text if state.waits else "",
        causes=state.closed.causes if state.closed else (),
    )


@contextmanager
def _explained(path: Path) -> Iterator[None]:
    """Turn what the system says into words, with what to do."""
    try:
        yield
    except failures.ERRORS as error:
        other = "C009", f"the case store failed: {error}. {_KEPT}", ""
        code, message, hint = _REASONS.get(failures.meaning(error, path), other)
        raise DataError([Problem(code, Place(str(path)), message, hint)]) from error
    except OSError as error:
        raise DataError([audit.shut(path, error, f"{_PERMISSIONS}, or name another file")]) from error


def _identity(path: Path) -> tuple[int, ...]:
    """What changes where another file takes the name, or somebody writes into this one; empty without a file."""
    try:
        found = path.stat()
    except OSError:
        return ()
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns
