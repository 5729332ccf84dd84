"""repair, plan, shop, and the money in causes and next: the JSON contract, the words, the picture."""

from __future__ import annotations

import io
import json
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import pytest

from diagnose.cases.scenario import folder
from diagnose.planning.shop import Shop
from diagnose.report.screen_words import CAUTION, percent
from tests.cli.conftest import FOLDER, Call, Shown
from tests.shipped import diagnosed, shipped_knowledge

pytestmark = pytest.mark.usefixtures("counted_time")


@pytest.fixture
def case(call: Call) -> None:
    """No start with low pressure, a code and metal: the pump is worn and has shed debris."""
    call("new", "P-1", "no start", "--family", "old_six", "--hours", "9000")
    call("note", "rail pressure cranking 2.0 MPa", "P2291", "metal in the filter", "gallery_dirty")


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def rates(tmp_path: Path) -> str:
    """A shop file of its own: an hour costs 60, nothing is added to parts."""
    file = tmp_path / "shop.yaml"
    file.write_text(
        "currency: kr\nlabour: 60\ndowntime: 0\nconsumables: 0\nprices: {oil pump: 500}\n", encoding="utf-8"
    )
    return str(file)


# money in next and causes


def test_next_tells_money_in_json_and_words(case: None, call: Call, shown: Shown) -> None:
    checks = shown("next")["checks"]
    values = [check["value"] for check in checks]
    assert values[0] > 0 >= values[-1]
    assert [max(value, 0) for value in values] == sorted((max(value, 0) for value in values), reverse=True)
    for check in checks:
        minutes = check["minutes"] + check["access_minutes"]
        assert check["cost"] == pytest.approx(Shop().time(minutes))
        assert check["value_per_minute"] == pytest.approx(check["value"] / max(minutes, 0.5))
    text = words(call("next", "--all").stdout)
    assert f"saves {Shop().money(values[0])}; " in text
    assert "costs more than it tells; " in text


def test_one_check_is_marked_the_best_per_minute(case: None, call: Call, shown: Shown) -> None:
    best = max(shown("next")["checks"], key=lambda check: float(check["value_per_minute"]))
    text = call("next", "--all").stdout
    assert text.count("[best per minute]") == 1
    assert f"{best['name']} [best per minute]" in words(text)


def test_each_check_says_what_its_results_would_change(case: None, call: Call, shown: Shown) -> None:
    second = shown("next")["checks"][1]
    for result in second["results"][:2]:
        assert percent(result["leading_probability"]) in words(call("next", "--all").stdout)


def test_checks_held_back_are_listed_last_under_their_hazard(case: None, call: Call, shown: Shown) -> None:
    call("note", "hard_stop")
    held = [check["held_back"] for check in shown("next")["checks"]]
    assert held == sorted(held, key=lambda hazard: hazard is not None)
    text = call("next").stdout
    lines = text[text.index("NOT NOW first rule out: Liquid in a cylinder") :].splitlines()
    names = [check["name"] for check in shown("next")["checks"] if check["held_back"]]
    assert names
    assert [name for name in names if f"  - {name}" not in lines] == []


def test_may_it_run_on_stands_above_everything(call: Call, shown: Shown) -> None:
    """9,000 of damage at even chances against an hour of looking: stop now, in money, above all."""
    call("new", "P-1", "no start", "--family", "old_six", "--hours", "9000")
    call("note", "metal in the filter")
    (debris,) = [cause for cause in shown("causes")["causes"] if cause["id"] == "debris"]
    advice = debris["keep_running"]
    assert advice["advice"] == "stop now"
    assert advice["running"] == pytest.approx(debris["probability"] * 0.5 * 9000)
    assert [one["cause"] for one in shown("next")["keep_running"]] == ["debris"]
    for command in ("causes", "next", "repair", "plan --think 0.1"):
        text = call(*command.split()).stdout
        assert text.index("STOP NOW: Debris in the gallery") < text.index(
            "\n1 " if "plan" not in command else "Expected "
        )
        assert f"about {Shop().money(advice['running'])} at risk" in words(text)
    others = [cause["keep_running"] for cause in shown("causes")["causes"] if cause["id"] != "debris"]
    assert set(map(type, others)) == {type(None)}


