"""What must not lose an event: a killed program, two at once, a full disk, files that are not ours."""

import os
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest

import diagnose
from diagnose.append_only.audit import Audit
from diagnose.append_only.format import Format
from diagnose.append_only.sqlite import Database
from diagnose.cases.events import Event, Noted, Opened
from diagnose.cases.store import CASES, Store
from diagnose.errors import DataError

ROOT = Path(diagnose.__file__).parents[1]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "cases.sqlite"


def writer(
    path: Path, count: int, word: str, before: Callable[[], object] | None = None
) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.cases.writer", str(path), str(count), word]
    return subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, preexec_fn=before
    )


def numbers(output: str) -> list[int]:
    """The acknowledged numbers; a last line cut off by the kill is none."""
    return [int(line) for line in output.splitlines(keepends=True) if line.endswith("\n")]


@pytest.mark.slow
def test_a_killed_program_loses_no_acknowledged_event(path: Path) -> None:
    acknowledged: list[int] = []
    for round_ in range(12):
        with writer(path, 100_000, f"round {round_}") as process:
            assert process.stdout is not None
            heard = "".join(process.stdout.readline() for _ in range(1 + 7 * round_))
            os.kill(process.pid, signal.SIGKILL)
            acknowledged += numbers(heard + process.stdout.read())
        with Store(path) as store:
            kept = [event.sequence for event in store.events(1)]
            assert store.verify() == ()
        assert kept == list(range(1, len(kept) + 1))
        assert set(acknowledged) <= set(kept)
        assert len(kept) - 1 - len(acknowledged) <= round_ + 1  # at most one unheard event a kill
    assert len(acknowledged) == len(set(acknowledged)) >= 12


@pytest.mark.slow
def test_a_program_killed_while_it_makes_the_file_leaves_a_good_one(tmp_path: Path) -> None:
    for step in range(10):
        path = tmp_path / str(step) / "cases.sqlite"
        with writer(path, 100_000, "early") as process:
            deadline = time.monotonic() + 20
            while not path.parent.exists() and time.monotonic() < deadline:
                time.sleep(0.0005)
            time.sleep(0.001 * step)
            os.kill(process.pid, signal.SIGKILL)
            assert process.stdout is not None
            acknowledged = numbers(process.stdout.read())
        with Store(path) as store:
            kept = store.events(1) if store.last_case() else ()
            assert set(acknowledged) <= {event.sequence for event in kept}
            assert store.verify() == ()


def test_two_programs_at_once_never_share_a_number(path: Path) -> None:
    """They also make the file at once."""
    processes = [writer(path, 60, word) for word in ("one", "two")]
    outputs = [process.communicate()[0] for process in processes]
    assert [process.returncode for process in processes] == [0, 0]
    with Store(path) as store:
        texts = {
            (case.number, event.sequence): event.text
            for case in store.cases()
            for event in store.events(case.number)
            if isinstance(event, Noted)
        }
        assert store.verify() == ()
    for word, output in zip(("one", "two"), outputs, strict=True):
        mine = [sequence for (_, sequence), text in texts.items() if text == word]
        assert sorted(mine) == sorted(numbers(output))
    assert len(texts) == 120


def with_step(*statements: str) -> Format[Event]:
    """The format of cases with a migration more."""

    def step(connection: sqlite3.Connection, format: object) -> str:
        for statement in statements:
            connection.execute(statement)
        return "a step was done"

    return replace(CASES, migrations={**CASES.migrations, "m999_a_step": step})


def refused(path: Path, code: str) -> None:
    """Opening the file raises this problem, and changes no byte of it."""
    before = path.read_bytes()
    with pytest.raises(DataError) as caught:
        Store(path)
    assert [problem.code for problem in caught.value.problems] == [code]
    assert str(caught.value).startswith(f"{path}:0:0: {code} ")
    assert path.read_bytes() == before
    assert [file.name for file in path.parent.iterdir()] == [path.name]


