"""What is said is kept, a remark whatever it was said along with; limits of options hold for files."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diagnose.learning.jsonl import NoLesson, from_json
from diagnose.learning.tables import guarded, unguarded
from tests.cli.conftest import Call

REMARK = "heard it knock once"


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("rail_pressure = low",),
        ("metal in the oil filter",),
        ("SPN 164 FMI 18",),
        ("battery at rest 12.4 V",),
        ("--not", "steam_white"),
        ("--opened", "cover_off"),
        ("--check", "cut_filter"),
        ("--repaired", "replace_pump"),
        ("--hours", "500"),
        ("--fact", "duty=off road"),
        ("--opened", "cover_off", "metal in the oil filter"),
    ],
)
def test_a_remark_is_kept_whatever_it_goes_with(call: Call, words: tuple[str, ...]) -> None:
    call("new", "D-07")
    call("note", *words, "--text", REMARK)
    events = json.loads(call("cases", "1", "--json").stdout)["events"]
    assert [event.get("text") for event in events].count(REMARK) == 1
    assert REMARK in " ".join(call("cases", "1").output.split())


@pytest.mark.parametrize("words", [("withdraw", "2"), ("close", "pump_worn")])
def test_so_it_is_with_other_commands(call: Call, words: tuple[str, ...]) -> None:
    call("new", "D-07")
    call("note", "rail_pressure = low")
    call(*words, "--text", REMARK)
    assert REMARK in " ".join(call("cases", "1").output.split())


def test_a_remark_of_blanks_is_none(call: Call) -> None:
    call("new", "D-07")
    call("note", "--text", "  ", code=2)


@pytest.mark.parametrize("hours", ["1e308", "1" + "0" * 400, "10000001", "-1", ".nan", ".inf"])
def test_hours_of_a_file_have_the_limits_of_the_option(call: Call, tmp_path: Path, hours: str) -> None:
    call("new", "D-07", "--hours", hours, code=2)
    scenario = tmp_path / "s.yaml"
    scenario.write_text(
        f"scenario: s\ntitle: t\nmachine: {{number: D, family: new_six, hours: {hours}}}\ncomplaint: c\n"
    )
    assert "s.yaml:3:" in call("causes", "-f", str(scenario), code=1).output
    number = {".nan": "NaN", ".inf": "Infinity"}.get(hours, hours)
    line = f'{{"format": "diagnose.case/1", "machine": {{"hours": {number}}}}}'
    with pytest.raises(NoLesson, match="hours"):
        from_json(line)


@pytest.mark.parametrize("rate", ["1e308", "1e10", "-1", "9" * 401])
def test_rates_have_limits(call: Call, tmp_path: Path, rate: str) -> None:
    shop = tmp_path / "shop.yaml"
    shop.write_text(f"labour: {rate}\n")
    call("new", "D-07")
    call("note", "rail_pressure = low")
    assert "shop.yaml:1:9" in call("--shop", str(shop), "repair", code=1).output


@pytest.mark.parametrize(
    "words", [("plan", "--think", "nan"), ("plan", "--think", "inf"), ("learn", "--fleet-hours", "nan")]
)
def test_what_is_no_number_is_refused(call: Call, words: tuple[str, ...]) -> None:
    call("new", "D-07")
    call(*words, code=2)


@pytest.mark.parametrize("cell", ["=1+1", "+x", "-x", "@x", "'=1", "''", "'"])
def test_a_cell_is_no_formula_and_comes_back(cell: str) -> None:
    """What a spreadsheet takes for a formula: https://owasp.org/www-community/attacks/CSV_Injection"""
    assert guarded(cell)[0] == "'"
    assert unguarded(guarded(cell)) == cell


@pytest.mark.parametrize("cell", ["", "-5.0", "+3", "x=1", "1e5"])
def test_any_other_cell_stays(cell: str) -> None:
    assert guarded(cell) == cell == unguarded(cell)


def test_a_named_export_guards_formulas_and_reads_them_again(call: Call, tmp_path: Path) -> None:
    call("new", "=HYPERLINK(0)", "@SUM(1)")
    table, lines = tmp_path / "x.csv", tmp_path / "x.jsonl"
    call("learn", "export", "--named", str(table))
    assert "'=HYPERLINK" in table.read_text()
    call("learn", "export", "--named", "-f", str(table), str(lines))
    assert json.loads(lines.read_text())["machine"]["number"] == "=HYPERLINK(0)"


def test_a_salt_that_can_be_guessed_is_refused_with_a_better_one(call: Call, tmp_path: Path) -> None:
    call("new", "D-07")
    said = call("learn", "export", str(tmp_path / "x.jsonl"), "--salt", "depot", code=2).output
    salt = said.split()[-1]
    assert len(salt) == 32
    call("learn", "export", str(tmp_path / "x.jsonl"), "--salt", salt)
    call("learn", "export", str(tmp_path / "y.jsonl"), "--salt", salt)
    assert (tmp_path / "x.jsonl").read_text() == (tmp_path / "y.jsonl").read_text()
