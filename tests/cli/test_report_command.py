"""report: the kinds of paper, files kept from being overwritten, and where nothing can be written."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from tests.cli.conftest import Call, Shown


@pytest.fixture
def case(call: Call) -> None:
    call("new", "P-1", "no start", "--family", "new_six", "--hours", "5200")
    call("note", "metal in the filter", "--check", "cut_filter")


@pytest.mark.usefixtures("case")
def test_without_a_file_it_is_text_for_the_technician(call: Call) -> None:
    lines = call("report").stdout.splitlines()
    assert lines[0] == "Case 1: machine P-1"
    assert "For the next technician" in lines
    assert lines[2].startswith("  ! Not finished. Nothing has been repaired.")


@pytest.mark.usefixtures("case")
def test_for_the_customer(call: Call) -> None:
    text = call("report", "--for", "customer").stdout
    assert text.startswith("Report on machine P-1\n")
    assert "%" not in text


def test_who_noted_stands_in_both_reports(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start", "--family", "new_six", "--by", "Ann")
    call("note", "metal in the filter", "--by", "Bo")
    assert "[Bo]" in call("report").stdout
    assert "Noted by: Ann and Bo" in call("report").stdout
    assert "Noted by: Ann and Bo" in call("report", "--for", "customer").stdout
    assert [step["by"] for step in shown("report")["story"]["steps"]] == ["Ann", "Ann", "Bo"]


def test_what_it_waits_for_stands_in_the_report(call: Call) -> None:
    call("new", "P-1", "no start")
    call("note", "--waits-for", "cooling-down")
    assert "Waits for it to cool" in call("report").stdout


@pytest.mark.usefixtures("case")
def test_json_is_the_whole_record(shown: Shown) -> None:
    values = shown("report")
    assert (values["case"], values["machine"]["number"], values["closed"]) == (1, "P-1", False)
    assert [step["kind"] for step in values["story"]["steps"]] == ["opened", "noted", "checked", "noted"]


@pytest.mark.usefixtures("case")
@pytest.mark.parametrize(
    ("name", "starts"),
    [("r.html", "<!DOCTYPE html>"), ("r.HTM", "<!DOCTYPE html>"), ("r.md", "# Case 1"), ("r.json", "{")],
)
def test_the_ending_chooses_the_paper(call: Call, tmp_path: Path, name: str, starts: str) -> None:
    told = call("report", "-o", str(tmp_path / name))
    assert "Written:" in told.stderr
    assert told.stdout == ""
    assert (tmp_path / name).read_text(encoding="utf-8").startswith(starts)
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


@pytest.mark.usefixtures("case")
def test_a_file_that_is_there_is_kept_unless_forced(call: Call, tmp_path: Path) -> None:
    file = tmp_path / "r.md"
    file.write_text("mine", encoding="utf-8")
    assert "--force" in call("report", "-o", str(file), code=2).stderr
    assert file.read_text(encoding="utf-8") == "mine"
    call("report", "-o", str(file), "--force")
    assert file.read_text(encoding="utf-8").startswith("# Case 1")


@pytest.mark.usefixtures("case")
@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("-o", "r.doc"), "*.html, *.pdf, *.md or *.json"),
        (("-o", "r.md", "--json"), "*.json"),
        (("-o", "no/such/folder/r.md"), "cannot be written"),
        (("-c", "9"), "no case 9"),
        (("--for", "insurer"), "customer"),
    ],
)
def test_wrong_calls_say_why(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...], says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    assert says in call("report", *args, code=2).stderr
    assert not list(tmp_path.glob("r.*"))


@pytest.mark.usefixtures("case")
def test_a_pdf_without_weasyprint_says_what_to_install(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    assert "diesel-diagnose[pdf]" in call("report", "-o", str(tmp_path / "r.pdf"), code=2).stderr
    assert not (tmp_path / "r.pdf").exists()


def test_a_scenario_is_told_as_an_example(call: Call, tmp_path: Path) -> None:
    from tests.cli.test_record import SCENARIO

    path = tmp_path / "seal.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    assert call("report", "-f", str(path)).stdout.startswith("Worked example: machine L-9\n")


def test_without_any_case_the_way_to_start_one_is_told(call: Call) -> None:
    assert "diagnose new" in call("report", code=2).stderr


def test_the_shop_prices_it(call: Call, tmp_path: Path) -> None:
    """Cutting the filter takes 20 minutes: at 120 an hour that is 40."""
    shop = tmp_path / "shop.yaml"
    shop.write_text("currency: KRONE\nlabour: 120\ndowntime: 0\n", encoding="utf-8")
    call("new", "P-1", "no start")
    call("note", "metal in the filter", "--check", "cut_filter")
    text = call("--shop", str(shop), "report", "--for", "customer").stdout
    assert re.search(r"In all +40 +0 +40$", text, re.MULTILINE)
    assert "Sum, KRONE" in text
