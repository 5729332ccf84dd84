"""The table of a log in an SQLite file: with `opening` and `failures` all that asks SQLite for what is whole.

Another database stands behind the same log where it has a class with the methods of `Database`.
"""

from __future__ import annotations

import hashlib
import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from diagnose.append_only import failures
from diagnose.append_only.format import Format, Migration
from diagnose.append_only.opening import opened
from diagnose.errors import DataError, Problem

Row = tuple[int, int, int, str, str, str]
"""Id (in order of writing), stream, number in it, text, hash of the row before, own hash. In a damaged file all but
the first may be of any type."""


def digest(parent: str, stream: int, body: str) -> str:
    """SHA-256, in hex, of the parent's hash, the number of the stream and the entry's canonical JSON."""
    return hashlib.sha256(f"{parent}\n{stream}\n{body}".encode()).hexdigest()


class Database:
    """The table of one log. What SQLite raises in its methods, `explained` turns into a DataError.

    `told`: what opening changed in a file of an earlier version, in words.
    """

    def __init__(self, path: Path, format: Format[Any], wait: float):
        """Open the file, made where it is not; `wait`: seconds to wait for another program that is writing."""
        self.path, self.format, self.told = path, format, tuple[str, ...]()
        self._columns = f"id, {format.column}, sequence, body, parent, hash"
        with self.explained():
            self.connection, self._unwritable = opened(
                path, wait, lambda file: self._prepare(file, wait), self._prepare
            )
            self._file = _identity(path)

    def _prepare(self, connection: sqlite3.Connection, wait: float | None = None) -> None:
        """For writing; without `wait` for reading only, where what is migrated in memory is not told."""
        self._check_file(connection)
        if wait is None:
            migrate(connection, self.format)
            return
        _durable(connection, wait)
        self.told = migrate(connection, self.format)

    @property
    def current(self) -> bool:
        """Whether what is open is the file of this name, as it was read or written last, and can be written."""
        return not self._unwritable and self._file == _identity(self.path)

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()

    @contextmanager
    def explained(self) -> Iterator[None]:
        """Turn what the system says into words, with what to do. Raises DataError."""
        try:
            yield
        except failures.ERRORS as error:
            number, message, hint = failures.reason(error, self.path)
            raise DataError([self.problem(number, message.replace("{}", self.format.file), hint)]) from error
        except OSError as error:
            raise DataError([shut(self.path, self.format, error)]) from error

    def problem(self, number: str, message: str, hint: str = failures.RESCUE) -> Problem:
        """A problem of the file as a whole, with the hint that fits most of them."""
        return self.format.problem(self.path, number, message, hint)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One writer at a time, all or nothing; what it wrote is on the disk once it ends without error."""
        if self._unwritable:
            raise self._unwritable
        with _transaction(self.connection):
            yield
        self._file = _identity(self.path)

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """What is read within is the file at one moment, whatever another program writes meanwhile."""
        if self.connection.in_transaction:
            yield
            return
        with _rolled_back(self.connection):
            yield

    def insert(self, entries: Iterable[tuple[int, int, str]]) -> None:
        """Add entries of (stream, number, text), each with the hash of the one before it."""
        insert(self.connection, self.format, entries)

    def rows(self, after: int = 0) -> Iterator[Row]:
        """The rows behind this id, in the order of the table itself: its index can be damaged."""
        query = f"select {self._columns} from {self.format.entry} not indexed where id > ? order by id"
        yield from self.connection.execute(query, (after,))

    def row(self, id: int) -> Row:
        """One row, by its place in the table: the index can lead astray. So can a damaged tree of the table."""
        query = f"select {self._columns} from {self.format.entry} where id = ?"
        found: Row | None = self.connection.execute(query, (id,)).fetchone()
        if found is None:
            # Without a code of SQLite, which counts as damaged.
            raise sqlite3.DatabaseError(f"row {id} is not where it was seen")
        return found

    def given(self) -> int:
        """The highest id that was ever given."""
        query = "select seq from sqlite_sequence where name = ?"
        highest = self.connection.execute(query, (self.format.entry,)).fetchone()
        return highest[0] if highest else 0

    def state(self) -> tuple[int, int]:
        """Its first changes when another program changes the file, its second when this one does."""
        (others,) = self.connection.execute("pragma data_version").fetchone()
        return others, self.connection.total_changes

    def damage(self) -> Iterator[tuple[str, str]]:
        """What is wrong with the tables and guards themselves, whatever the rows say: number and words."""
        for (line,) in self.connection.execute("pragma integrity_check"):
            if line != "ok":
                yield "004", f"the {self.format.file} is damaged: {line}"
        query = "select name from sqlite_master where type = 'trigger'"
        names = {name for (name,) in self.connection.execute(query)}
        for name in sorted({f"{self.format.entry}_no_{act}" for act in ("update", "delete")} - names):
            yield "012", f"the guard {name} is gone: {self.format.entries} could have been changed"

    def _check_file(self, connection: sqlite3.Connection) -> None:
        """Raise DataError, having written nothing, where the file is another program's or of a newer schema."""
        with _rolled_back(connection):  # mark and tables of one moment: another program may be making it now
            (mark,) = connection.execute("pragma application_id").fetchone()
            (tables,) = connection.execute("select count(*) from sqlite_master").fetchone()
        if tables == 0 and mark in (0, self.format.mark):
            return
        if mark != self.format.mark:
            words = f"this is no {self.format.file} but a database of another program"
            raise DataError([self.problem("002", words, failures.ELSEWHERE)])
        applied = _applied(connection)
        if not all(isinstance(name, str) for name in applied):
            raise DataError([self.problem("004", f"the {self.format.file} is damaged", failures.RESCUE)])
        if newer := sorted(applied - set(self.format.migrations)):
            words = f"a newer program wrote this {self.format.file} (it has {', '.join(newer)})"
            hint = f"nothing was changed; update this program, or {failures.ELSEWHERE}"
            raise DataError([self.problem("003", words, hint)])


