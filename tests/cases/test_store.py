import sqlite3
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from diagnose.append_only.sqlite import digest
from diagnose.cases.case import fold
from diagnose.cases.events import (
    Checked,
    Closed,
    Event,
    EventError,
    Noted,
    Opened,
    Reopened,
    Repaired,
    Waits,
    Withdrawn,
    to_json,
)
from diagnose.cases.store import Store, Summary, default_path
from diagnose.cases.waiting import waits_for
from diagnose.errors import CallError, DataError
from tests.cases.strategies import calm, histories


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "cases.sqlite"


def test_cases_are_numbered_from_one_and_come_back_as_recorded(path: Path) -> None:
    with Store(path) as store:
        assert store.last_case() is None
        assert store.cases() == []
        assert store.new_case(Opened("D-07", knowledge="k1"), Noted("a", "low")) == 1
        assert store.new_case(Opened("G-02")) == 2
        assert store.append(1, Checked("look"), Noted("b", "present")) == (3, 4)
        assert store.append(2, Noted("a", "present")) == (2,)
        assert store.last_case() == 2
    with Store(path) as store:
        events = store.events(1)
        assert [event.sequence for event in events] == [1, 2, 3, 4]
        assert [event.kind for event in events] == ["opened", "noted", "checked", "noted"]
        assert events[0] == Opened("D-07", knowledge="k1", sequence=1, time=events[0].time)
        assert store.case(1) == fold(1, events)
        assert store.verify() == ()


def test_the_store_stamps_the_time_in_utc_unless_the_event_has_one(path: Path) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"), Noted("a", "low", time="2024-02-03T04:05:06Z"))
        first, second = store.events(1)
        assert datetime.strptime(first.time, "%Y-%m-%dT%H:%M:%SZ")
        assert second.time == "2024-02-03T04:05:06Z"


