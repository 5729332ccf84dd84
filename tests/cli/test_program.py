"""The program as a whole: help, exit codes, suggestions, the knowledge commands, the page of the commands."""

import json
import re
import sys
from pathlib import Path

import click
import pytest
from jsonschema import Draft202012Validator

from diagnose.cli.main import COMMANDS
from diagnose.network.pgmpy_bridge import read_file, with_plain_names
from tests.cli.conftest import FOLDER, Call, Shown
from tests.pages.commands import PAGE, commands, help_of, page

ALL = list(commands())


def test_the_page_of_the_commands_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python -m tests.pages"


@pytest.mark.parametrize(("words", "command"), ALL, ids=[" ".join(words) for words, _ in ALL])
def test_every_command_and_option_has_help_and_is_on_the_page(
    words: tuple[str, ...], command: click.Command
) -> None:
    assert f"## {' '.join(words)}\n" in page()
    assert command.get_short_help_str(200)
    listed = len(words) == 1 or not command.get_short_help_str(60).endswith("...")
    assert listed, "the first sentence is the line in the list of commands: keep it short"
    for param in command.params:
        if isinstance(param, click.Option):
            assert param.help, f"{words}: {param.name}"
    assert len(max(help_of(words, command).splitlines(), key=len)) <= 90


@pytest.mark.parametrize("words", [words for words, _ in ALL])
def test_help_is_shown_for_every_command(call: Call, words: tuple[str, ...]) -> None:
    assert call(*words[1:], "--help").stdout.startswith("Usage: ")


def test_commands_are_imported_only_when_called() -> None:
    assert set(COMMANDS) == {words[1] for words, _ in ALL if len(words) == 2}


@pytest.mark.parametrize(
    ("typed", "meant"), [("cuases", "cases, causes"), ("nxt", "next"), ("wihdraw", "withdraw")]
)
def test_an_unknown_command_is_a_wrong_call(call: Call, typed: str, meant: str) -> None:
    assert f"Did you mean: {meant}" in call(typed, code=2).stderr


def test_an_unknown_option_is_a_wrong_call(call: Call) -> None:
    assert "--json" in call("causes", "--jsn", code=2).stderr


def test_a_damaged_store_exits_1_with_its_place(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "no.sqlite"
    path.write_text("this is no database, but long enough to look at " * 9, encoding="utf-8")
    told = call("--store", str(path), "cases", code=1).stderr
    assert told.startswith(f"{path}:0:0: C001")


def test_wrong_knowledge_exits_1_with_every_problem(call: Call, shown: Shown, tmp_path: Path) -> None:
    folder = tmp_path / "wrong"
    folder.mkdir()
    text = (FOLDER / "small.yaml").read_text(encoding="utf-8")
    (folder / "small.yaml").write_text(text.replace("share: 0.05", "share: 5"), encoding="utf-8")
    told = call("knowledge", "check", str(folder), code=1).stdout
    assert re.fullmatch(r".*small\.yaml:\d+:\d+: K\d+ .*", told.splitlines()[0])
    problems = shown("knowledge", "check", str(folder), code=1)["problems"]
    assert [str(problem["line"]) for problem in problems] == [
        line.split(":")[1] for line in told.splitlines()
    ]
    assert "K0" in call("--knowledge", str(folder), "cases", "-f", str(folder / "small.yaml"), code=1).stderr


def test_sound_knowledge_is_counted(shown: Shown) -> None:
    told = shown("knowledge", "check")
    assert told["problems"] == []
    assert told["counts"]["causes"] == 5


@pytest.mark.parametrize(
    "id",
    ["pump_worn", "pressure_low", "battery_rest", "look_under_cover", "reseal", "cover_off", "jet", "duty",
     "old_six", "small"],
)  # fmt: skip
def test_every_kind_of_record_can_be_shown(call: Call, shown: Shown, id: str) -> None:
    told = shown("knowledge", "show", id)
    assert told["record"]["id"] == id
    assert told["record"]["name"] in " ".join(call("knowledge", "show", id).stdout.split())


def test_show_tells_the_source_that_names_a_link(call: Call, shown: Shown, tmp_path: Path) -> None:
    overlay = tmp_path / "overlay.yaml"
    overlay.write_text(
        "sources: {handbook: {title: A handbook, confidence: read}}\n"
        "causes: {pump_worn: {leads_to: {debris: {p: 0.5, source: handbook}}}}\n",
        encoding="utf-8",
    )
    text = " ".join(call("--overlay", str(overlay), "knowledge", "show", "pump_worn").stdout.split())
    assert "0.5 10 shop leads to debris (named by handbook)" in text
    source = " ".join(call("--overlay", str(overlay), "knowledge", "show", "handbook").stdout.split())
    assert "names Oil pump worn leads to Debris in the gallery (debris)" in source
    told = json.loads(call("--overlay", str(overlay), "knowledge", "show", "pump_worn", "--json").stdout)
    assert {one["label"]: one["source"] for one in told["numbers"]}["leads to debris"] == "handbook"
    assert [link["source"] for link in told["record"]["leads_to"]] == ["", "handbook", ""]


def test_show_of_nothing_known_suggests(call: Call) -> None:
    assert "pump_worn" in call("knowledge", "show", "pump_worm", code=2).stderr


def test_find(call: Call, shown: Shown) -> None:
    assert shown("knowledge", "find", "white", "smoke")["matches"][0]["id"] in ("steam_white", "smoke_warm")
    assert "comes near “xyzzy”" in call("knowledge", "find", "xyzzy", code=2).stderr


def test_schema_accepts_the_knowledge_and_is_a_schema(call: Call) -> None:
    schema = json.loads(call("knowledge", "schema").stdout)
    Draft202012Validator.check_schema(schema)
    assert "causes" in schema["properties"]


@pytest.mark.parametrize(("kind", "name"), [("bif", "x.bif"), ("xmlbif", "x.xmlbif")])
def test_export_can_be_read_back(call: Call, tmp_path: Path, kind: str, name: str) -> None:
    path = tmp_path / name
    told = call("knowledge", "export", "--format", kind, "--family", "new_six", str(path)).stdout
    network = with_plain_names(read_file(path))
    assert {"pump_worn", "heater_dead", "no_start"} <= set(network.names)
    assert int(told.split()[-2]) <= len(network.names)


def test_export_wants_a_fitting_name(call: Call, tmp_path: Path) -> None:
    call("knowledge", "export", "--format", "bif", str(tmp_path / "x.xmlbif"), code=2)


def test_export_without_pgmpy_says_how_to_get_it(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in [name for name in sys.modules if name.split(".")[0] == "pgmpy"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "pgmpy", None)
    told = call("knowledge", "export", "--format", "bif", str(tmp_path / "x.bif"), code=2)
    assert "diesel-diagnose[pgmpy]" in told.stderr


def test_version(call: Call) -> None:
    assert "diagnose" in call("--version").stdout
