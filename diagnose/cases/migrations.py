"""The schema of the case store: named functions, each run once, inside one transaction with its record."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from diagnose.errors import DataError, Place, Problem

APPLICATION_ID = 0x44436173  # marks the file as a case store, in SQLite's own header field

Migration = Callable[[sqlite3.Connection], None]


def m001_event_table(connection: sqlite3.Connection) -> None:
    """One table that only grows. `autoincrement` keeps the highest id ever given, so that a cut-off tail
    shows; the triggers refuse change and deletion, `insert or replace` too with recursive triggers on.
    """
    connection.execute("""
        create table event (
            id integer primary key autoincrement,
            case_number integer not null,
            sequence integer not null,
            body text not null,
            parent text not null,
            hash text not null,
            unique (case_number, sequence)
        )""")
    for act in ("update", "delete"):
        connection.execute(f"""
            create trigger event_no_{act} before {act} on event
            begin select raise(abort, 'events are never changed or deleted'); end""")


MIGRATIONS: tuple[Migration, ...] = (m001_event_table,)


def check_file(connection: sqlite3.Connection, path: Path) -> None:
    """Raise DataError, having written nothing, where the file is another program's or of a newer schema."""
    connection.execute("begin")  # mark and tables of one moment: another program may be making the file now
    try:
        (mark,) = connection.execute("pragma application_id").fetchone()
        (tables,) = connection.execute("select count(*) from sqlite_master").fetchone()
    finally:
        if connection.in_transaction:  # SQLite itself ends it on some errors
            connection.execute("rollback")
    if tables == 0 and mark in (0, APPLICATION_ID):
        return
    if mark != APPLICATION_ID:
        raise _refused("C002", path, "this is a database of another program", "name another file")
    newer = sorted(_applied(connection) - {migration.__name__ for migration in MIGRATIONS})
    if newer:
        message = f"a newer program wrote this case store (it has {', '.join(newer)}); nothing was changed"
        raise _refused("C003", path, message, "update this program, or name another file")


def migrate(connection: sqlite3.Connection) -> None:
    """Bring the schema up to date, all or nothing; another process doing the same is waited for."""
    if not _pending(connection):
        return
    with transaction(connection):
        connection.execute(f"pragma application_id = {APPLICATION_ID}")
        connection.execute("create table if not exists migration (name text primary key)")
        for migration in _pending(connection):
            migration(connection)
            connection.execute("insert into migration (name) values (?)", (migration.__name__,))


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """One writer at a time, all or nothing. What it held is on the disk once it ends without error."""
    connection.execute("begin immediate")
    try:
        yield
        connection.execute("commit")
    except BaseException:
        if connection.in_transaction:  # SQLite itself rolls back on some errors, a full disk among them
            connection.execute("rollback")
        raise


@contextmanager
def snapshot(connection: sqlite3.Connection) -> Iterator[None]:
    """What is read within is the file at one moment, whatever another program writes meanwhile."""
    if connection.in_transaction:
        yield
        return
    connection.execute("begin")
    try:
        yield
    finally:
        if connection.in_transaction:
            connection.execute("rollback")


def _pending(connection: sqlite3.Connection) -> list[Migration]:
    applied = _applied(connection)
    return [migration for migration in MIGRATIONS if migration.__name__ not in applied]


def _applied(connection: sqlite3.Connection) -> set[str]:
    known = "select 1 from sqlite_master where type = 'table' and name = 'migration'"
    if connection.execute(known).fetchone() is None:
        return set()
    return {name for (name,) in connection.execute("select name from migration")}


def _refused(code: str, path: Path, message: str, hint: str) -> DataError:
    return DataError([Problem(code, Place(str(path)), message, hint)])


def durable(connection: sqlite3.Connection, wait: float) -> None:
    """What has been written once is on the disk, and is never changed past a guard."""
    # Without recursive triggers `insert or replace` would delete a row past the trigger that refuses it.
    connection.execute("pragma recursive_triggers = on")
    write_ahead(connection, wait)
    connection.execute("pragma synchronous = full")


def write_ahead(connection: sqlite3.Connection, wait: float) -> None:
    """Switch the journal to WAL. SQLite does not wait by itself where two programs switch at once. A file
    system that cannot do it keeps the rollback journal, which is as safe.
    """
    deadline = time.monotonic() + wait
    while True:
        try:
            connection.execute("pragma journal_mode = wal")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > deadline:
                raise
            time.sleep(0.01)