@pytest.mark.parametrize("content", [b"not a database at all\n" * 400, b"xy", b"SQLite format 3"])
def test_a_file_that_is_no_database_is_refused(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    refused(path, "C001")


def test_a_database_of_another_program_is_refused(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("create table event (id integer)")
    connection.close()
    refused(path, "C002")


def test_a_store_of_a_newer_program_is_refused(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as newer:
        newer.setattr(Store, "format", with_step("create table something (id integer)"))
        with Store(path) as store:
            store.new_case(Opened("D-07"))
    refused(path, "C003")


def test_a_migration_that_fails_leaves_everything_as_it_was(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"))
    with monkeypatch.context() as broken:
        statements = "create table half (id integer)", "this is no statement"
        broken.setattr(Store, "format", with_step(*statements))
        with pytest.raises(DataError, match="C009"):
            Store(path)
    with Store(path) as store:
        tables = store._database.connection.execute(
            "select name from sqlite_master where name = 'half'"
        ).fetchall()
        assert (tables, store.last_case(), store.verify()) == ([], 1, ())


def test_migrations_run_once(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        Store, "format", with_step("create table once (id integer)")
    )  # a second time it fails
    for told in (("a step was done",), (), ()):
        with Store(path) as store:
            assert store.told == told


def damaged(path: Path, start: int) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"), *(Noted("a", "low", text="x" * 200) for _ in range(200)))
    content = bytearray(path.read_bytes())
    content[start:] = b"\xff" * (len(content) - start)
    path.write_bytes(content)


def test_a_damaged_page_is_an_error_and_verify_says_so(path: Path) -> None:
    damaged(path, 5 * 4096)
    with Store(path) as store:
        assert "C004" in [problem.code for problem in store.verify()]
        with pytest.raises(DataError, match="C004 the case store is damaged"):
            store.case(1)


def test_a_file_cut_short_is_an_error(path: Path) -> None:
    damaged(path, 5 * 4096)
    path.write_bytes(path.read_bytes()[: 4 * 4096])
    with pytest.raises(DataError, match="C004"), Store(path) as store:
        store.case(1)


def test_a_locked_file_is_an_error_after_the_wait(path: Path) -> None:
    with Store(path) as store, Store(path, wait=0.05) as other:
        store.new_case(Opened("D-07"))
        store._database.connection.execute("begin immediate")
        with pytest.raises(DataError, match="C008 another program is writing"):
            other.append(1, Noted("a", "low"))
        assert len(other.events(1)) == 1
        store._database.connection.execute("rollback")
        assert other.append(1, Noted("a", "low")) == (2,)


def fill(store: Store) -> int:
    """Append until the disk is full; return the last number acknowledged."""
    last = 1
    with suppress(DataError):
        while last < 1000:
            (last,) = store.append(1, Noted("a", "low", text="x" * 400))
    return last


def test_a_full_disk_loses_nothing_acknowledged(path: Path) -> None:
    """SQLite's own limit on pages gives the result code of a full disk (SQLITE_FULL)."""
    with Store(path) as store:
        store.new_case(Opened("D-07"))
        (pages,) = store._database.connection.execute("pragma page_count").fetchone()
        store._database.connection.execute(f"pragma max_page_count = {pages + 3}")
        last = fill(store)
        with pytest.raises(DataError, match="C006"):
            store.append(1, *(Noted("a", "low", text="x" * 4000) for _ in range(9)))
        assert 1 < last < 1000
        assert [event.sequence for event in store.events(1)] == list(range(1, last + 1))
        assert store.verify() == ()
        store._database.connection.execute(f"pragma max_page_count = {pages + 1000}")
        assert store.append(1, Noted("a", "low")) == (last + 1,)
        assert store.verify() == ()


def test_a_file_that_may_not_grow_loses_nothing_acknowledged(path: Path) -> None:
    """The operating system refuses to write: a file size limit on the writing program."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (120_000, 120_000))

    process = writer(path, 100_000, "x" * 400, before=limit)
    output, errors = process.communicate()
    assert process.returncode == 1
    assert "DataError" in errors
    assert any(code in errors for code in ("C006", "C007"))
    with Store(path) as store:
        kept = {event.sequence for event in store.events(1)}
        assert set(numbers(output)) <= kept
        assert store.append(1, Noted("a", "low")) == (max(kept) + 1,)
        assert store.verify() == ()


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that everybody can reach (a test's own is for its user alone)."""
    with tempfile.TemporaryDirectory() as name:
        os.chmod(name, 0o755)
        yield Path(name)


READ_ONLY = """
import os, sys
from pathlib import Path
from diagnose.cases.store import Store
from diagnose.cases.events import Opened
from diagnose.errors import DataError
if os.getuid() == 0:  # permissions do not bind root
    os.setuid(65534)
try:
    with Store(Path(sys.argv[1])) as store:
        store.new_case(Opened("D-07"))
except DataError as error:
    print(error)
"""


@pytest.mark.parametrize("there", [True, False])
def test_a_folder_that_cannot_be_written(open_folder: Path, there: bool) -> None:
    path = open_folder / "cases.sqlite"
    if there:
        with Store(path) as store:
            store.new_case(Opened("D-07"))
        path.chmod(0o444)
    open_folder.chmod(0o555)
    command = [sys.executable, "-c", READ_ONLY, str(path)]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    assert run.stdout.startswith(f"{path}:0:0: C005 ")
    assert "permission" in run.stdout
    open_folder.chmod(0o755)
    if there:
        with Store(path) as store:
            assert len(store.events(1)) == 1


@pytest.mark.parametrize("name", ["", "file/cases.sqlite"])
def test_a_path_that_cannot_be_a_file(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(DataError, match="C005"):
        Store(tmp_path / name)


def test_an_empty_file_becomes_a_store(path: Path) -> None:
    path.touch()
    with Store(path) as store:
        assert store.new_case(Opened("D-07")) == 1


class Interrupted(Database):
    """A database in the middle of whose looking another program writes."""

    write: Callable[[], object]

    def given(self) -> int:
        self.write()
        return super().given()


def test_what_another_program_writes_meanwhile_is_not_missing(path: Path) -> None:
    """Seen with two writers at once: the last event was said to be missing."""
    with Store(path) as store, Store(path) as other:
        case = store.new_case(Opened("D-07"))
        database = Interrupted(path, CASES, 5.0)
        database.write = lambda: other.append(case, Noted("a", "present"))
        found = Audit(CASES)
        found.go_on(database)
        database.close()
        assert found.misplaced == ()
        assert len(other.events(case)) == 2
