"""The file of exercises: one SQLite file of entries that only grows, beside the case store.

An entry is kept before the screen goes on, so a lost line or a killed program loses at most what was being typed.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from diagnose.cases import failures
from diagnose.cases.migrations import durable, transaction
from diagnose.cases.opening import Held
from diagnose.cases.store import default_path
from diagnose.errors import CallError, DataError, Place, Problem

MARK = 0x44507261  # marks the file as exercises, in SQLite's own header field
SCHEMA = """
create table if not exists entry (
    id integer primary key autoincrement,
    exercise integer not null,
    sequence integer not null,
    time text not null,
    kind text not null,
    body text not null,
    unique (exercise, sequence)
)"""
GUARD = """
create trigger if not exists entry_no_{act} before {act} on entry
begin select raise(abort, 'entries are never changed or deleted'); end"""


KEPT = "nothing of this entry was kept; all before it is safe"
AGAIN = "enter it again"
PERMISSIONS, ELSEWHERE = (
    "check the permissions of the file and its folder",
    "name another case store with --store",
)
# What went wrong: in words, what to do.
REASONS = {
    failures.FULL: (f"the disk is full, {KEPT}", f"free some space and {AGAIN}"),
    failures.BROKEN: (f"the disk failed, {KEPT}", f"check the disk and {AGAIN}"),
    failures.BUSY: (f"another program is writing, {KEPT}", AGAIN),
    failures.READ_ONLY: ("they cannot be written", PERMISSIONS),
    failures.SHUT: ("they cannot be opened", PERMISSIONS),
    failures.DAMAGED: ("the file is damaged", "keep it and restore a copy"),
    failures.STRANGE: ("this is no file of exercises", ELSEWHERE),
}


@dataclass(frozen=True, slots=True)
class ExerciseEntry:
    """One thing that happened in an exercise: its kind and plain JSON values."""

    kind: str
    values: dict[str, Any]
    time: str = ""


def practice_path(cases: Path | None) -> Path:
    """The file of exercises beside this case store: `cases.practice.sqlite` beside `cases.sqlite`."""
    path = default_path() if cases is None else cases
    return path.with_name(f"{path.stem}.practice.sqlite")


class Exercises(Held):
    """The exercises in one file, made on first use; a context manager. Raises DataError where the file cannot be
    read or written."""

    def __init__(self, path: Path, wait: float = 5.0):
        self.path = path
        with self._told():
            path.parent.mkdir(parents=True, exist_ok=True)
            self._connection = sqlite3.connect(path, timeout=wait, isolation_level=None)
            try:
                self._prepare(wait)
            except BaseException:
                self._connection.close()
                raise

    def begin(self, entry: ExerciseEntry) -> int:
        """A new exercise with its first entry; its number."""
        with self._told(), transaction(self._connection):
            (last,) = self._connection.execute("select max(exercise) from entry").fetchone()
            number = (last or 0) + 1
            self._insert(number, 1, (entry,))
        return int(number)

    def append(self, number: int, *entries: ExerciseEntry) -> None:
        """Keep entries, all or none. CallError: no such exercise."""
        with self._told(), transaction(self._connection):
            self._insert(number, len(self.entries(number)) + 1, entries)

    def entries(self, number: int) -> tuple[ExerciseEntry, ...]:
        """All entries of an exercise, in order. CallError: no such exercise."""
        with self._told():
            query = "select kind, body, time from entry where exercise = ? order by sequence"
            rows = self._connection.execute(query, (number,)).fetchall()
        if not rows:
            raise CallError(f"There is no exercise {number}.")
        return tuple(ExerciseEntry(kind, json.loads(body), time) for kind, body, time in rows)

    def numbers(self) -> tuple[int, ...]:
        """The numbers of all exercises."""
        with self._told():
            rows = self._connection.execute("select distinct exercise from entry order by exercise")
            return tuple(number for (number,) in rows)

    def _prepare(self, wait: float) -> None:
        (mark,) = self._connection.execute("pragma application_id").fetchone()
        (tables,) = self._connection.execute("select count(*) from sqlite_master").fetchone()
        if tables and mark != MARK:
            raise self._problem(*REASONS[failures.STRANGE])
        durable(self._connection, wait)
        if not tables:
            with transaction(self._connection):
                self._connection.execute(f"pragma application_id = {MARK}")
                for statement in (SCHEMA, *(GUARD.format(act=act) for act in ("update", "delete"))):
                    self._connection.execute(statement)

    def _insert(self, number: int, start: int, entries: Sequence[ExerciseEntry]) -> None:
        now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        for sequence, entry in enumerate(entries, start):
            body = json.dumps(entry.values, sort_keys=True, ensure_ascii=True)
            self._connection.execute(
                "insert into entry (exercise, sequence, time, kind, body) values (?, ?, ?, ?, ?)",
                (number, sequence, entry.time or now, entry.kind, body),
            )

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except failures.ERRORS as error:
            reason = REASONS.get(failures.meaning(error), (f"{error}, {KEPT}", ""))
            raise self._problem(*reason) from error
        except OSError as error:
            raise self._problem(f"{error.strerror}", ELSEWHERE) from error

    def _problem(self, reason: str, hint: str) -> DataError:
        return DataError([Problem("P001", Place(str(self.path)), f"the exercises: {reason}", hint)])