# repair


def test_repair_json_has_the_fields_of_the_contract(case: None, shown: Shown) -> None:
    options = shown("repair")["options"]
    wanted = {
        "repairs",
        "expected_cost",
        "labour_minutes",
        "parts",
        "still_broken",
        "reasons",
        "cash",
        "access",
    }
    assert all(wanted <= option.keys() for option in options)
    costs = [option["expected_cost"] for option in options]
    assert costs == sorted(costs)
    assert any(len(option["repairs"]) == 1 for option in options)
    assert options[0]["repairs"] == ["flush_gallery", "replace_pump"]


def test_money_now_is_labour_and_parts_of_this_shop(case: None, shown: Shown, call: Call, rates: str) -> None:
    """Pump 180 min and flushing 90 min at 60 an hour, and the pump at the shop's own price."""
    best = json_of(call("--shop", rates, "repair", "--json").stdout)["options"][0]
    assert best["repairs"] == ["flush_gallery", "replace_pump"]
    assert (best["labour_minutes"], best["labour_cost"], best["parts_cost"]) == (270, pytest.approx(270), 500)
    assert best["parts"] == [
        {"name": "oil pump", "quantity": 1, "price": 500, "single_use": False, "set": False}
    ]
    assert "Now 770 kr: parts 500 kr, labour and standing still 270 kr" in words(
        call("--shop", rates, "repair").stdout
    )


def json_of(text: str) -> Any:
    return json.loads(text)


def test_repair_says_in_one_sentence_what_the_set_saves(case: None, call: Call, shown: Shown) -> None:
    options = shown("repair")["options"]
    single = next(option for option in options if len(option["repairs"]) == 1)
    saved = Shop().money(single["expected_cost"] - options[0]["expected_cost"])
    assert f"{saved} less in all than" in words(call("repair").stdout)


def test_what_was_left_out_while_it_is_open_is_said(case: None, call: Call, shown: Shown) -> None:
    (left,) = shown("repair")["left_out"]
    assert left.startswith("Renew the injector seals: would cost")
    assert f"While it is open, thought of and left - {left}" in words(call("repair").stdout)


def test_repair_marks_parts_and_ends_with_proof_and_the_complaint_anew(call: Call) -> None:
    call("new", "P-1", "no start")
    call("note", "oil_at_bore")
    text = words(call("repair").stdout)
    assert "6 x seal kit (as a set; single use, never put back), 120 EUR" in text
    assert "open valve cover off (paid once for all)" in text
    assert text.index("Proof of the repair - No oil at the bores") < text.index(
        "Next: diagnose note --repaired reseal"
    )
    assert "note the complaint again" in text
    assert text.endswith(CAUTION)


def test_after_a_repair_the_screens_ask_for_the_complaint(case: None, call: Call) -> None:
    told = words(call("note", "--repaired", "replace_pump").stdout)
    assert "note the complaint again" in told
    for command in ("causes", "next", "repair", "plan --think 0.1"):
        assert "The complaint is not noted since the repair" in words(call(*command.split()).stdout)
    call("note", "no start")
    for command in ("causes", "next", "repair"):
        assert "not noted since" not in words(call(command).stdout)


def test_a_repair_that_is_held_back_says_so(case: None, call: Call, shown: Shown, tmp_path: Path) -> None:
    call("note", "hard_stop")
    folder = tmp_path / "knowledge"
    folder.mkdir()
    text = (FOLDER / "small.yaml").read_text(encoding="utf-8")
    text = text.replace("    minutes: 180\n", "    minutes: 180\n    hazards: [jet]\n")
    (folder / "small.yaml").write_text(text, encoding="utf-8")
    screen = call("--knowledge", str(folder), "repair").stdout
    assert "NOT NOW first rule out: Liquid in a cylinder" in screen
    assert screen.index("CAUTION Fluid jet through the skin") < screen.index("\n1 ")
    assert json_of(call("--knowledge", str(folder), "repair", "--json").stdout)["options"][0]["held_back"]


