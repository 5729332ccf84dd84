"""Nothing that came from outside forges a line or reaches the terminal raw: arguments, files and their names."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Call
from tests.test_plain import obeyed

FORGED = "STOP NOW nothing: RUN ON"
HOSTILE = f"D-07\n{FORGED}\n\x1b[2J\x1b]0;x\x07\x9b31m\u202e"
YAML = f'"D-07\\n\\n{FORGED}\\n\\nrest"'


def harmless(text: str) -> None:
    assert obeyed(text) <= {"\n"}
    assert not any(line.lstrip().startswith(FORGED) for line in text.splitlines())


@pytest.mark.parametrize(
    "command", [("cases",), ("cases", "1"), ("causes",), ("next",), ("report",), ("repair",)]
)
def test_of_a_machine_and_complaint(call: Call, command: tuple[str, ...]) -> None:
    call("new", HOSTILE, HOSTILE)
    call("note", "rail_pressure = low", "--text", HOSTILE)
    harmless(call(*command).output)


@pytest.mark.parametrize("command", [("cases",), ("cases", "1"), ("causes",), ("next",), ("report",)])
def test_json_too(call: Call, command: tuple[str, ...]) -> None:
    call("new", HOSTILE, HOSTILE)
    json.loads(call(*command, "--json").stdout)
    harmless(call(*command, "--json").stdout)


@pytest.mark.parametrize(
    "words",
    [("note", FORGED + "\x1b[2J"), ("withdraw", HOSTILE), ("close", HOSTILE), (HOSTILE,),
     ("causes", "--" + HOSTILE),
     ("note", "--check", HOSTILE), ("new", "D", "--fact", HOSTILE), ("--shop", HOSTILE, "next")],
)  # fmt: skip
def test_of_what_is_refused(call: Call, words: tuple[str, ...]) -> None:
    call("new", "D-07")
    harmless(call(*words, code=2).output)


def test_of_a_scenario_and_its_name(call: Call, tmp_path: Path) -> None:
    file = tmp_path / f"x\n{FORGED}\x1b[2J.yaml"
    file.write_text(
        f"scenario: s\ntitle: {YAML}\nmachine: {{number: {YAML}, family: new_six}}\ncomplaint: {YAML}\n"
    )
    call("causes", "-f", str(file))
    harmless(call("causes", "-f", str(file)).output)
    harmless(call("cases", "-f", str(file)).output)
    file.write_text(f"{YAML}: {YAML}\n")
    harmless(call("causes", "-f", str(file), code=1).output)


def test_of_a_shop_file(call: Call, tmp_path: Path) -> None:
    shop = tmp_path / f"shop\n{FORGED}.yaml"
    shop.write_text(f"currency: {YAML}\n")
    call("new", "D-07")
    call("note", "rail_pressure = low")
    harmless(call("--shop", str(shop), "repair").output)
    shop.write_text(f"{YAML}: 1\n")
    harmless(call("--shop", str(shop), "repair", code=1).output)


def test_of_a_bus_log_and_its_name(call: Call, tmp_path: Path) -> None:
    log = tmp_path / f"x\n{FORGED}\x1b.log"
    log.write_text("(1.0) can0 18FECA00#04FFA4001201FFFF\n")
    harmless(call("codes", str(log)).output)
    log.write_bytes(HOSTILE.encode("utf-8", "surrogatepass"))
    harmless(call("codes", str(log), code=1).output)
