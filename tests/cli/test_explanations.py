"""why and causes: what decides, what explains, what would change the answer, how far it can be trusted."""

import json
from pathlib import Path

import pytest
from click.testing import Result

from diagnose.report.screen_words import between, odds, percent, times
from tests.cli.conftest import Call, Shown


@pytest.fixture
def case(call: Call) -> Result:
    """No start, low pressure, two codes' worth of readings, and metal in the filter."""
    call("new", "P-1", "no start", "--family", "old_six", "--hours", "5000")
    return call("note", "rail pressure cranking 2.0 MPa", "P2291", "metal in the filter")


def test_the_story_ends_where_the_ranking_stands(case: Result, shown: Shown) -> None:
    told = shown("why", "1")
    story = told["story"]
    assert [step["finding"] for step in story] == [item["finding"] for item in shown("causes")["evidence"]]
    assert story[-1]["after"] == pytest.approx(told["cause"]["probability"], abs=1e-9)
    before = told["cause"]["before"] / (1 - told["cause"]["before"])
    for step in story:
        before *= 10 ** (step["decibans"] / 10)
        assert step["after"] == pytest.approx(before / (1 + before), abs=1e-9)


def test_why_without_a_cause_is_of_the_first(case: Result, shown: Shown) -> None:
    assert shown("why") == shown("why", "1")


def test_codes_and_best_explanation_are_told(case: Result, call: Call, shown: Shown) -> None:
    told = shown("why", "1")
    assert [code["finding"] for code in told["codes"]["seen"]] == ["pressure_code"]
    assert told["codes"]["seen"][0]["explained"]
    best = told["best_explanations"][0]
    assert told["cause"]["id"] in best["causes"]
    assert f"{times(best['factor'])} as likely to find all this with it" in flat(call("why", "1", "--all"))


def flat(result: Result) -> str:
    return " ".join(result.stdout.split())


def test_turning_points_name_the_line_that_the_number_stands_on(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start", "--family", "old_six", "--hours", "5000")
    call("note", "rail pressure cranking 2.0 MPa")
    told = [turn for cause in ("1", "2") for turn in shown("why", cause)["turning_points"]]
    assert told
    for turn in told:
        line = Path(turn["file"]).read_text(encoding="utf-8").splitlines()[turn["line"] - 1]
        assert f"{turn['value']:g}" in line
        assert turn["would_be"] != turn["value"]
    assert f"small.yaml:{told[0]['line']}" in flat(call("why", "1", "--all")) + flat(
        call("why", "2", "--all")
    )


def test_intervals_always_in_json_and_on_the_screen_where_asked_for(
    case: Result, call: Call, shown: Shown
) -> None:
    causes = shown("causes")["causes"]
    assert between(tuple(causes[0]["interval"])) not in flat(call("causes"))
    for args in (("--interval",), ("--all",)):
        causes = shown("causes", *args)["causes"]
        for cause in causes:
            low, high = cause["interval"]
            assert low <= cause["probability"] <= high
        assert between(tuple(causes[0]["interval"])) in flat(call("causes", *args))
    assert shown("why", "1")["cause"]["interval"] == pytest.approx(causes[0]["interval"])


def test_a_case_too_tangled_for_intervals_is_told_without(
    case: Result, call: Call, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("diagnose.explaining.explanation.WIDEST_OPENED", 1)
    assert all(cause["interval"] is None for cause in shown("causes", "--interval")["causes"])
    told = shown("why", "1")
    assert told["cause"]["interval"] is told["turning_points"] is None
    assert percent(told["cause"]["probability"]) in call("why", "1", "--all").stdout


def test_one_cause_rather_than_another(case: Result, call: Call, shown: Shown) -> None:
    told = shown("why", "pump_worn", "--rather-than", "seal_out")["contrast"]
    assert told["other"]["id"] == "seal_out"
    steps = sum(finding["in_turn"] for finding in told["findings"])
    assert told["now"] == pytest.approx(told["before"] + steps)
    metal = next(finding for finding in told["findings"] if finding["finding"] == "metal_in_filter")
    assert metal["decibans"] == max(finding["decibans"] for finding in told["findings"]) > 10
    assert {check["finding"] for check in told["checks"]} >= {"oil_at_bore"}
    assert "dB" not in flat(call("why", "pump_worn", "--rather-than", "seal_out"))
    text = flat(call("why", "pump_worn", "--rather-than", "seal_out", "--all"))
    assert f"strongly for ({metal['decibans']:+.0f} dB) Metal in the oil filter" in text
    assert odds(told["now"], "Oil pump worn", "Injector seal pushed out") in text
    assert "Look at the injector bores while cranking" in text


def test_without_another_there_is_no_contrast(case: Result, shown: Shown) -> None:
    assert shown("why", "1")["contrast"] is None


def test_an_unknown_other_is_a_wrong_call(case: Result, call: Call) -> None:
    assert "there is no number 99" in call("why", "1", "--rather-than", "99", code=2).stderr
    assert "against itself" in call("why", "1", "--rather-than", "1", code=2).stderr


def test_nothing_noted_can_be_explained_too(call: Call, shown: Shown) -> None:
    call("new", "P-1")
    told = shown("why", "1", "--rather-than", "2")
    assert told["story"] == told["best_explanations"] == told["turning_points"] == []
    assert told["contrast"]["now"] == told["contrast"]["before"]
    assert "Nothing that is noted." in call("why", "1", "--rather-than", "2").stdout


def test_no_number_in_the_json_is_infinite(case: Result, call: Call) -> None:
    call("note", "oil_at_bore", "--not")
    for args in (("why", "1", "--rather-than", "3"), ("causes", "--all")):
        json.loads(call(*args, "--json").stdout, parse_constant=pytest.fail)


@pytest.mark.parametrize("columns", ["60", "100"])
@pytest.mark.parametrize(
    "args", ["why 1 --rather-than 2", "causes --interval", "causes --all", "why 3", "why 3 --all"]
)
def test_no_line_is_wider_than_the_screen(
    case: Result, call: Call, monkeypatch: pytest.MonkeyPatch, args: str, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    lines = call(*args.split()).stdout.splitlines()
    assert max(map(len, lines)) <= int(columns)
    assert all(line == line.rstrip() for line in lines)


def test_numbers_in_words() -> None:
    assert between((0.001, 0.48)) == "under 1 to 48 %"
    assert between((0.302, 0.298)) == "30 %"
    assert [times(x) for x in (1.44, 38.5, 233.0, 5000.0)] == [
        "1.4 times",
        "38 times",
        "230 times",
        "> 1000 times",
    ]
    assert odds(10.8, "A", "B") == "12 to 1 for A"
    assert odds(-26, "A", "B") == "400 to 1 for B"
    assert odds(0.1, "A", "B") == "even odds"
    assert odds(55, "A", "B") == "> 1000 to 1 for A"


def test_a_cause_that_the_findings_do_not_come_from_may_have_been_brought_about(
    call: Call, shown: Shown
) -> None:
    """Debris does not lower the pressure, but a worn pump does, and half of those shed it."""
    call("new", "P-1", "--family", "old_six")
    call("note", "rail pressure cranking 2.0 MPa")
    told = shown("why", "debris")
    assert told["story"][-1]["after"] == pytest.approx(told["cause"]["probability"], abs=1e-9)
    assert told["cause"]["weights"] == [pytest.approx(told["story"][0]["decibans"])]
    assert told["cause"]["weights"][0] > 1