def test_nothing_to_repair(call: Call, shown: Shown) -> None:
    """Nothing the knowledge can cure is above this finding on a machine without the heater."""
    call("new", "P-1", "--family", "old_six")
    call("note", "smoke_warm")
    assert shown("repair")["options"] == []
    assert "No repair of the knowledge cures" in words(call("repair").stdout)
    assert shown("plan", "--think", "0.1")["plan"]["kind"] in ("hand over", "check")


# plan


def test_plan_json_is_the_tree(case: None, shown: Shown) -> None:
    told = shown("plan", "--think", "0.2")
    assert {"expected_cost", "hours", "worst", "repair_only", "currency", "plan"} <= told.keys()
    assert told["plan"]["cost"] == pytest.approx(told["expected_cost"])

    def look(step: Any) -> None:
        assert step["kind"] in ("check", "repair", "hand over")
        total = sum(branch["probability"] for branch in step["branches"])
        assert total == pytest.approx(1, abs=1e-6) if step["kind"] == "check" else total < 1
        for branch in step["branches"]:
            assert branch["still_broken"] == (step["kind"] == "repair")
            assert bool(branch["results"]) == (step["kind"] == "check")
            look(branch["then"])

    look(told["plan"])


def test_plan_text_has_totals_then_the_first_step(case: None, call: Call, shown: Shown) -> None:
    told = shown("plan", "--think", "1")
    text = words(call("plan", "--think", "1").stdout)
    assert f"Expected {Shop().money(told['expected_cost'])} and" in text
    assert "Worst path" in text
    first = told["plan"]
    assert f"{first['kind'].upper()} {first['name']}" in text


def test_plan_all_shows_more(case: None, call: Call) -> None:
    short, long = (call("plan", "--think", "1", *extra).stdout for extra in ((), ("--all",)))
    assert len(long) >= len(short)
    assert "plan again" not in long


