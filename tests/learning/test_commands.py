"""The commands as a user calls them: learn, its calibration and export, and many cases ranked in one call."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from diagnose.cases.events import Closed, Noted, Opened
from diagnose.cases.store import Store
from diagnose.knowledge.loader import load
from diagnose.learning.jsonl import to_json
from diagnose.network.machine import Machine
from tests.calling import run
from tests.learning.worlds import cases

FOLDER = Path(__file__).parents[1] / "cli" / "knowledge"
PLOUGH = Machine("PLOUGH-1", "old_six", {"start_aid": "none", "duty": "off road"}, 6000.0)
Call = Callable[..., Result]


@pytest.fixture
def call(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Call:
    """Call the program, the shop's overlay being one that does not exist yet; the exit code is asserted."""
    monkeypatch.setenv("DIAGNOSE_KNOWLEDGE", str(FOLDER))
    monkeypatch.setenv("DIAGNOSE_CASES", str(tmp_path / "cases.sqlite"))
    monkeypatch.setenv("DIAGNOSE_OVERLAY", str(tmp_path / "shop.yaml"))
    monkeypatch.setenv("COLUMNS", "60")
    (tmp_path / "shop.yaml").touch()
    return run


@pytest.fixture
def file(tmp_path: Path) -> str:
    path = tmp_path / "depot.jsonl"
    made = cases(load(FOLDER, learnt=False), 260, seed=3, looked=0.7, machine=PLOUGH)
    path.write_text("".join(to_json(one) + "\n" for one in made), encoding="utf-8")
    return str(path)


def values(result: Result) -> Any:
    return json.loads(result.stdout)


def prior(call: Call) -> float:
    record = values(call("knowledge", "show", "pump_worn", "--json"))["record"]
    return float(record["frequency"]["value"])


def test_learning_shows_and_changes_nothing_until_told(call: Call, file: str, tmp_path: Path) -> None:
    shown = call("learn", "-f", file, "--processes", "1").stdout
    assert "taught something" in shown
    assert " -> " in shown
    assert "diagnose learn --write" in " ".join(shown.split())
    assert max(map(len, shown.splitlines())) <= 60
    assert prior(call) == 0.04
    assert not (tmp_path / "shop.learnt.yaml").exists()


def test_written_it_is_in_force_and_undone_it_is_not(call: Call, file: str) -> None:
    found = values(call("learn", "-f", file, "--write", "--json", "--processes", "1"))
    assert (found["schema"], found["written"]) == ("diagnose.learn/1", True)
    change = next(one for one in found["changes"] if one["kind"] == "prior" and one["effect"] == "pump_worn")
    assert prior(call) == change["after"] != 0.04
    assert "Nothing that was learnt" in call("learn", "--undo").stdout
    assert prior(call) == 0.04
    assert "Nothing is learnt" in call("learn", "--undo", code=2).output


def test_learning_from_the_store(call: Call, tmp_path: Path) -> None:
    with Store(tmp_path / "cases.sqlite") as store:
        for number in range(6):
            case = store.new_case(
                Opened(f"LOADER-{number}", "old_six", {"start_aid": "none"}, 5000, {}, "no start")
            )
            store.append(case, Noted("no_start", "present"), Noted("metal_in_filter", "present"))
            if number < 4:
                store.append(case, Closed(("pump_worn",), "by sight", True))
            elif number < 5:
                store.append(case, Closed((), "assumed"))
    found = values(call("learn", "--json"))
    assert (found["cases"], found["counted"], found["written"]) == (6, 4, False)
    assert found["left_out"] == {"closed without a cause": 1, "not closed": 1}
    shown = call("learn").stdout
    assert "found in 4 of 4 cases" in " ".join(shown.split())
    assert "taught nothing" in shown  # metal is only ever noted where it is there


def test_nothing_to_learn_from_is_told(call: Call) -> None:
    shown = call("learn").stdout
    assert "no cases; 0 taught something" in shown
    assert "diagnose close" in shown


def test_cases_to_look_at_again_are_listed(call: Call, file: str) -> None:
    lines = Path(file).read_text(encoding="utf-8").splitlines()
    poisoned = {
        "case": "9999",
        "machine": {"number": "CRUSHER-2", "family": "old_six", "facts": {"start_aid": "none"}},
        "epochs": [
            {
                "seen": [
                    {"finding": "oil_at_bore", "state": "present"},
                    {"finding": "liquid_out", "state": "present"},
                    {"finding": "hard_stop", "state": "present"},
                    {"finding": "gallery_dirty", "state": "present"},
                ]
            }
        ],
        "outcome": {
            "closed": "2024-05-01",
            "causes": [{"cause": "batteries_flat", "confirmed": "by sight"}],
            "proven": True,
        },
    }
    Path(file).write_text("\n".join([*lines, json.dumps(poisoned), lines[0]]) + "\n", encoding="utf-8")
    found = values(call("learn", "-f", file, "--json", "--processes", "1"))
    worst = max(found["set_aside"], key=lambda one: one["decades"])
    assert worst["case"] == "9999"
    assert len(found["set_aside"]) <= 3
    assert found["repeated"] == [
        {"case": json.loads(lines[0])["case"], "first": json.loads(lines[0])["case"]}
    ]
    shown = " ".join(call("learn", "-f", file, "--processes", "1").stdout.split())
    assert "case 9999 (set aside) Batteries flat. Yet seen:" in shown
    assert "stand there twice" in shown
    assert values(call("learn", "-f", file, "--json", "--all-cases"))["counted"] == found["counted"] + len(
        found["set_aside"]
    )