@settings(calm, max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(histories())
def test_any_history_comes_back_equal(path: Path, events: tuple[Event, ...]) -> None:
    first, *more = (replace(event, time="t") for event in events)
    assert isinstance(first, Opened)
    with Store(path) as store:
        number = store.new_case(first, *more)
        assert store.events(number) == (first, *more)
        assert store.verify() == ()


def test_summaries_say_what_is_open_closed_and_void(path: Path) -> None:
    start, end = "2024-01-01T00:00:00Z", "2024-01-02T00:00:00Z"
    with Store(path) as store:
        store.new_case(
            Opened("D-07", "inline_six", complaint="no start", time=start), Noted("a", "low", time=end)
        )
        store.new_case(Opened("G-02", time=start), Closed(("a",), time=end))
        store.new_case(Opened("G-02", time=start), Closed(()), Reopened(time=end))
        store.new_case(Opened("G-02", time=start), Withdrawn(1, time=end))
        assert store.cases() == [
            Summary(1, "D-07", "inline_six", "no start", start, end, 2, closed=False, void=False),
            Summary(2, "G-02", "", "", start, end, 2, closed=True, void=False, causes=("a",)),
            Summary(3, "G-02", "", "", start, end, 3, closed=False, void=False),
            Summary(4, "G-02", "", "", start, end, 2, closed=False, void=True),
        ]


@settings(calm, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(histories())
def test_the_list_says_of_each_case_what_its_whole_history_says(
    path: Path, events: tuple[Event, ...]
) -> None:
    """The list reads a few events of a case only; the fold of all is the oracle."""
    first, *more = (replace(event, time="t") for event in events)
    assert isinstance(first, Opened)
    with Store(path) as store:
        number = store.new_case(first, *more)
        (told,) = (one for one in store.cases() if one.number == number)
        whole = store.case(number)
    assert told.waits_for == waits_for(whole)
    assert told.waits_text == (whole.waits.text if whole.waits else "")
    assert (told.closed, told.void) == (whole.closed is not None, whole.opened is None)
    assert told.by == next((event.by for event in reversed(whole.history) if event.by), "")


@pytest.mark.parametrize(
    ("events", "waits"),
    [
        ((Waits("parts"), Noted("a", "low")), ("parts",)),
        ((Waits("parts"), Repaired(("r",))), ()),
        ((Waits("customer"), Repaired(("r",))), ("customer",)),
        ((Waits("customer"), Waits("")), ()),
        ((Waits("cooling down"),), ("cooling down",)),
        ((Waits("cooling down"), Noted("a", "low")), ()),
        ((Waits("cooling down"), Withdrawn(2)), ()),
        ((Waits("parts"), Closed(("a",))), ()),
        ((Repaired(("r",)), Checked("prove:r:1", "later")), ("later proof",)),
        ((Repaired(("r",)), Checked("prove:r:1", "later"), Checked("prove:r:1")), ()),
        ((Repaired(("r",)), Checked("prove:r:1", "later"), Closed(("a",))), ()),
    ],
)
def test_what_a_case_waits_for(path: Path, events: tuple[Event, ...], waits: tuple[str, ...]) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"), *events)
        assert store.cases()[0].waits_for == waits == waits_for(store.case(1))


@pytest.mark.parametrize("number", [0, -1, 2, 10**30])
def test_a_case_that_is_not_there(path: Path, number: int) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"))
        for call in (store.events, store.case, lambda n: store.append(n, Noted("a", "low"))):
            with pytest.raises(CallError, match="no case"):
                call(number)


@pytest.mark.parametrize(
    ("bad", "error"),
    [
        (Opened("D-07"), CallError),
        (Withdrawn(0), CallError),
        (Withdrawn(3), CallError),
        (Withdrawn(10**30), CallError),
        (Noted("a", "low", value=float("nan")), EventError),
    ],
)
def test_events_are_recorded_all_or_none(path: Path, bad: Event, error: type[Exception]) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"))
        with pytest.raises(error):
            store.append(1, Noted("a", "low"), bad)
        assert len(store.events(1)) == 1
        assert store.append(1, Noted("a", "low"), Withdrawn(2)) == (2, 3)


def test_a_case_starts_with_its_opening(path: Path) -> None:
    with Store(path) as store:
        with pytest.raises(CallError, match="opening"):
            store.new_case(Noted("a", "low"))  # type: ignore[arg-type]
        assert store.last_case() is None


def test_the_environment_names_another_file(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_CASES", str(path))
    with Store() as store:
        assert store.path == path == default_path()
    monkeypatch.delenv("DIAGNOSE_CASES")
    assert default_path().parts[-2:] == ("diesel-diagnose", "cases.sqlite")


def test_a_missing_folder_is_made(tmp_path: Path) -> None:
    with Store(tmp_path / "a" / "b" / "cases.sqlite") as store:
        assert store.new_case(Opened("D-07")) == 1


# Append only: the guards inside the database, on the store's own connection.


@pytest.mark.parametrize(
    "statement",
    [
        "update event set body = '{}'",
        "delete from event",
        "insert or replace into event select * from event",
        "replace into event (id, case_number, sequence, body, parent, hash) values (1, 1, 1, '{}', '', '')",
        "insert into event (case_number, sequence, body, parent, hash) values (1, 1, '{}', '', '') "
        "on conflict do update set body = '{}'",
    ],
)
def test_recorded_events_cannot_be_changed(path: Path, statement: str) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"), Noted("a", "low"))
        before = store.events(1)
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            store._database.connection.execute(statement)
        assert store.events(1) == before
        assert store.verify() == ()


def test_the_connection_is_set_for_safety(path: Path) -> None:
    """https://www.sqlite.org/pragma.html: synchronous 2 = full; wal syncs the log at every commit then."""
    with Store(path) as store:
        pragmas = ("journal_mode", "synchronous", "recursive_triggers")
        values = [store._database.connection.execute(f"pragma {name}").fetchone()[0] for name in pragmas]
        assert values == ["wal", 2, 1]


# Tampering, by another program without the guards.


def tampered(path: Path, *statements: str) -> list[str]:
    """The codes that verify finds after these statements, on a store of two cases."""
    with Store(path) as store:
        store.new_case(Opened("D-07"), Noted("a", "low"), Noted("b", "present"))
        store.new_case(Opened("G-02"), Noted("a", "low"))
    connection = sqlite3.connect(path, isolation_level=None)
    guards = connection.execute("select name, sql from sqlite_master where type = 'trigger'").fetchall()
    for name, _ in guards:
        connection.execute(f"drop trigger {name}")
    for statement in statements:
        connection.execute(statement)
    for _, text in guards:
        connection.execute(text)
    connection.close()
    with Store(path) as store:
        return [problem.code for problem in store.verify()]


def test_nothing_is_found_where_nothing_was_done(path: Path) -> None:
    assert tampered(path) == []


OTHER = to_json(Noted("a", "normal", sequence=2))


@pytest.mark.parametrize(
    ("statement", "code"),
    [
        (f"update event set body = '{OTHER}' where id = 2", "C014"),
        ("update event set hash = 'x' where id = 2", "C014"),
        ("update event set parent = 'x' where id = 2", "C013"),
        ("update event set case_number = 2, sequence = 3 where id = 3", "C014"),
        ("update event set sequence = 7 where id = 3", "C015"),
        ("update event set body = 'x' where id = 3", "C010"),
        ("delete from event where id = 2", "C013"),
        ("delete from event where case_number = 1", "C013"),
        ("delete from event where id = 5", "C016"),
        ("delete from event", "C016"),
        (
            "insert into event (case_number, sequence, body, parent, hash) "
            "select 1, 4, body, hash, 'x' from event where id = 5",
            "C014",
        ),
    ],
)
def test_tampering_is_found(path: Path, statement: str, code: str) -> None:
    assert code in tampered(path, statement)


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("update event set sequence = 7 where id = 3", "case 1: its events are not numbered from 1 to 3"),
        ("update event set case_number = 9 where case_number = 1", "case 1 is missing"),
        ("delete from event where case_number = 1", "case 1 is missing"),
        ("delete from event where id = 5", "the last events are missing"),
        ("update event set case_number = 'x' where id = 3", "an event has no number: row 3"),
    ],
)
def test_no_case_is_read_where_numbers_do_not_fit(path: Path, statement: str, words: str) -> None:
    tampered(path, statement)
    with Store(path) as store:
        for read in (store.cases, store.last_case, lambda: store.events(2), lambda: store.summary(2)):
            with pytest.raises(DataError, match=f"C015.*{words}"):
                read()


@settings(calm, max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.integers(1, 3), min_size=1, max_size=6))
@example([1, 1, 2, 2, 1])
def test_an_event_moved_to_the_end_of_any_case_is_missed_in_its_own(path: Path, drawn: list[int]) -> None:
    """Also where its number there fits by chance: case 1 was then read without its last event."""
    path.unlink(missing_ok=True)
    with Store(path) as store:
        for number in drawn:
            known = store.last_case() or 0
            _ = store.append(number, Noted("a", "low")) if number <= known else store.new_case(Opened("D-07"))
        rows = [(one.number, event.sequence) for one in store.cases() for event in store.events(one.number)]
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("drop trigger event_no_update")
    change = "update event set case_number = ?, sequence = ? where case_number = ? and sequence = ?"
    for own in rows:
        for case in {number for number, _ in rows} | {len(rows) + 1}:
            there = case, 1 + sum(number == case for number, _ in rows)
            if case != own[0]:
                raw.execute(change, (*there, *own))
                with Store(path) as store, pytest.raises(DataError):
                    store.events(own[0])
                raw.execute(change, (*own, *there))
    raw.close()


