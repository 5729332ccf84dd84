"""new, note, withdraw, close, reopen, cases: what they record, and that nothing is recorded by halves."""

from pathlib import Path

import pytest

from diagnose.cli import asking
from tests.cli.conftest import Call, Shown

SCENARIO = """
scenario: seal
title: A seal for the tests
machine: {number: L-9, family: old_six, hours: 4000}
complaint: no start
events:
  - note: no_start
  - reading: rail pressure cranking
    value: 2.0 MPa
  - code: P2291
"""


@pytest.fixture
def scenario(tmp_path: Path) -> str:
    path = tmp_path / "seal.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return str(path)


def kinds(shown: Shown, number: str = "1") -> list[str]:
    return [event["kind"] for event in shown("cases", number)["events"]]


def test_new_keeps_machine_facts_and_notes_a_clear_complaint(shown: Shown) -> None:
    about = (
        "--family",
        "new_six",
        "--hours",
        "5200",
        "--fact",
        "duty=Long Haul",
        "--renewed",
        "pump_worn=40",
    )
    opened, noted = shown("new", "P-1", "cranks", "but", "no", "start", *about)["events"]
    assert opened["facts"] == {"start_aid": "heater", "duty": "long haul"}
    assert (opened["hours"], opened["renewed"]) == (5200, {"pump_worn": 40})
    assert opened["complaint"] == "cranks but no start"
    assert (noted["finding"], noted["state"]) == ("no_start", "present")


def test_new_notes_each_clear_part_and_says_what_stays_words(call: Call, shown: Shown) -> None:
    told = shown("new", "P-1", "no start, white smoke", code=3)
    assert [event["kind"] for event in told["events"]] == ["opened", "noted"]
    assert "smoke_warm = present" in {choice["note"] for choice in told["open"][0]["choices"]}
    assert "white smoke" in call("cases", "1").stdout


def test_new_without_a_machine_is_a_wrong_call(call: Call) -> None:
    assert "machine's number" in call("new", code=2).stderr