@pytest.mark.parametrize("columns", ["60", "100"])
@pytest.mark.parametrize("args", ["repair", "repair --all", "plan --think 0.3 --all", "next", "shop"])
def test_no_line_is_wider_than_the_screen(
    case: None, call: Call, monkeypatch: pytest.MonkeyPatch, args: str, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    lines = call(*args.split()).stdout.splitlines()
    assert max(map(len, lines)) <= int(columns)
    assert all(line == line.rstrip() for line in lines)


def test_the_picture_shows_every_box_apart(case: None, call: Call, tmp_path: Path) -> None:
    """Boxes stand on a grid, each on a place of its own; the words are in the file as drawn."""
    pytest.importorskip("matplotlib")
    file = tmp_path / "plan.svg"
    call("plan", "--think", "0.3", "--picture", str(file))
    root = ElementTree.parse(file).getroot()
    assert (root.get("width"), root.get("height")) == ("1190.88pt", "841.68pt")  # A3: 420 x 297 mm
    png = tmp_path / "plan.png"
    call("plan", "--think", "0.3", "--picture", str(png))
    assert png.read_bytes().startswith(b"\x89PNG")


def test_places_on_the_grid_are_all_different() -> None:
    pytest.importorskip("matplotlib")
    from diagnose.planning.decide import decide
    from diagnose.planning.situation import situation
    from diagnose.report.plan_picture import A3, PlanLayout, arranged

    for id in sorted(file.stem for file in folder().glob("*.yaml"))[:4]:
        diagnosis = diagnosed(id)
        boxes = arranged(shipped_knowledge(), decide(diagnosis, situation(diagnosis, Shop()), 0.2))
        places = [(box.row, box.column) for box in boxes]
        assert len(places) == len(set(places))
        grid = PlanLayout(max(row for row, _ in places) + 1, max(column for _, column in places) + 1)
        for place in places:
            (x, y), (width, height) = grid.corner(*place), grid.size
            assert 0 < x < x + width < A3[0]
            assert 0 < y < y + height < A3[1]
            assert width < grid.cell[0]
            assert height < grid.cell[1]


@pytest.mark.parametrize(("width", "height"), [(3.0, 0.6), (1.0, 0.3), (0.7, 0.2)])
def test_words_fit_their_box_or_are_cut_with_dots(width: float, height: float) -> None:
    pytest.importorskip("matplotlib")
    from diagnose.report.plan_picture import LETTER, POINTS, fitted

    text = "CHECK: Look at the injector bores with the valve cover off while cranking"
    size, lines = fitted([text, "47 EUR"], width, height)
    assert len(lines) * 1.25 * size / POINTS <= height
    assert max(map(len, lines)) * LETTER * size / POINTS <= max(width, 8 * LETTER * size / POINTS)
    assert lines[-1] in ("47 EUR", "...")


def test_a_picture_without_matplotlib_says_how_to_get_it(
    case: None, call: Call, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name in [n for n in sys.modules if n.split(".")[0] == "matplotlib" or n.endswith("plan_picture")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    told = call("plan", "--think", "0.1", "--picture", str(tmp_path / "a.svg"), code=2).stderr
    assert "pip install 'diesel-diagnose[plots]'" in told


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ("--picture a.pdf", "*.svg or *.png"),
        ("--picture /none/there/a.svg", "cannot be written"),
        ("--think 0", "0.1"),
        ("--think forever", "forever"),
    ],
)
def test_calls_that_are_wrong(case: None, call: Call, args: str, says: str) -> None:
    assert says in call("plan", *args.split(), code=2).stderr


@pytest.mark.parametrize(
    ("seconds", "terminal", "silent", "seen"),
    [
        (3.0, True, False, True),
        (2.0, True, False, False),
        (3.0, False, False, False),
        (3.0, True, True, False),
    ],
)
def test_a_bar_is_shown_on_a_terminal_when_it_takes_long(
    monkeypatch: pytest.MonkeyPatch, seconds: float, terminal: bool, silent: bool, seen: bool
) -> None:
    from diagnose.cli.progress_bar import waiting

    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return terminal

    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setenv("TERM", "xterm")
    with waiting("Thinking", seconds, silent):
        pass
    assert ("Thinking, 3 s" in screen.getvalue()) == seen


# shop


def test_shop_shows_the_rates_and_where_they_come_from(call: Call, shown: Shown, rates: str) -> None:
    assert shown("shop")["file"] is None
    assert "Usual figures, meant to be replaced" in words(call("shop").stdout)
    told = json_of(call("--shop", rates, "shop", "--json").stdout)
    assert (told["schema"], told["file"], told["labour"], told["currency"]) == (
        "diagnose.shop/1",
        rates,
        60,
        "kr",
    )
    assert told["prices"] == {"oil pump": 500}
    text = words(call("--shop", rates, "shop").stdout)
    assert "labour 60.00 kr one hour of labour" in text
    assert "500.00 kr oil pump" in text


def test_a_price_for_a_part_that_nobody_asks_for_is_pointed_out(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "shop.yaml"
    file.write_text("prices: {oil pmup: 500, seal kit: 21}\n", encoding="utf-8")
    assert json_of(call("--shop", str(file), "shop", "--json").stdout)["unknown_parts"] == ["oil pmup"]
    assert "No repair of the knowledge asks for oil pmup" in words(call("--shop", str(file), "shop").stdout)


def test_a_shop_file_that_is_wrong_exits_1_with_its_place(
    case: None, call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "shop.yaml"
    file.write_text("labour: 90\ncomeback: -1\n", encoding="utf-8")
    for command in ("shop", "repair", "next", "causes"):
        assert call("--shop", str(file), command, code=1).stderr.startswith(f"{file}:2:11: K014 ")
    monkeypatch.setenv("DIAGNOSE_SHOP", str(file))
    assert f"{file}:2:11: K014 " in call("shop", code=1).stderr
    assert "does not exist" in call("--shop", str(tmp_path / "none.yaml"), "shop", code=2).stderr