def test_a_broken_file_is_told_and_nothing_is_learnt(call: Call, file: str, tmp_path: Path) -> None:
    with Path(file).open("a", encoding="utf-8") as lines:
        lines.write("{no\n")
    assert "L001" in call("learn", "-f", file, "--write", code=1).output
    assert not (tmp_path / "shop.learnt.yaml").exists()


def test_calibration(call: Call, file: str, tmp_path: Path) -> None:
    picture = tmp_path / "reliability.svg"
    found = values(
        call("learn", "calibration", "-f", file, "--svg", str(picture), "--json", "--processes", "1")
    )
    assert found["schema"] == "diagnose.learn-calibration/1"
    murphy = found["leading_cause"]
    parts = murphy["reliability"] - murphy["resolution"] + murphy["uncertainty"] + murphy["within_bins"]
    assert murphy["brier"] == pytest.approx(parts, abs=1e-12)
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    shown = call("learn", "calibration", "-f", file, "--processes", "1").stdout
    assert "called" in shown
    assert "The most surprising cases" in shown
    assert max(map(len, shown.splitlines())) <= 60


@pytest.mark.parametrize("ending", ["jsonl", "csv", "parquet"])
def test_export_and_back(ending: str, call: Call, file: str, tmp_path: Path) -> None:
    target = tmp_path / f"out.{ending}"
    assert "without names" in call("learn", "export", str(target), "-f", file).stdout
    assert b"PLOUGH" not in target.read_bytes()
    there = values(call("learn", "-f", file, "--json", "--processes", "1"))
    back = values(call("learn", "-f", str(target), "--json", "--processes", "1"))
    assert back["counted"] == there["counted"]
    changes = {(one["kind"], one["effect"], one["parent"]): one["after"] for one in there["changes"]}
    for one in back["changes"]:
        after = changes[one["kind"], one["effect"], one["parent"]]
        assert one["after"] == pytest.approx(after, rel=0.02) or one["state"]


def test_named_export_is_whole(call: Call, file: str, tmp_path: Path) -> None:
    target = tmp_path / "out.jsonl"
    call("learn", "export", str(target), "-f", file, "--named")
    assert target.read_text(encoding="utf-8") == Path(file).read_text(encoding="utf-8")


def test_an_export_that_cannot_be_written_is_told(call: Call, file: str, tmp_path: Path) -> None:
    assert (
        "cannot be written"
        in call("learn", "export", str(tmp_path / "no" / "out.jsonl"), "-f", file, code=2).output
    )
    assert ".jsonl" in call("learn", "export", str(tmp_path / "out.xls"), "-f", file, code=2).output
    assert [path.name for path in tmp_path.iterdir() if ".part" in path.name] == []


def test_options_before_a_subcommand_are_not_passed_over(call: Call, file: str) -> None:
    assert "stand behind it" in call("learn", "-f", file, "calibration", code=2).output


def test_many_cases_ranked_in_one_call(call: Call, file: str, tmp_path: Path) -> None:
    """The numbers of a stored case, asked for alone, are those of its line."""
    with Store(tmp_path / "cases.sqlite") as store:
        case = store.new_case(Opened("LOADER-4", "old_six", {"start_aid": "none"}, 5000, {}, "no start"))
        store.append(case, Noted("no_start", "present"), Noted("metal_in_filter", "present"))
    target = tmp_path / "open.jsonl"
    call("learn", "export", str(target), "--named")
    lines = call("causes", "--batch", str(target), "--all").stdout.splitlines()
    batch, alone = json.loads(lines[0]), values(call("causes", "--json", "--all"))
    assert batch["schema"] == "diagnose.causes-batch/1"
    assert [(one["id"], one["probability"], one["role"]) for one in batch["causes"]] == [
        (one["id"], one["probability"], one["role"]) for one in alone["causes"]
    ]
    assert (batch["other_cause"], batch["knowledge"]) == (alone["other_cause"], alone["knowledge"])


def test_a_batch_takes_a_limit_and_nothing_that_is_about_one_case(call: Call, file: str) -> None:
    first = json.loads(call("causes", "--batch", file, "-n", "2").stdout.splitlines()[0])
    assert len(first["causes"]) == 2
    assert "--batch" in call("causes", "--batch", file, "-c", "1", code=2).output
