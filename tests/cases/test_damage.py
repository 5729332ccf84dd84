"""A damaged store is never read wrongly, and what is whole in it is saved; one that cannot be written is read."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from diagnose.append_only import opening
from diagnose.append_only.format import LOST
from diagnose.append_only.rescue import rescue
from diagnose.cases.events import Noted, Opened
from diagnose.cases.store import Store
from diagnose.errors import CallError, DataError
from tests.attack import damage


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "cases.sqlite"


@pytest.mark.parametrize("first", range(0, 40, 10))
def test_every_damage_is_found_or_harmless(first: int) -> None:
    told = damage.attack(10, first)
    assert told["one bit, found"] + told["several bytes, found"] > 0


def test_an_index_that_leads_to_another_row_is_not_followed() -> None:
    """Here one bit of the index makes the opening of a case that of another; the table itself is whole."""
    damage.round_of(1301, damage.one_bit)


def test_a_message_of_sqlite_that_is_no_text_is_an_error_like_others() -> None:
    """Here the text of the schema is damaged, and SQLite's message quotes its bytes as they are."""
    assert damage.round_of(1_000_093, damage.some_bytes) == "found"


def filled(path: Path) -> dict[int, tuple[object, ...]]:
    with Store(path) as store:
        store.new_case(Opened("D-07"), Noted("a", "low"), Noted("b", "present"))
        store.new_case(Opened("G-02"), Noted("a", "low"))
        store.new_case(Opened("K-03"), Noted("a", "low"), Noted("c", "present"))
        return {one.number: store.events(one.number) for one in store.cases()}


def changed(path: Path, statement: str) -> None:
    """The statement done by another program, without the guards."""
    connection = sqlite3.connect(path, isolation_level=None)
    for (name,) in connection.execute("select name from sqlite_master where type = 'trigger'").fetchall():
        connection.execute(f"drop trigger {name}")
    connection.execute(statement)
    connection.close()


@pytest.mark.parametrize(
    ("statement", "lost"),
    [
        ("update event set case_number = 68 where id = 4", 0),  # a case gone: its number is in its hash
        ("update event set case_number = 3, sequence = 4 where id = 3", 0),
        ("update event set sequence = 9 where id = 2", 0),
        ("update event set parent = 'x' where id = 3", 0),
        ("update event set hash = 'x' where id = 3", 0),  # the next row holds it too
        ("update event set body = replace(body, 'D-07', 'D-0w') where id = 1", 1),
        ("update event set body = 7 where id = 2", 1),
        ("update event set body = x'ff00' where id = 2", 1),
        ("update event set body = null where id = 99", 0),
        ("delete from event where id = 2", 1),
    ],
)
def test_no_change_is_read_and_all_else_is_saved(path: Path, statement: str, lost: int) -> None:
    held = filled(path)
    changed(path, statement)
    found = damage.read(path)
    if found is not None:
        assert all(events == held[number] for number, events in found.items())
        assert (found == held) == ("where id = 99" in statement)
    told = rescue(Store, path, path.with_name("new.sqlite"))
    assert (len(told.lost), told.entries) == (lost, 8 - lost)
    with Store(path.with_name("new.sqlite")) as new:
        assert new.verify() == ()
        saved = {one.number: new.events(one.number) for one in new.cases()}
    same = [a == b for number in held for a, b in zip(held[number], saved[number], strict=True)]
    assert same.count(False) == lost


def test_a_tree_that_leads_past_a_row_is_an_error(path: Path) -> None:
    """A key of an inner page says that the rows to its left end at the first (section 1.6 of the file format): all
    are found one after the other, and none of these by its id."""
    with Store(path) as store:
        store.new_case(Opened("D-07"), *(Noted("a", "low", text="x" * 300) for _ in range(200)))
    connection = sqlite3.connect(path)
    (root,) = connection.execute("select rootpage from sqlite_master where name = 'event'").fetchone()
    connection.close()
    content = bytearray(path.read_bytes())
    page = (root - 1) * 4096
    assert content[page] == 5  # an inner page of a table
    for cell in range(int.from_bytes(content[page + 3 : page + 5])):
        key = (
            page + int.from_bytes(content[page + 12 + 2 * cell :][:2]) + 4
        )  # behind the number of the page below
        one = b"\x80\x01" if content[key] > 127 else b"\x01"  # in as many bytes
        content[key : key + len(one)] = one
    path.write_bytes(content)
    with Store(path) as store:
        assert "C004" in [one.code for one in store.verify()]
        with pytest.raises(DataError, match="C004 the case store is damaged"):
            store.events(1)


def test_one_damaged_case_leaves_the_others_to_be_read_and_listed(path: Path) -> None:
    held = filled(path)
    changed(path, "update event set body = replace(body, 'G-02', 'G-03') where id = 4")
    with Store(path) as store:
        assert store.events(1) == held[1]
        with pytest.raises(DataError, match="C014 case 2, event 1"):
            store.events(2)
        assert [bool(one.problem) for one in store.cases()] == [False, True, False]


def test_a_damaged_opening_stands_in_as_lost(path: Path) -> None:
    filled(path)
    changed(path, "update event set body = '{' where id = 4")
    rescue(Store, path, path.with_name("new.sqlite"))
    with Store(path.with_name("new.sqlite")) as store:
        assert LOST in store.cases()[1].machine
        assert len(store.events(2)) == 2


@pytest.mark.parametrize("start", [0, 16, 18, 20, 44, 56])
def test_a_damaged_header_does_not_shut_the_rescue_out(path: Path, start: int) -> None:
    held = filled(path)
    content = bytearray(path.read_bytes())
    content[start : start + 2] = b"\xa5\x5a"
    path.write_bytes(content)
    assert rescue(Store, path, path.with_name("new.sqlite")).entries == 8
    with Store(path.with_name("new.sqlite")) as store:
        assert {n: store.events(n) for n in held} == held