def test_new_on_a_terminal_asks_for_what_is_missing(
    call: Call, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    told = call("new", typed="P-7\n9\n2\nmany\n5200\nwhite smoke\n2\n")
    assert "Please give a number from 1 to 2" in told.stderr
    assert "not a number of hours" in told.stderr
    opened, noted = shown("cases", "1")["events"]
    assert (opened["machine"], opened["family"], opened["hours"]) == ("P-7", "new_six", 5200)
    assert (noted["finding"], noted["text"]) == ("smoke_warm", "white smoke")


def test_a_scenario_becomes_a_stored_case_that_says_the_same(shown: Shown, scenario: str) -> None:
    by_file = shown("causes", "-f", scenario)
    shown("new", "--scenario", scenario)
    stored = shown("causes")
    assert stored["causes"] == by_file["causes"]
    assert [event["kind"] for event in shown("cases", "1")["events"]] == ["opened", "noted", "noted", "noted"]


def test_a_scenario_brings_its_own_machine(call: Call, scenario: str) -> None:
    call("new", "P-1", "--scenario", scenario, code=2)


def test_a_bad_scenario_names_file_line_and_column(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(SCENARIO.replace("note: no_start", "note: no_stort"), encoding="utf-8")
    assert f"{path}:7:11: S001" in call("causes", "-f", str(path), code=1).stderr


def test_note_keeps_confidence_state_and_text(shown: Shown) -> None:
    shown("new", "P-1")
    (event,) = shown("note", "--likely", "rail_pressure", "--state", "none")["events"]
    assert (event["state"], event["confidence"], event["text"]) == ("none", "likely", "rail_pressure")


def test_note_takes_several_texts_in_one_call(shown: Shown) -> None:
    shown("new", "P-1")
    events = shown("note", "no start", "P2291", "battery at rest 12.1 V", "white smoke warm")["events"]
    assert [event["finding"] for event in events] == [
        "no_start",
        "pressure_code",
        "battery_rest",
        "smoke_warm",
    ]
    assert [event["sequence"] for event in events] == [2, 3, 4, 5]


def test_what_is_clear_is_recorded_and_the_rest_reported_with_exit_code_3(call: Call, shown: Shown) -> None:
    call("new", "P-1")
    told = call("note", "no start", "white smoke", code=3)
    assert "White smoke while cranking: steam_white" in told.stdout
    assert kinds(shown) == ["opened", "noted"]
    again = shown("note", "white smoke", code=3)
    assert (again["events"], again["open"][0]["text"]) == ([], "white smoke")
    assert kinds(shown) == ["opened", "noted"]


def test_an_unclear_text_is_asked_about_on_a_terminal(
    call: Call, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    call("new", "P-1")
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    call("note", "white smoke", typed="1\n")
    call("note", "--not", "battery voltage", typed="1\n")
    call("note", "rail_pressure", typed="3\n")
    seen = [(event["finding"], event["state"]) for event in shown("cases", "1")["events"][1:]]
    assert seen[0] in [("steam_white", "present"), ("smoke_warm", "present")]
    assert seen[1][1] == "normal"
    assert seen[2] == ("rail_pressure", "none")


def test_note_records_work_before_what_was_then_seen(shown: Shown) -> None:
    shown("new", "P-1", "no start")
    shown("note", "no start", "--repaired", "replace_pump", "--check", "cut_filter", "--opened", "cover_off")
    assert kinds(shown)[2:] == ["repaired", "opened_up", "checked", "noted"]
    ranking = shown("causes")
    assert [item["epoch"] for item in ranking["evidence"] if item["finding"] == "no_start"][-1] in (0, 1)


def test_note_learns_about_the_machine(shown: Shown) -> None:
    shown("new", "P-1", "--family", "new_six")
    shown("note", "--fact", "duty=off road", "--hours", "90")
    assert kinds(shown) == ["opened", "fact"]


def test_a_repaired_cause_counts_as_dealt_with(shown: Shown) -> None:
    shown("new", "P-1", "no start")
    before = {cause["id"]: cause["probability"] for cause in shown("causes")["causes"]}
    shown("note", "--repaired", "seal_out")
    after = {cause["id"]: cause["probability"] for cause in shown("causes")["causes"]}
    assert after["seal_out"] < before["seal_out"] / 2


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("note",), "Nothing was noted"),
        (("note", "xyzzy"), "nothing that the knowledge knows"),
        (("note", "no start", "white smoke warm", "--state", "present"), "--state goes with one finding"),
        (("note", "--check", "cut_gallery"), "open_gallery"),
        (("note", "--opened", "bonnet"), "is no access state"),
        (("note", "--repaired", "pump"), "replace_pump"),
        (("note", "--fact", "duty=flying"), "off road"),
        (("note", "--fact", "duty"), "fact=value"),
        (("note", "--hours", "many"), "not a number of hours"),
        (("withdraw", "9"), "no entry 9"),
        (("causes", "-c", "7"), "no case 7"),
        (("close", "pump_warn"), "pump_worn"),
        (("close", "pump_worn=guessed"), "by-sight, by-repair, assumed"),
        (("reopen",), "not closed"),
    ],
)
def test_wrong_calls_exit_2_say_why_and_record_nothing(
    call: Call, shown: Shown, args: tuple[str, ...], says: str
) -> None:
    call("new", "P-1")
    assert says in call(*args, code=2).stderr
    assert kinds(shown) == ["opened"]


@pytest.mark.parametrize("command", ["note x", "causes", "next", "why 1", "withdraw 1", "close", "reopen"])
def test_without_any_case_the_way_to_start_one_is_told(call: Call, command: str) -> None:
    assert "diagnose new" in call(*command.split(), code=2).stderr


