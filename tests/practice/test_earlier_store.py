"""A file of exercises of an earlier version, without hashes, is migrated with words, whole or not at all."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.append_only import sqlite
from diagnose.append_only.rescue import rescue
from diagnose.errors import DataError
from diagnose.practice.store import ExerciseEntry, Exercises
from tests.cases.strategies import calm

ROOT = Path(__file__).parents[2]
AT = "2024-05-01T10:00:00Z"
STARTED = ExerciseEntry("started", {"apprentice": "Ann \u2028 O'Hara", "opening": [{"sequence": 0}]}, AT)
EARLIER = ((1, STARTED), (2, STARTED), (1, ExerciseEntry("guessed", {"said": {"a": 0.5}}, AT)))


def written(path: Path, entries: Sequence[tuple[int, ExerciseEntry]]) -> None:
    """The file as the earlier version made it, statement by statement."""
    connection = sqlite3.connect(path)
    connection.execute(f"pragma application_id = {0x44507261}")
    connection.execute("pragma journal_mode = wal")
    connection.execute(
        "create table if not exists entry (id integer primary key autoincrement, exercise integer not null, "
        "sequence integer not null, time text not null, kind text not null, body text not null, "
        "unique (exercise, sequence))"
    )
    for act in ("update", "delete"):
        connection.execute(
            f"create trigger if not exists entry_no_{act} before {act} on entry "
            "begin select raise(abort, 'entries are never changed or deleted'); end"
        )
    lengths: dict[int, int] = {}
    for number, entry in entries:
        lengths[number] = lengths.get(number, 0) + 1
        body = json.dumps(entry.values, sort_keys=True, ensure_ascii=True)
        row = (number, lengths[number], entry.time, entry.kind, body)
        connection.execute(
            "insert into entry (exercise, sequence, time, kind, body) values (?, ?, ?, ?, ?)", row
        )
    connection.commit()
    connection.close()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "p.sqlite"
    written(file, EARLIER)
    return file


def earlier_rows(path: Path) -> int:
    """How many rows stand in the table of the earlier version."""
    connection = sqlite3.connect(path)
    (count,) = connection.execute("select count(kind) from entry").fetchone()
    connection.close()
    return int(count)


def test_it_is_read_rightly_and_told_once(path: Path) -> None:
    with Exercises(path) as kept:
        (words,) = kept.told
        assert "its entries (3) are kept with a hash each" in words
        assert kept.entries(1) == (STARTED, EARLIER[2][1])
        assert (kept.numbers(), kept.entries(2), kept.verify()) == ((1, 2), (STARTED,), ())
    with Exercises(path) as kept:
        assert kept.told == ()
        assert kept.append(1, ExerciseEntry("given_up", {})) == (3,)
        assert kept.begin(STARTED) == 3
        assert kept.verify() == ()
    with pytest.raises(sqlite3.OperationalError, match="no such column"):
        earlier_rows(path)  # the earlier version says so too, and changes nothing


def test_a_file_in_which_nothing_was_kept_has_nothing_told_of_it_that_is_not_so(tmp_path: Path) -> None:
    written(tmp_path / "p.sqlite", ())
    with Exercises(tmp_path / "p.sqlite") as kept:
        assert "its entries (0)" in kept.told[0]
        assert (kept.numbers(), kept.begin(STARTED), kept.verify()) == ((), 1, ())
    with Exercises(tmp_path / "new.sqlite") as kept:
        assert kept.told == ()


values = st.dictionaries(
    st.text(),
    st.recursive(
        st.none()
        | st.booleans()
        | st.integers()
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
        max_leaves=8,
    ),
    max_size=4,
)
kinds = st.text("abcdefgh_'\"\\", min_size=1, max_size=9)


@settings(calm, max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.booleans(), st.builds(ExerciseEntry, kinds, values, st.just(AT))), max_size=8))
def test_any_entries_come_back_equal_by_the_earlier_version_and_by_this_one(
    tmp_path: Path, drawn: list[tuple[bool, ExerciseEntry]]
) -> None:
    began = 0
    entries = [(began := began + (new or not began), entry) for new, entry in drawn]
    held = {n: tuple(e for m, e in entries if m == n) for n, _ in entries}
    written(tmp_path / "p.sqlite", entries)
    with Exercises(tmp_path / "p.sqlite") as kept, Exercises(tmp_path / "q.sqlite") as fresh:
        assert {n: kept.entries(n) for n in kept.numbers()} == held
        for entry_of in held.values():
            assert fresh.entries(fresh.begin(*entry_of)) == entry_of
        assert kept.verify() == fresh.verify() == ()
    for file in tmp_path.iterdir():
        file.unlink()


def test_a_migration_that_fails_leaves_everything_as_it_was(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(parent: str, stream: int, body: str) -> str:
        if "guessed" in body:
            raise sqlite3.OperationalError("in the middle")
        return "x"

    with monkeypatch.context() as broken:
        broken.setattr(sqlite, "digest", failing)
        with pytest.raises(DataError, match=r"P0\d\d the file of exercises"):
            Exercises(path)
    assert earlier_rows(path) == 3
    with Exercises(path) as kept:
        assert (len(kept.entries(1)), kept.verify()) == (2, ())


OPENER = "import sys; from pathlib import Path; from diagnose.practice.store import Exercises; \
print('go', flush=True); Exercises(Path(sys.argv[1]), wait=30).close()"


def opener(path: Path) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", OPENER, str(path)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def test_programs_killed_while_they_migrate_lose_nothing(tmp_path: Path) -> None:
    path, many = tmp_path / "p.sqlite", 6000
    entries = [(n % 40 + 1, ExerciseEntry("hinted", {"words": "x" * 50, "n": n}, AT)) for n in range(many)]
    written(path, entries)
    for step in range(6):
        with opener(path) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(0.004 * step)
            os.kill(process.pid, signal.SIGKILL)
    with Exercises(path) as kept:
        assert sum(len(kept.entries(n)) for n in kept.numbers()) == many
        assert kept.entries(1)[:2] == (entries[0][1], entries[40][1])
        assert kept.verify() == ()


def test_two_programs_migrate_once(path: Path) -> None:
    processes = [opener(path) for _ in range(3)]
    assert [process.communicate()[1] for process in processes] == ["", "", ""]
    with Exercises(path) as kept:
        assert (len(kept.entries(1)), kept.verify()) == (2, ())


def test_an_entry_that_is_no_json_shuts_its_own_exercise_only(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("drop trigger entry_no_update")
    raw.execute("update entry set body = '{' where exercise = 2")
    raw.commit()
    raw.close()
    with Exercises(path) as kept:
        assert len(kept.entries(1)) == 2
        with pytest.raises(DataError, match="P010 exercise 2, entry 1"):
            kept.entries(2)


def test_it_is_rescued_with_hashes_and_only_read(path: Path) -> None:
    before = path.read_bytes()
    told = rescue(Exercises, path, path.with_name("new.sqlite"))
    assert (told.streams, told.entries, told.lost) == (2, 3, ())
    assert path.read_bytes() == before
    with Exercises(path.with_name("new.sqlite")) as kept:
        assert (kept.entries(2), kept.verify()) == ((STARTED,), ())


READER = """
import os, sys
from pathlib import Path
from diagnose.practice.store import ExerciseEntry, Exercises
from diagnose.errors import DataError
if os.getuid() == 0:  # permissions do not bind root
    os.setuid(65534)
with Exercises(Path(sys.argv[1])) as kept:
    print(len(kept.entries(1)), kept.numbers(), kept.verify(), kept.told)
    try:
        kept.append(1, ExerciseEntry("given_up", {}))
    except DataError as error:
        print(error)
"""


def test_where_it_cannot_be_written_it_is_read_all_the_same(path: Path) -> None:
    before = path.read_bytes()
    with (
        tempfile.TemporaryDirectory() as name
    ):  # that others can reach: a test's own folder is for its user alone
        file = Path(shutil.copy(path, name))
        file.chmod(0o444)
        os.chmod(name, 0o555)
        command = [sys.executable, "-c", READER, str(file)]
        run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
        assert file.read_bytes() == before
    read, refused = run.stdout.splitlines()
    assert read == "2 (1, 2) () ()"
    assert "P005 the file of exercises cannot be" in refused
