"""The command codes as a user calls it, with the shipped knowledge."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from diagnose.cli.main import program
from tests.codes.bus import CODE, alone, bam, payload, single, write
from tests.codes.test_parameters import VOLTS, rail, speed

Run = Callable[..., str]
NO_START: list[CODE] = [(164, 18, 3), (636, 2, 1), (520200, 3, 2)]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("DIAGNOSE_CASES", str(tmp_path / "cases.sqlite"))
    monkeypatch.setenv("COLUMNS", "80")

    def call(*args: str, code: int = 0) -> str:
        result = CliRunner().invoke(program, args)
        assert result.exit_code == code, result.output
        return result.output

    return call


def shown(run: Run, *args: str) -> dict[str, Any]:
    values: dict[str, Any] = json.loads(run(*args, "--json"))
    assert values["schema"] == "diagnose.codes/1"
    return values


@pytest.fixture
def log(tmp_path: Path) -> str:
    frames = [*bam(0, payload(NO_START), 1700000000.0), *bam(0, payload(NO_START), 1700000001.0)]
    path = write(tmp_path / "plough.log", [*frames, single(11, alone([]), 1700000002.0)])
    path.write_text(path.read_text() + "(1700000003.0) can0 123#00\nhello\n")
    return str(path)


def cranking(tmp_path: Path, rpm: float, mpa: float, volts: float = 10.5, seconds: int = 8) -> str:
    battery = b"\xff" * 4 + round(volts / 0.05).to_bytes(2, "little") + b"\xff\xff"
    frames = [speed(0, 0.0)]
    for tenth in range(1, 10 * seconds + 1):
        at = tenth / 10
        frames += [speed(rpm, at), rail(mpa, at + 0.01), single(0, battery, at + 0.02, VOLTS)]
    return str(write(tmp_path / "crank.log", frames))


def test_codes_are_listed_by_module_with_what_they_stand_for(run: Run, log: str) -> None:
    text = run("codes", log)
    assert "address 0 (usually engine 1)" in text
    assert "SPN 164 FMI 18" in text
    assert "in 2 lists, count 3" in text
    assert "2023-11-14 22:13:20" in text
    assert "No active code (1 list)" in text
    assert "1 11-bit frames and 1 lines that are no frame" in " ".join(text.split())
    assert "Circuit code" in text  # the maker's own number, by its kind of fault
    assert all(len(line) <= 80 for line in text.splitlines())


def test_json_has_all_of_it(run: Run, log: str) -> None:
    values = shown(run, "codes", log)
    engine, brakes = values["modules"]
    assert [one["code"] for one in engine["codes"]] == ["SPN 164 FMI 18", "SPN 636 FMI 2", "SPN 520200 FMI 3"]
    assert [bool(one["findings"]) for one in engine["codes"]] == [True, True, True]
    assert brakes["lists"][0]["state"] == "no code"
    assert values["skipped"] == {"11-bit frames": 1, "lines that are no frame": 1}
    assert engine["codes"][0]["sightings"] == [
        {
            "status": "active",
            "first": 1700000000.1,
            "last": 1700000001.1,
            "times": 2,
            "count": 3,
            "still": True,
        }
    ]


def test_note_adds_findings_by_code_or_by_kind_of_fault(run: Run, log: str) -> None:
    run("new", "D-07", "cranks but does not start", "--family", "hydraulic_inline_six")
    noted = shown(run, "codes", log, "--note")["noted"]
    kinds = [(event["kind"], event["code"]) for event in noted["events"]]
    assert ("noted", "SPN 520200 FMI 3") in kinds
    assert ("noted", "SPN 164 FMI 18") in kinds
    assert all("plough.log" in event["text"] for event in noted["events"])
    causes = json.loads(run("causes", "--json"))
    assert "SPN 164 FMI 18" in json.dumps(causes["evidence"])


def test_a_second_note_repeats_nothing(run: Run, log: str) -> None:
    run("new", "D-07", "cranks but does not start")
    run("codes", log, "--note")
    again = shown(run, "codes", log, "--note")
    assert again["noted"]["events"] == []
    assert len(again["left_out"]) == 3


def test_note_without_a_case_and_a_case_without_note_are_told(run: Run, log: str) -> None:
    assert "no case yet" in run("codes", log, "--note", code=2)
    assert "--note" in run("codes", log, "-c", "1", code=2)


def test_a_code_of_an_older_packing_is_not_noted_until_the_version_is_named(run: Run, tmp_path: Path) -> None:
    data = b"\x04\xff" + bytes.fromhex("008314") + b"\x81\xff\xff"
    log = str(write(tmp_path / "old.log", [single(0, data, 1.0)]))
    run("new", "D-07", "no start")
    text = run("codes", log, "--note")
    assert "any of these" in text
    assert "not certain which code" in text
    assert shown(run, "codes", log, "--note")["noted"]["events"] == []
    named = shown(run, "codes", log, "--note", "--legacy", "1")
    assert [one["code"] for one in named["modules"][0]["codes"]] == ["SPN 1048 FMI 20"]
    assert len(named["noted"]["events"]) == 1


def test_readings_while_cranking_go_into_the_case(run: Run, tmp_path: Path) -> None:
    log = cranking(tmp_path, 190, 1.1)
    assert "while cranking" in run("codes", log, "--readings")
    run("new", "D-07", "no start")
    events = shown(run, "codes", log, "--readings", "--note")["noted"]["events"]
    seen = {e["finding"]: (e["state"], round(e["value"], 1)) for e in events if "finding" in e}
    assert [e["facts"] for e in events if "facts" in e] == [{"system_voltage": "12 V"}]
    assert seen["actuation_pressure_cranking"] == ("low", 1.1)
    assert seen["cranking_rpm_low"] == ("absent", 190.0)
    assert seen["module_volts_low_cranking"] == ("absent", 10.5)


def test_a_log_of_24_volts_says_so_and_is_read_by_its_limits(run: Run, tmp_path: Path) -> None:
    run("new", "D-07", "no start")
    log = cranking(tmp_path, 190, 1.1, 17.5, 8)
    events = shown(run, "codes", log, "--readings", "--note")["noted"]["events"]
    seen = {event["finding"]: event["state"] for event in events if "finding" in event}
    assert [event["facts"] for event in events if "facts" in event] == [{"system_voltage": "24 V"}]
    assert seen["module_volts_low_cranking"] == "present"


def test_a_voltage_that_does_not_tell_is_kept(run: Run, tmp_path: Path) -> None:
    run("new", "D-07", "no start")
    events = shown(run, "codes", cranking(tmp_path, 190, 1.1, 14.0, 8), "--readings", "--note")["noted"][
        "events"
    ]
    assert [event["quantity"] for event in events if "quantity" in event] == ["module voltage cranking"]
    assert not any(event.get("finding") == "module_volts_low_cranking" for event in events)


@pytest.mark.parametrize(
    ("seconds", "volts", "fact", "why"),
    [(3, 10.5, "12 V", "no 5 s of cranking"), (8, 21.0, "12 V", "does not fit this machine")],
)
def test_readings_that_do_not_say_enough_are_left_out_with_a_reason(
    run: Run, tmp_path: Path, seconds: int, volts: float, fact: str, why: str
) -> None:
    log = cranking(tmp_path, 190, 1.1, volts, seconds)
    run("new", "D-07", "no start", "--fact", f"system_voltage={fact}")
    values = shown(run, "codes", log, "--readings", "--note")
    assert any(why in words for words in values["left_out"])
    assert not any(event.get("finding") == "module_volts_low_cranking" for event in values["noted"]["events"])


def test_without_readings_none_are_read(run: Run, tmp_path: Path) -> None:
    assert shown(run, "codes", cranking(tmp_path, 190, 1.1))["readings"] == []


def test_no_list_at_all_says_nothing_of_the_modules(run: Run, tmp_path: Path) -> None:
    assert "that says nothing of the modules" in run("codes", cranking(tmp_path, 190, 1.1))


def test_a_file_that_is_no_log_is_wrong_data(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "note.txt"
    path.write_text("hello\n")
    assert "L002 holds no CAN frame" in run("codes", str(path), code=1)
