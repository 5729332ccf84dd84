"""A store of an earlier version opens and is read rightly: its events lack the fields that came later."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diagnose.append_only.sqlite import digest
from diagnose.cases.events import Learnt, Noted, Opened
from diagnose.cases.store import CASES, Store

# As the first version wrote them: `opened` and `fact` without `last_right` and `inspection`, texts as they came.
OPENED: dict[str, object] = {
    "complaint": "no start\nwhen hot",
    "facts": {"duty": "off road"},
    "hours": 9000.0,
}
NOTED: dict[str, object] = {"code": "", "confidence": "sure", "finding": "a", "state": "low", "unit": ""}
EARLIER: list[dict[str, object]] = [
    OPENED | {"kind": "opened", "machine": "D-07", "family": "", "renewed": {}},
    NOTED | {"kind": "noted", "value": None, "text": "low\x1b[2J"},
    {"facts": {}, "hours": 9001.0, "kind": "fact", "renewed": {}, "text": ""},
]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """The file as the first version made it, table by table; readable for everybody, as files were then."""
    import sqlite3

    file = tmp_path / "cases.sqlite"
    connection = sqlite3.connect(file, isolation_level=None)
    connection.executescript(
        f"pragma application_id = {CASES.mark}; create table migration (name text primary key);"
        "insert into migration (name) values ('m001_event_table');"
        "create table event (id integer primary key autoincrement, case_number integer not null, sequence integer "
        "not null, body text not null, parent text not null, hash text not null, unique (case_number, sequence));"
        "create trigger event_no_update before update on event begin select raise(abort, 'never'); end;"
        "create trigger event_no_delete before delete on event begin select raise(abort, 'never'); end;"
    )
    parent = ""
    for sequence, event in enumerate(EARLIER, 1):
        whole = event | {"knowledge": "k", "sequence": sequence, "time": "2024-05-01T10:00:00Z", "version": 1}
        body = json.dumps(whole, sort_keys=True, separators=(",", ":"))
        row = (1, sequence, body, parent, parent := digest(parent, 1, body))
        connection.execute(
            "insert into event (case_number, sequence, body, parent, hash) values (?, ?, ?, ?, ?)", row
        )
    connection.close()
    file.chmod(0o644)
    return file


def test_it_is_read_rightly(path: Path) -> None:
    with Store(path) as store:
        assert store.verify() == ()
        opened, noted, learnt = store.events(1)
        assert [one.number for one in store.cases()] == [1]
    assert isinstance(opened, Opened)
    assert isinstance(noted, Noted)
    assert isinstance(learnt, Learnt)
    assert (opened.complaint, opened.last_right, opened.inspection) == ("no start when hot", None, False)
    assert noted.text == "low\\x1b[2J"
    assert (learnt.hours, learnt.last_right) == (9001.0, None)


def test_it_goes_on_from_there(path: Path) -> None:
    with Store(path) as store:
        assert store.append(1, Noted("a", "normal")) == (4,)
        assert store.new_case(Opened("G-02")) == 2
        assert store.verify() == ()
