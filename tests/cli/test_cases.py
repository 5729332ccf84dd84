"""The list of cases: by machine, number or words; what leads, what is next, what it waits for, who and when."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.cases.events import Closed, Noted, Opened, to_json
from diagnose.cases.kept_advice import KeptAdvice, recall, remember
from diagnose.cases.store import Store
from tests.cli.conftest import Call, Shown


@pytest.fixture
def three(call: Call) -> None:
    call("new", "P-1", "no start", "--family", "old_six")
    call("new", "P-2", "no start", "--family", "old_six")
    call("new", "P-1", "white smoke when warm", "--family", "old_six")


def numbers(shown: Shown, *args: str) -> list[int]:
    return [one["number"] for one in shown("cases", *args)["cases"]]


def flat(call: Call, *args: str) -> str:
    return " ".join(call(*args).stdout.split())


def test_open_ones_come_first_and_closed_ones_can_be_reached(three: None, call: Call, shown: Shown) -> None:
    call("close", "-c", "3", "pump_worn", "--not-proven")
    assert numbers(shown)[-1] == 3
    assert "it was: Oil pump worn" in call("cases").stdout
    assert shown("cases")["cases"][-1]["causes"] == ["pump_worn"]
    assert numbers(shown, "--open") == numbers(shown)[:-1]
    assert numbers(shown, "P-1") == [1, 3]
    assert numbers(shown, "p-1") == [1, 3]
    assert numbers(shown, "smoke") == [3]
    assert numbers(shown, "P-1", "--open") == [1]
    assert numbers(shown, "P-9") == []
    assert "No case fits" in call("cases", "P-9").stdout
    assert "white smoke" in call("cases", "3").stdout
    assert "no case 9" in call("cases", "9", code=2).stderr


def test_a_machine_whose_number_is_a_numeral_is_found_by_it(call: Call, shown: Shown) -> None:
    call("new", "17", "no start")
    assert numbers(shown, "17") == [1]


def test_the_leading_cause_and_the_move_are_those_last_told(three: None, call: Call, shown: Shown) -> None:
    assert "nobody looked yet: diagnose next -c 1" in call("cases").stdout
    told = shown("next", "-c", "1")["move"]
    first = shown("causes", "-c", "1")["causes"][0]
    kept = next(one for one in shown("cases")["cases"] if one["number"] == 1)["told"]
    assert kept["move"] == {"kind": told["kind"], "name": told["name"]}
    assert kept["leading"] == {key: first[key] for key in ("id", "name", "probability")}
    assert kept["entries_since"] == 0
    assert first["name"] in flat(call, "cases", "P-1")
    call("note", "-c", "1", "P2291")
    assert "1 entry since this was told" in flat(call, "cases")


def test_what_was_told_of_a_case_of_another_store_does_not_count(
    three: None, shown: Shown, tmp_path: Path
) -> None:
    remember(
        tmp_path / "cases.sqlite",
        KeptAdvice(1, "2020-01-01T00:00:00Z", 1, "a", "Another", 0.5, "check", "CHECK", "x"),
    )
    assert all(one["told"] is None for one in shown("cases")["cases"])


def test_the_file_of_what_was_told_can_be_lost_or_damaged(three: None, call: Call, tmp_path: Path) -> None:
    file = tmp_path / "cases.sqlite.told"
    file.write_bytes(b"no database")
    call("next", "-c", "1")
    assert "nobody looked yet" in call("cases").stdout
    file.unlink()
    call("next", "-c", "1")
    assert recall(tmp_path / "cases.sqlite")[1].entries == 2
    assert file.stat().st_mode & 0o077 == 0


def test_what_it_waits_for_is_told_and_looked_for(three: None, call: Call, shown: Shown) -> None:
    call("note", "-c", "1", "--waits-for", "parts", "--text", "pump due Friday")
    call("note", "-c", "2", "--waits-for", "cooling-down")
    assert "waits for parts: pump due Friday" in call("cases").stdout
    assert numbers(shown, "--waits-for", "parts") == [1]
    assert numbers(shown, "--waits-for", "cooling-down") == [2]
    assert sorted(numbers(shown, "--waits-for", "anything")) == [1, 2]
    assert numbers(shown, "--waits-for", "later-proof") == []
    assert "waits for parts (pump due Friday)" in call("cases", "1").stdout
    call("note", "-c", "1", "--waits-for", "nothing")
    assert numbers(shown, "--waits-for", "parts") == []


def test_who_noted_stands_with_every_entry(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start", "--by", "Ann")
    call("note", "P2291", "--by", "Bo")
    call("withdraw", "3", "--by", "Cy")
    call("close", "pump_worn", "--not-proven", "--by", "Di")
    call("reopen", "--by", "Ed")
    call("note", "metal in the filter")
    by = [event.get("by", "") for event in shown("cases", "1")["events"]]
    assert by == ["Ann", "Ann", "Bo", "Cy", "Di", "Ed", ""]
    assert "[Bo]" in call("cases", "1").stdout
    assert shown("cases")["cases"][0]["by"] == "Ed"
    assert numbers(shown, "ed") == [1]


def test_the_shop_file_names_who_notes_where_nobody_says(
    call: Call, shown: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "shop.yaml"
    file.write_text("by: Bay 2\n", encoding="utf-8")
    monkeypatch.setenv("DIAGNOSE_SHOP", str(file))
    call("new", "P-1", "no start")
    call("note", "P2291", "--by", "Ann")
    assert [event["by"] for event in shown("cases", "1")["events"]] == ["Bay 2", "Bay 2", "Ann"]
    assert "Bay 2" in call("shop").stdout


def test_a_wrong_shop_file_loses_no_entry(
    call: Call, shown: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "shop.yaml"
    file.write_text("labor: 3\n", encoding="utf-8")
    monkeypatch.setenv("DIAGNOSE_SHOP", str(file))
    assert "Nobody is named" in call("new", "P-1", "no start").stderr
    assert len(shown("cases", "1")["events"]) == 2


@pytest.mark.parametrize("name", ["", "  ", "x" * 41])
def test_a_name_is_a_name(call: Call, name: str) -> None:
    assert "a name has" in call("new", "P-1", "no start", "--by", name, code=2).stderr


@pytest.mark.parametrize("columns", ["60", "100"])
def test_no_line_is_wider_than_the_screen(
    three: None, call: Call, monkeypatch: pytest.MonkeyPatch, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    call("note", "-c", "1", "--waits-for", "parts", "--text", "pump " * 30)
    call("next", "-c", "1")
    assert max(map(len, call("cases").stdout.splitlines())) <= int(columns)


def many(path: Path, count: int) -> None:
    with Store(path) as store:
        for number in range(1, count + 1):
            end = [Closed(("pump_worn",))] if number % 3 else []
            seen = [Noted("no_start", "present") for _ in range(8)]
            events = [Opened(f"M-{number % 50}", complaint="no start"), *seen, *end]
            stamped = (replace(one, sequence=n, time=f"{number:04}") for n, one in enumerate(events, 1))
            store.copy(number, [to_json(one) for one in stamped])
            told = KeptAdvice(
                number, f"{number:04}", 9, "pump_worn", "Oil pump worn", 0.5, "check", "CHECK", "Look"
            )
            remember(path, told)


def test_a_thousand_cases_are_listed_without_a_diagnosis(
    call: Call, shown: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By what was told, in processor time; nothing is worked out, and the knowledge is not even read."""
    many(tmp_path / "cases.sqlite", 1000)
    monkeypatch.setattr("diagnose.knowledge.loader.load", lambda *_: pytest.fail("the knowledge was read"))
    start = time.process_time()
    said = call("cases").stdout
    assert time.process_time() - start < 1.0
    assert "1000 cases, 333 open" in said
    assert "more: --all" in said
    assert len(numbers(shown)) == 1000
    assert len(numbers(shown, "M-7")) == 20
    assert len(numbers(shown, "-n", "5")) == 5
