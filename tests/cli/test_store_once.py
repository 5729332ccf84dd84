"""A call looks at every row of the store once, however often it reads; after every change it looks anew."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from diagnose.append_only.audit import Audit
from diagnose.cases.events import Noted, Opened
from diagnose.cases.store import Store
from diagnose.cli.context import CommandContext
from diagnose.errors import DataError
from tests.calling import run

CASES = 3
ROWS_OF_A_CASE = 2


@pytest.fixture
def context(tmp_path: Path) -> Iterator[CommandContext]:
    with Store(tmp_path / "cases.sqlite") as store:
        for number in range(CASES):
            store.new_case(
                Opened(f"P-{number}", "old_six", complaint="no start"), Noted("no_start", "present")
            )
    context = CommandContext(store_path=tmp_path / "cases.sqlite")
    yield context
    context.close()


@pytest.fixture
def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The ids of the rows that audits have looked at, in order."""
    ids: list[int] = []
    take: Callable[..., None] = Audit._take

    def noticed(self: Audit, id: int, *rest: Any) -> None:
        ids.append(id)
        take(self, id, *rest)

    monkeypatch.setattr(Audit, "_take", noticed)
    return ids


@pytest.mark.parametrize(
    ("call", "added"),
    [(("causes",), 0), (("note", "blue smoke"), 1), (("withdraw", "2"), 1), (("cases",), 0)],
)
def test_a_call_looks_at_every_row_once(
    context: CommandContext, looked_at: list[int], call: tuple[str, ...], added: int
) -> None:
    run("--store", str(context.store_path), *call)
    assert looked_at == list(range(1, CASES * ROWS_OF_A_CASE + added + 1))


def test_what_another_program_writes_is_seen(context: CommandContext, looked_at: list[int]) -> None:
    with context.store() as store:
        assert len(store.cases()) == CASES
    with Store(context.store_path) as other:
        other.new_case(Opened("P-9"))
    looked_at.clear()
    with context.store() as store:
        assert store.cases()[-1].machine == "P-9"
    assert looked_at == list(range(1, CASES * ROWS_OF_A_CASE + 2))


def test_a_row_changed_by_another_program_is_refused(context: CommandContext) -> None:
    with context.store() as store:
        store.events(2)
    with sqlite3.connect(str(context.store_path)) as other:
        other.execute("drop trigger event_no_update")
        other.execute("update event set body = replace(body, 'present', 'absent') where id = 4")
    other.close()
    with context.store() as store:
        assert "hash" in store.cases()[1].problem
        with pytest.raises(DataError, match="C014"):
            store.events(2)
        assert store.events(1)


def test_bytes_changed_past_sqlite_are_refused(context: CommandContext) -> None:
    assert context.store_path
    with context.store() as store:
        store.events(1)
    content = context.store_path.read_bytes()
    context.store_path.write_bytes(content.replace(b"P-1", b"P-7"))
    with pytest.raises(DataError, match="C014"), context.store() as store:
        store.events(2)


def test_a_file_that_was_moved_is_not_written_to(context: CommandContext) -> None:
    assert context.store_path
    with context.store() as store:
        store.events(1)
    os.rename(context.store_path, context.store_path.with_name("moved.sqlite"))
    with context.store() as store:
        assert store.cases() == []
        assert store.new_case(Opened("Q-1")) == 1
    with Store(context.store_path.with_name("moved.sqlite")) as moved:
        assert len(moved.cases()) == CASES


def _write_and_give_up(store: Store) -> None:
    with store._writing():
        store._insert(1, 3, [Noted("no_start", "absent")])
        assert store.last_case() == CASES  # looks at the new row
        raise KeyError("nothing of this is kept")


def test_what_was_taken_back_is_not_remembered(context: CommandContext) -> None:
    with context.store() as store:
        with pytest.raises(KeyError):
            _write_and_give_up(store)
        assert len(store.events(1)) == ROWS_OF_A_CASE
        assert store.append(1, Noted("no_start", "absent")) == (ROWS_OF_A_CASE + 1,)