def test_withdraw_takes_back_and_withdrawing_it_restores(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start")
    with_it = shown("causes")["causes"]
    call("note", "metal in the filter")
    call("withdraw", "3")
    assert shown("causes")["causes"] == with_it
    assert "(withdrawn)" in call("cases", "1").stdout
    call("withdraw", "3", code=2)
    call("withdraw", "4")
    assert shown("causes")["causes"] != with_it


def test_close_and_reopen(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start")
    (event,) = shown("close", "pump_worn", "debris", "--confirmed", "by-sight", "--proven", "--text", "ran")[
        "events"
    ]
    assert (event["causes"], event["confirmed"], event["proven"]) == (
        ["pump_worn", "debris"],
        "by sight",
        True,
    )
    assert "closed" in call("cases").stdout
    assert "This case is closed" in call("causes").stdout
    call("close", code=2)
    call("reopen", "came", "back")
    assert "This case is closed" not in call("causes").stdout
    assert [one["closed"] for one in shown("cases")["cases"]] == [False]


def test_each_cause_can_be_confirmed_in_its_own_way(shown: Shown) -> None:
    shown("new", "P-1", "no start")
    told = shown(
        "close", "pump_worn", "debris=assumed", "--confirmed", "by-sight", "--repaired", "replace_pump"
    )
    mended, closed = told["events"]
    assert (mended["kind"], mended["repairs"]) == ("repaired", ["replace_pump"])
    assert (closed["confirmed"], closed["otherwise"]) == ("by sight", {"debris": "assumed"})
    assert (
        "Oil pump worn (by sight) and Debris in the gallery (assumed); repair not proven" in told["words"][1]
    )
    assert told["words"][2].startswith("Not recorded since the repair: whether it is gone")


def test_closing_without_a_repair_says_that_none_is_recorded(shown: Shown) -> None:
    shown("new", "P-1", "no start")
    assert "No repair is recorded" in shown("close", "pump_worn")["words"][-1]


def test_proven_though_the_complaint_is_noted_as_there_is_pointed_out(shown: Shown) -> None:
    shown("new", "P-1", "no start")
    shown("note", "--repaired", "replace_pump", "no start")
    assert "Still recorded as there" in shown("close", "pump_worn", "--proven")["words"][-1]


def test_closing_on_a_terminal_asks_for_what_is_missing(
    call: Call, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    call("new", "P-1", "no start")
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    typed = "pump_worn, debris\n1\n3\nreplace the oil pump, 2\nn\ny\n"
    told = call("close", "--text", "ran an hour", typed=typed)
    assert "prove it: Rail pressure rises" in told.stderr
    _, _, mended, gone, closed = shown("cases", "1")["events"]
    assert mended["repairs"] == ["replace_pump", "flush_gallery"]
    assert (gone["finding"], gone["state"]) == ("no_start", "absent")
    assert (closed["causes"], closed["confirmed"]) == (["pump_worn", "debris"], "by sight")
    assert (closed["otherwise"], closed["proven"], closed["text"]) == (
        {"debris": "assumed"},
        True,
        "ran an hour",
    )


def test_what_is_said_is_not_asked_for(call: Call, shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    call("new", "P-1", "no start")
    call("note", "--repaired", "replace_pump", "--not", "no start")
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    call("close", "pump_worn=by-repair", "--not-proven", typed="")
    assert shown("cases", "1")["events"][-1]["confirmed"] == "by repair"


def test_an_answer_that_cannot_be_closes_nothing(
    call: Call, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    call("new", "P-1", "no start")
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    assert "no number 9" in call("close", typed="9\n", code=2).stderr
    assert kinds(shown) == ["opened", "noted"]


def test_enter_alone_closes_nothing_and_a_reason_closes_without_a_cause(
    call: Call, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    call("new", "P-1", "no start")
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    assert "Nothing was closed" in call("close", typed="\n\n", code=2).stderr
    assert kinds(shown) == ["opened", "noted"]
    call("close", typed="\ncustomer took it back\n")
    closed = shown("cases", "1")["events"][-1]
    assert (closed["kind"], closed["causes"], closed["text"]) == ("closed", [], "customer took it back")


@pytest.mark.parametrize(
    ("args", "comeback", "more"),
    [((), True, []), (("--too-early",), False, []), (("--hours", "5260"), True, ["fact"])],
)
def test_a_comeback_is_told_from_a_case_closed_too_early(
    shown: Shown, args: tuple[str, ...], comeback: bool, more: list[str]
) -> None:
    shown("new", "P-1", "no start")
    shown("close", "pump_worn")
    reopened, *others = shown("reopen", "no start again", *args)["events"]
    assert (reopened["comeback"], reopened["text"]) == (comeback, "no start again")
    assert [event["kind"] for event in others] == more


def test_cases_lists_the_latest_first(call: Call) -> None:
    assert "No case yet" in call("cases").stdout
    call("new", "P-1", "no start")
    call("new", "P-2", "metal in the filter")
    lines = call("cases").stdout.splitlines()
    assert lines[0].startswith("2 open")
    assert [line for line in lines if line.startswith("1 open")]
    assert not lines[1].startswith("1")


def test_the_last_case_is_the_default_and_another_can_be_chosen(shown: Shown, call: Call) -> None:
    call("new", "P-1")
    call("new", "P-2")
    assert shown("note", "no start")["case"] == 2
    assert shown("note", "-c", "1", "no start")["case"] == 1


def test_every_event_names_the_knowledge_it_was_recorded_under(shown: Shown) -> None:
    shown("new", "P-1", "no start")
    shown("note", "P2291", "SPN 97 FMI 4", "--check", "look_under_cover", "--hours", "9")
    shown("note", "--repaired", "reseal")
    shown("close", "seal_out")
    shown("reopen")
    shown("withdraw", "2")
    events = shown("cases", "1")["events"]
    assert {event["knowledge"] for event in events} == {shown("causes")["knowledge"]}