def test_a_rescue_overwrites_nothing_and_changes_nothing(path: Path) -> None:
    filled(path)
    before = path.read_bytes()
    with pytest.raises(CallError, match="there already"):
        rescue(Store, path, path)
    rescue(Store, path, path.with_name("new.sqlite"))
    assert path.read_bytes() == before
    path.write_bytes(b"nothing" * 1000)
    with pytest.raises(DataError, match="no event in it that is whole"):
        rescue(Store, path, path.with_name("other.sqlite"))
    assert not path.with_name("other.sqlite").exists()


# Read where nothing can be written. SQLite itself is the oracle for what a file with its log holds.


@pytest.fixture
def unfinished(path: Path) -> Path:
    """A copy of a store whose writer still runs: its last entries stand in the log alone."""
    copy = path.parent / "copy"
    copy.mkdir()
    with Store(path) as store:
        store.new_case(Opened("D-07"), *(Noted("a", "low", text="x" * 300) for _ in range(40)))
        for _ in range(5):
            store.append(1, Noted("a", "normal"))
        for end in ("", "-wal"):
            shutil.copy(f"{path}{end}", copy / f"cases.sqlite{end}")
    return copy / "cases.sqlite"


def dumped(connection: sqlite3.Connection) -> list[object]:
    with closing(connection):
        return connection.execute("select * from event order by id").fetchall()


def test_a_file_and_its_log_are_read_as_sqlite_reads_them(unfinished: Path) -> None:
    pages = opening.content(unfinished)
    assert dumped(opening.in_memory(pages)) == dumped(sqlite3.connect(unfinished))
    assert len(dumped(sqlite3.connect(unfinished))) == 46


@pytest.mark.parametrize("cut", [1, 24, 100, 4096, 5000, 20_000])
def test_a_torn_log_is_read_as_sqlite_reads_it(unfinished: Path, cut: int) -> None:
    log = unfinished.with_name("cases.sqlite-wal")
    log.write_bytes(log.read_bytes()[:-cut])
    pages = opening.content(unfinished)
    assert dumped(opening.in_memory(pages)) == dumped(sqlite3.connect(unfinished))


def test_a_damaged_log_is_read_as_sqlite_reads_it(unfinished: Path) -> None:
    log = unfinished.with_name("cases.sqlite-wal")
    content = bytearray(log.read_bytes())
    content[-10_000] ^= 4
    log.write_bytes(content)
    pages = opening.content(unfinished)
    assert dumped(opening.in_memory(pages)) == dumped(sqlite3.connect(unfinished))


READER = """
import os, sys
from pathlib import Path
from diagnose.cases.store import Store
from diagnose.cases.events import Noted
from diagnose.errors import DataError
if os.getuid() == 0:  # permissions do not bind root
    os.setuid(65534)
with Store(Path(sys.argv[1])) as store:
    print(len(store.events(1)), len(store.cases()), store.verify())
    try:
        store.append(1, Noted("a", "low"))
    except DataError as error:
        print(error)
    print(len(store.events(1)))
"""


def reader(path: Path) -> str:
    command = [sys.executable, "-c", READER, str(path)]
    root = Path(__file__).parents[2]
    return subprocess.run(command, cwd=root, capture_output=True, text=True, check=True).stdout


def test_a_folder_that_cannot_be_written_is_read(unfinished: Path) -> None:
    with (
        tempfile.TemporaryDirectory() as name
    ):  # that others can reach: a test's own folder is for its user alone
        for file in unfinished.parent.iterdir():
            shutil.copy(file, name)
            (Path(name) / file.name).chmod(0o444)
        os.chmod(name, 0o555)
        first, second, third = reader(Path(name) / "cases.sqlite").splitlines()
    assert first == "46 1 ()"
    assert "C005" in second
    assert third == "46"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 256 KiB, for root alone."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=256k,mode=755", "tmpfs", str(folder)]
    if os.getuid() or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("no disk can be mounted here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_is_read_and_said_to_be_full(small_disk: Path, unfinished: Path) -> None:
    for file in unfinished.parent.iterdir():
        shutil.copy(file, small_disk)
    with pytest.raises(OSError, match="space"):
        (small_disk / "rest").write_bytes(b"x" * (1 << 20))
    with Store(small_disk / "cases.sqlite") as store:
        assert len(store.events(1)) == 46
        with pytest.raises(DataError, match="C006 the disk is full"):
            store.append(1, Noted("a", "low"))
        assert len(store.events(1)) == 46


def test_a_store_is_for_its_user_alone(path: Path) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"))
        modes = {file.name: file.stat().st_mode & 0o777 for file in path.parent.iterdir()}
    assert set(modes.values()) == {0o600}
    assert "cases.sqlite-wal" in modes


def test_many_programs_open_a_new_file_at_once(tmp_path: Path) -> None:
    """None of them takes the file, half made by another, for a database of another program."""
    program = (
        "import sys; from pathlib import Path; from diagnose.cases.store import Store\n"
        "for name in sys.argv[2:]: Store(Path(sys.argv[1]) / name, wait=30).close()"
    )
    names = [f"{number}.sqlite" for number in range(40)]
    command = [sys.executable, "-c", program, str(tmp_path), *names]
    root = Path(__file__).parents[2]
    running = [subprocess.Popen(command, cwd=root, stderr=subprocess.PIPE, text=True) for _ in range(3)]
    assert [process.communicate()[1] for process in running] == ["", "", ""]