def shut(path: Path, format: Format[Any], error: OSError) -> Problem:
    """That the file cannot be opened at all."""
    words, hint = f"the {format.file} cannot be opened: {error.strerror}", failures.PERMISSIONS
    return format.problem(path, "005", words, f"{hint}, or {failures.ELSEWHERE}")


def insert(
    connection: sqlite3.Connection, format: Format[Any], entries: Iterable[tuple[int, int, str]]
) -> None:
    """Add rows of (stream, number, text), each with the hash of the one before it."""
    tip = connection.execute(f"select hash from {format.entry} order by id desc limit 1").fetchone()
    parent = tip[0] if tip else ""
    columns = f"({format.column}, sequence, body, parent, hash)"
    for stream, sequence, body in entries:
        row = stream, sequence, body, parent, (parent := digest(parent, stream, body))
        connection.execute(f"insert into {format.entry} {columns} values (?, ?, ?, ?, ?)", row)


def made(connection: sqlite3.Connection, format: Format[Any]) -> str:
    """One table that only grows. `autoincrement` keeps the highest id ever given, so that a cut-off tail
    shows; the triggers refuse change and deletion, `insert or replace` too with recursive triggers on.
    """
    table, column = format.entry, format.column
    connection.execute(f"""
        create table {table} (
            id integer primary key autoincrement,
            {column} integer not null,
            sequence integer not null,
            body text not null,
            parent text not null,
            hash text not null,
            unique ({column}, sequence)
        )""")
    for act in ("update", "delete"):
        connection.execute(f"""
            create trigger {table}_no_{act} before {act} on {table}
            begin select raise(abort, '{format.entries} are never changed or deleted'); end""")
    return ""


def chained(columns: str, encode: Callable[..., str]) -> Migration:
    """The same where an earlier version may have made a table of this name without hashes: its rows are written
    anew in their order, each with its hash. `columns`: its own beside the stream and the number, from which, with
    the number before them, `encode` makes the text."""

    def run(connection: sqlite3.Connection, format: Format[Any]) -> str:
        if not _has(connection, format.entry):
            return made(connection, format)
        query = f"select {format.column}, sequence, {columns} from {format.entry} not indexed order by id"
        before = connection.execute(query).fetchall()
        connection.execute(f"drop table {format.entry}")  # with its guards and the highest id it gave
        made(connection, format)
        insert(connection, format, ((stream, n, encode(n, *rest)) for stream, n, *rest in before))
        return (
            f"an earlier version wrote this {format.file}: its {format.entries} ({len(before)}) are kept with a "
            "hash each from now on; what they say is as it was. That version cannot read the file any more"
        )

    return run


def migrate(connection: sqlite3.Connection, format: Format[Any]) -> tuple[str, ...]:
    """Bring the schema up to date, all or nothing, and tell what was changed; another process doing the same is
    waited for."""
    if not _pending(connection, format):
        return ()
    with _transaction(connection):
        connection.execute(f"pragma application_id = {format.mark}")
        connection.execute("create table if not exists migration (name text primary key)")
        told = []
        for name in _pending(connection, format):
            told.append(format.migrations[name](connection, format))
            connection.execute("insert into migration (name) values (?)", (name,))
    return tuple(filter(None, told))


def _pending(connection: sqlite3.Connection, format: Format[Any]) -> list[str]:
    applied = _applied(connection)
    return [name for name in format.migrations if name not in applied]


def _applied(connection: sqlite3.Connection) -> set[str]:
    if not _has(connection, "migration"):
        return set()
    return {name for (name,) in connection.execute("select name from migration")}


def _has(connection: sqlite3.Connection, table: str) -> bool:
    query = "select 1 from sqlite_master where type = 'table' and name = ?"
    return connection.execute(query, (table,)).fetchone() is not None


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("begin immediate")
    try:
        yield
        connection.execute("commit")
    except BaseException:
        if connection.in_transaction:  # SQLite itself rolls back on some errors, a full disk among them
            connection.execute("rollback")
        raise


@contextmanager
def _rolled_back(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("begin")
    try:
        yield
    finally:
        if connection.in_transaction:  # SQLite itself ends it on some errors
            connection.execute("rollback")


def _durable(connection: sqlite3.Connection, wait: float) -> None:
    """What has been written once is on the disk, and is never changed past a guard. SQLite does not wait by itself
    where two programs switch to the write-ahead log at once; a file system that cannot do it keeps the rollback
    journal, which is as safe."""
    # Without recursive triggers `insert or replace` would delete a row past the trigger that refuses it.
    connection.execute("pragma recursive_triggers = on")
    deadline = time.monotonic() + wait
    while True:
        try:
            connection.execute("pragma journal_mode = wal")
            break
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > deadline:
                raise
            time.sleep(0.01)
    connection.execute("pragma synchronous = full")


def _identity(path: Path) -> tuple[int, ...]:
    """What changes where another file takes the name, or somebody writes into this one; empty without a file."""
    try:
        found = path.stat()
    except OSError:
        return ()
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns
