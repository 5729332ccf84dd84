"""The commands of the studies, as a user calls them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from diagnose.cli.main import program
from tests.study.small import SMALL


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    where = tmp_path / "knowledge"
    where.mkdir()
    (where / "small.yaml").write_text(SMALL, encoding="utf-8")
    monkeypatch.setenv("DIAGNOSE_KNOWLEDGE", str(where))
    monkeypatch.setenv("DIAGNOSE_CASES", str(tmp_path / "cases.sqlite"))
    monkeypatch.setenv("COLUMNS", "80")
    return where


def call(*args: str, code: int = 0) -> Result:
    result = CliRunner().invoke(program, args)
    assert result.exit_code == code, result.output
    return result


def values(*args: str) -> Any:
    return json.loads(call(*args, "--json").stdout)


def test_show_lists_every_number_with_basis_and_size(folder: Path) -> None:
    text = call("knowledge", "show", "filter_plugged").stdout
    assert " 0.05    40 handbook  share of machines in service that have it" in text
    assert "  0.9    10 judgement leads to starved" in text
    found = values("knowledge", "show", "filter_plugged")["numbers"]
    assert [(one["number"]["value"], one["number"]["ess"]) for one in found] == [
        (0.05, 40),
        (0.9, 10),
        (0.8, 10),
    ]


def test_show_marks_the_numbers_of_the_shop(folder: Path) -> None:
    overlay = folder.parent / "own.yaml"
    overlay.write_text("causes:\n  filter_plugged:\n    share: 0.06\n", encoding="utf-8")
    text = call("--overlay", str(overlay), "knowledge", "show", "filter_plugged").stdout
    assert " 0.06    10 shop      share of machines in service that have it" in text


def test_problems_of_the_overlay_are_told_with_their_place(folder: Path) -> None:
    overlay = folder.parent / "own.yaml"
    overlay.write_text("causes:\n  filter_plugged:\n    share: probable\n", encoding="utf-8")
    said = call("--overlay", str(overlay), "knowledge", "check", code=1).stdout
    assert said.startswith(f"{overlay}:3:12: K012 ")
    assert call("--overlay", str(overlay), "causes", "-f", str(overlay), code=1).stderr


def test_deep_check_in_words_and_values(folder: Path) -> None:
    text = call("knowledge", "check", "--deep", "--samples", "5").stdout
    assert "Pairs that nothing separates: 1" in text
    assert "open_filter_slowly (30 min): open_filter shows as much in 10 min" in text
    found = values("knowledge", "check", "--deep")
    assert found["problems"] == []
    assert found["deep"]["samples"] == 20
    assert [one["cause"] for one in found["deep"]["never_leading"]] == ["second_twin"]
    assert found["deep"]["pairs"] == []
    assert values("knowledge", "check", "--full", "--samples", "2")["deep"]["pairs"]


def test_graph_to_the_screen_and_to_a_file(folder: Path) -> None:
    assert call("knowledge", "graph", "starved").stdout.startswith("<svg")
    file = folder.parent / "a.svg"
    said = call("knowledge", "graph", "starved", "--depth", "2", "-o", str(file)).stdout
    assert "records" in said
    assert file.read_text(encoding="utf-8").startswith("<svg")
    assert values("knowledge", "graph", "starved")["centre"] == "starved"


def test_graph_of_nothing_known_names_what_comes_near(folder: Path) -> None:
    assert "pump_worn" in call("knowledge", "graph", "pump_wornn", code=2).output
    assert "cannot be written" in call("knowledge", "graph", "starved", "-o", "/no/such/a.svg", code=2).output


def test_stress_of_a_case(folder: Path) -> None:
    call("new", "PUMP-1", "stalls")
    call("note", "filter_found_dirty")
    text = call("knowledge", "stress", "-n", "2").stdout
    assert "Leading: Filter plugged (filter_plugged)" in text
    found = values("knowledge", "stress")
    assert found["leading"] == "filter_plugged"
    swings = [one["swing"] for one in found["numbers"]]
    assert swings == sorted(swings, reverse=True)
    assert {one["number"]["place"]["file"] for one in found["numbers"]} == {str(folder / "small.yaml")}