def test_after_a_look_at_all_of_it_the_store_is_written_as_before(path: Path) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"))
        assert store.verify() == ()
        assert store.append(1, Noted("a", "low")) == (2,)


def test_swapped_texts_are_found(path: Path) -> None:
    swap = "update event set body = (select body from event e where e.id = 5 - event.id) where id in (2, 3)"
    assert {"C014", "C015"} <= set(tampered(path, swap))


def test_an_event_that_gives_itself_another_number_is_not_read(path: Path) -> None:
    """By a program that hashed it rightly, and wrote it at a wrong place."""
    with Store(path) as store:
        store.new_case(Opened("D-07"), Noted("a", "low"))
        store._database.insert([(1, 3, OTHER)])
        with pytest.raises(DataError, match="C015 case 1: its events do not follow each other"):
            store.events(1)
        assert [problem.code for problem in store.verify()] == ["C015"]


def test_missing_guards_are_found(path: Path) -> None:
    with Store(path) as store:
        store._database.connection.execute("drop trigger event_no_delete")
        assert [problem.code for problem in store.verify()] == ["C012"]


def test_a_migration_without_a_name_is_damage(path: Path) -> None:
    """One changed byte makes a text of a row a null (damage, seed 1,000,101 and on)."""
    with Store(path) as store:
        store.new_case(Opened("D-07"))
        store._database.connection.execute("insert into migration values (null)")
    with pytest.raises(DataError, match=r"C004.*damaged"):
        Store(path)


def test_an_event_of_a_newer_program_is_kept_and_named(path: Path) -> None:
    with Store(path) as store:
        store.new_case(Opened("D-07"), Noted("a", "low"))
        newer = OTHER.replace('"noted"', '"vibrated"')
        (parent,) = store._database.connection.execute("select hash from event where id = 2").fetchone()
        row = (1, 3, newer, parent, digest(parent, 1, newer))
        store._database.connection.execute(
            "insert into event (case_number, sequence, body, parent, hash) values (?, ?, ?, ?, ?)", row
        )
        with pytest.raises(DataError, match=r"C011 case 1, event 3: .*newer program"):
            store.case(1)
        assert len(store.cases()) == 1
        assert store.append(1, Repaired(("r",))) == (4,)
        (body,) = store._database.connection.execute("select body from event where id = 3").fetchone()
        assert body == newer
