"""What an apprentice can get at tells nothing: the same work whatever is hidden, and no figure of it is out."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from diagnose.network.engine import Engine
from diagnose.practice.world import World
from tests.cli.conftest import Call
from tests.practice.small import run
from tests.practice.test_keeping import SCENARIO

CAUSES = ("pump_worn", "seal_out", "batteries_flat", "debris")


def counted(monkeypatch: pytest.MonkeyPatch, counts: Counter[str], owner: type, name: str) -> None:
    """Count the calls of a method and the rows that it is given."""
    plain = getattr(owner, name)

    def call(self: Any, *args: Any, **options: Any) -> Any:
        counts[name] += 1
        counts[f"{name} rows"] += len(args[0]) if args and isinstance(args[0], list) else 0
        return plain(self, *args, **options)

    monkeypatch.setattr(owner, name, call)


def test_a_check_takes_the_same_work_whatever_is_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    """From the opening of the file to the result; a clock is not asked, for it tells of the machine it runs on."""
    work = []
    for cause in CAUSES:
        for seed in (1, 2):
            at = run(cause, seed)
            option = at.standing.check_option("read_pressure")
            assert option is not None
            counts = Counter[str]()
            with monkeypatch.context() as watched:
                for owner, name in ((Engine, "given"), (World, "states_without"), (World, "__init__")):
                    counted(watched, counts, owner, name)
                at.do_check(option)
            work.append(counts)
    assert work[0]["given"] > 0
    assert all(counts == work[0] for counts in work)


@pytest.mark.parametrize("cause", CAUSES)
def test_first_entry_is_as_long_whatever_is_hidden(cause: str) -> None:
    assert len(json.dumps(run(cause).entries[0].values)) == len(json.dumps(run().entries[0].values))


def test_sheet_of_an_exercise_that_goes_on_tells_no_best_move(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    call("practice", "start", str(path), "--seed", "1", "--name", "Ann", typed="cut the filter\n\n")
    (row,) = json.loads(call("practice", "sheet", "--json").stdout)["exercises"]
    assert row["regret"] is None
    assert (row["skills"]["choosing"], row["skills"]["stopping"]) == (None, None)
    call("practice", "resume", typed="x\ny\n")
    (row,) = json.loads(call("practice", "sheet", "--json").stdout)["exercises"]
    assert row["regret"] is not None
    assert row["skills"]["choosing"] is not None
