"""causes, next, why: the JSON contract, the words, and that both say the same as the diagnosis."""

import math
import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest
from click.testing import Result

from diagnose.cases.store import Store
from diagnose.diagnosis import Diagnosis
from diagnose.report.ranking import averaged_line
from diagnose.report.screen_words import CAUTION, percent
from tests.cli.conftest import FOLDER, Call, Shown


@pytest.fixture
def case(call: Call) -> Result:
    """No start, low pressure, a code, metal in the filter, an unknown code, and the cover off."""
    call("new", "P-1", "no start", "--family", "old_six", "--hours", "5000")
    call("note", "rail pressure cranking 2.0 MPa", "P2291", "metal in the filter", "SPN 97 FMI 4")
    return call("note", "oil at an injector bore", "--not", "--unsure")


def test_causes_json_has_the_fields_of_the_contract(case: Result, shown: Shown) -> None:
    told = shown("causes")
    assert {
        "causes",
        "fault_sets",
        "other_cause",
        "conflict",
        "evidence",
        "knowledge",
        "unused",
    } <= told.keys()
    assert all(
        low <= cause["probability"] <= high for cause in told["causes"] for low, high in [cause["interval"]]
    )
    wanted = {"id", "name", "system", "probability", "interval", "role", "wrecked_by", "keep_running"}
    assert all(wanted <= cause.keys() for cause in told["causes"])
    order = [(cause["relevant"], cause["probability"]) for cause in told["causes"]]
    assert order == sorted(order, reverse=True)
    assert all(0 <= p <= 1 for p in (*dict(order).values(), told["other_cause"]))
    assert {cause["role"] for cause in told["causes"]} <= {"root", "consequence"}
    assert all((cause["role"] == "consequence") == bool(cause["wrecked_by"]) for cause in told["causes"])
    assert [code for code in told["unused"] if "SPN 97 FMI 4" in code]
    assert [item["confidence"] for item in told["evidence"]][-1] == "unsure"


def test_a_wrecked_cause_is_told_as_a_consequence(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start")
    call("note", "gallery_dirty", "metal_in_filter", "pressure_code")
    (debris,) = [cause for cause in shown("causes")["causes"] if cause["id"] == "debris"]
    assert (debris["role"], debris["wrecked_by"]) == ("consequence", "pump_worn")
    assert "likely wrecked by: Oil pump worn" in call("causes").stdout


def test_a_cause_that_cannot_be_on_this_machine_is_not_listed(case: Result, call: Call, shown: Shown) -> None:
    assert "heater_dead" not in [cause["id"] for cause in shown("causes")["causes"]]
    assert "cannot be on this machine" in call("why", "heater_dead", code=2).stderr


def test_causes_text_says_the_same_and_ends_with_next_step_and_caution(
    case: Result, call: Call, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    text, told = call("causes").stdout, shown("causes")
    for rank, cause in enumerate(told["causes"], 1):
        line = next(
            line for line in text.splitlines() if line.startswith(f"{rank} ") and cause["name"] in line
        )
        assert percent(cause["probability"]) in line
    assert "Something that is not listed here" in text
    assert "code SPN 97 FMI 4 is not in the knowledge" in text
    assert text.splitlines()[-2].startswith("Next: diagnose next")
    assert text.splitlines()[-1] == CAUTION
    assert text.count(CAUTION) == 1


def test_weights_are_shown_with_their_sign(case: Result, call: Call, shown: Shown) -> None:
    top = shown("causes")["causes"][0]
    told = shown("why", "1")
    assert sorted(reason["decibans"] for reason in told["reasons"]) == sorted(top["weights"])
    heaviest = max(told["reasons"], key=lambda reason: abs(reason["decibans"]))
    assert f"({heaviest['decibans']:+.0f} dB)" in call("why", "1", "--all").stdout


def test_a_weight_is_ten_times_the_log_of_the_odds_ratio(call: Call, shown: Shown) -> None:
    """Good, Probability and the Weighing of Evidence (1950): 10 log10 of the factor on the odds, in decibans.

    With one finding only, that factor is posterior odds over prior odds.
    """
    call("new", "P-1")
    call("note", "metal_in_filter")
    for id in ("pump_worn", "debris", "seal_out"):
        cause = shown("why", id)["cause"]
        odds = [p / (1 - p) for p in (cause["before"], cause["probability"])]
        assert cause["weights"] == [pytest.approx(10 * math.log10(odds[1] / odds[0]), abs=1e-6)]


def test_next_json_has_the_fields_of_the_contract(case: Result, shown: Shown) -> None:
    told = shown("next")
    wanted = {"id", "name", "minutes", "access_minutes", "cost", "value", "bits", "access", "cautions"}
    assert all({*wanted, "findings", "results"} <= check.keys() for check in told["checks"])
    assert all(check["bits"] > 0 for check in told["checks"])
    for check in told["checks"]:
        assert sum(result["probability"] for result in check["results"]) <= 1 + 1e-9
    assert len(shown("next", "-n", "1")["checks"]) == 1


def test_next_names_access_only_while_it_is_closed(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start")

    def minutes() -> float:
        (found,) = [check for check in shown("next")["checks"] if check["id"] == "look_under_cover"]
        return float(found["access_minutes"])

    assert minutes() == 70  # 30 to reach and 40 to restore, in the small knowledge
    call("note", "--opened", "cover_off")
    assert minutes() == 0


def test_cautions_stand_before_steps_and_what_stops_everything_first(call: Call) -> None:
    call("new", "P-1", "no start")
    call("note", "--opened", "cover_off", "rail pressure cranking 2 MPa", "battery at rest 12.6 V")
    text = call("knowledge", "show", "look_under_cover").stdout
    assert text.index("STOP FIRST") < text.index("1. Bar the engine")
    assert text.index("CAUTION") < text.index("1. Bar the engine")


def test_a_suspected_hazard_stands_first_and_holds_checks_back(call: Call, shown: Shown) -> None:
    """In the small knowledge a hard stop makes liquid in a cylinder likely; only barring by hand rules it out."""
    call("new", "P-1", "no start")
    assert shown("next")["stops"] == []
    call("note", "hard_stop")
    for command in ("causes", "next"):
        text = call(command).stdout
        assert text.index("Liquid in a cylinder") < text.index("\n1 ")
        assert "MAKE SAFE Bar it by hand" in text
        assert [stop["id"] for stop in shown(command)["stops"]] == ["liquid_in_cylinder"]
    checks = shown("next")["checks"]
    assert checks[0]["id"] == "bar_by_hand"
    held = {check["id"]: check["held_back"] for check in checks}
    assert held["open_gallery"] == "liquid_in_cylinder"
    assert held["cut_filter"] is held["bar_by_hand"] is None
    call("note", "--not", "liquid_out", "--check", "bar_by_hand")
    assert shown("next")["stops"] == []


def test_next_tells_how_to_record_the_result(case: Result, call: Call, shown: Shown) -> None:
    call("note", "--not", "metal in the filter")
    told = shown("next")
    first = told["checks"][0]["id"]
    assert told["move"]["id"] == first
    last = " ".join(call("next").stdout.split())
    assert f"--check {first}" in last or f"diagnose note {first.removeprefix('look:')}" in last


def test_next_limit_and_all(call: Call) -> None:
    call("new", "P-1", "no start")
    assert "Others: diagnose next --all" in call("next", "-n", "1").stdout
    assert "Others: diagnose next --all" not in call("next", "--all").stdout


@pytest.mark.parametrize("words", ["1", "pump_worn", "oil pump worn", "Oil pump worn"])
def test_why_takes_a_rank_an_id_or_words(call: Call, shown: Shown, words: str) -> None:
    call("new", "P-1", "no start")
    call("note", "metal_in_filter")
    assert shown("causes")["causes"][0]["id"] == "pump_worn"
    assert shown("why", *words.split())["cause"]["id"] == "pump_worn"


@pytest.mark.parametrize(
    ("words", "says"), [("99", "no number 99"), ("0", "no number 0"), ("pump_warn", "pump_worn")]
)
def test_why_of_nothing_known(call: Call, words: str, says: str) -> None:
    call("new", "P-1", "no start")
    assert says in call("why", words, code=2).stderr


def test_why_says_what_would_settle_it(call: Call, shown: Shown) -> None:
    """Seeing each answer really gives the probability that was promised for it (sure observations)."""
    call("new", "P-1", "no start")
    told = shown("why", "seal_out")
    (test,) = [one for one in told["checks"] if one["finding"] == "oil_at_bore"]
    assert sum(answer["probability"] for answer in test["answers"]) == pytest.approx(1)
    for answer in test["answers"]:
        call("note", "oil_at_bore", "--state", answer["state"])
        assert shown("why", "seal_out")["cause"]["probability"] == pytest.approx(answer["after"], abs=1e-9)
        call("withdraw", str(shown("cases", "1")["events"][-1]["sequence"]))
    mean = sum(answer["probability"] * answer["after"] for answer in test["answers"])
    assert mean == pytest.approx(told["cause"]["probability"])


def test_why_names_repairs_with_their_proof(call: Call) -> None:
    call("new", "P-1", "no start")
    text = call("why", "seal_out", "--all").stdout
    assert "Renew the injector seals (cures it in 95 %), id reseal" in text
    assert "prove it: No oil at the bores while cranking." in text


def test_evidence_that_cannot_be_exits_1_naming_the_findings(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A finding that never shows without its one cause, which this machine cannot have."""
    folder = tmp_path / "knowledge"
    folder.mkdir()
    text = (FOLDER / "small.yaml").read_text(encoding="utf-8")
    cold = text.index("  heater_cold:\n    name")
    text = text[:cold] + text[cold:].replace("leak: 0.02", "leak: 0", 1)
    (folder / "small.yaml").write_text(text, encoding="utf-8")
    monkeypatch.setenv("DIAGNOSE_KNOWLEDGE", str(folder))
    call("new", "P-1", "--family", "old_six")
    call("note", "heater_cold")
    assert "Heater stays cold" in call("causes", code=1).stderr
    assert "Heater stays cold" in call("cases", "1").stdout


def test_a_case_recorded_under_other_knowledge_is_a_notice(case: Result, call: Call, tmp_path: Path) -> None:
    assert "another version" not in call("causes").stdout
    folder = tmp_path / "other"
    folder.mkdir()
    text = (FOLDER / "small.yaml").read_text(encoding="utf-8")
    (folder / "small.yaml").write_text(text.replace("share: 0.04", "share: 0.05"), encoding="utf-8")
    told = call("--knowledge", str(folder), "causes").stdout
    assert told.count("recorded under another version of the knowledge") == 1


def test_second_opinion_by_pgmpy_agrees(case: Result, shown: Shown) -> None:
    opinion = shown("causes", "--second-opinion")["second_opinion"]
    assert opinion["causes"] == 4
    assert opinion["largest_difference"] < 1e-9


def test_second_opinion_without_pgmpy_says_how_to_get_it(
    case: Result, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in [name for name in sys.modules if name.split(".")[0] == "pgmpy"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "pgmpy", None)
    assert "pip install 'diesel-diagnose[pgmpy]'" in call("causes", "--second-opinion", code=2).stderr


def test_nothing_noted_yet(call: Call) -> None:
    call("new", "P-1")
    assert "nothing is noted yet" in " ".join(call("causes").stdout.split())
    assert "Nothing is noted yet" in call("why", "1", "--all").stdout


@pytest.mark.parametrize("columns", ["60", "100"])
@pytest.mark.parametrize(
    "args",
    ["causes", "next --all", "why 1", "why debris", "cases", "cases 1", "note no start", "knowledge find pump",
     "knowledge show pump_worn", "knowledge show look_under_cover", "knowledge check"],
)  # fmt: skip
def test_no_line_is_wider_than_the_screen(
    case: Result, call: Call, monkeypatch: pytest.MonkeyPatch, args: str, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    lines = call(*args.split()).stdout.splitlines()
    assert max(map(len, lines)) <= int(columns)
    assert all(line == line.rstrip() for line in lines)


def test_piped_output_has_no_colours(case: Result, call: Call) -> None:
    assert "\x1b" not in call("causes").stdout


@pytest.mark.parametrize(("no_color", "colours"), [(None, True), ("1", False)])
def test_no_color_is_honoured_on_a_terminal(
    monkeypatch: pytest.MonkeyPatch, no_color: str | None, colours: bool
) -> None:
    """https://no-color.org: NO_COLOR, whatever its value, means no colour."""
    from rich.text import Text

    from diagnose.cli.show import rendered

    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    if no_color:
        monkeypatch.setenv("NO_COLOR", no_color)
    else:
        monkeypatch.delenv("NO_COLOR", raising=False)
    assert ("\x1b[" in rendered(Text("words", "bold yellow"))) == colours


def test_a_reader_that_stops_early_gets_no_traceback(case: Result, tmp_path: Path) -> None:
    """The pipe is closed before anything is written, as `head` may do it."""
    reading, writing = os.pipe()
    os.close(reading)
    for args in (["causes"], ["causes", "--json"], ["next", "--all"], ["--help"]):
        program = [sys.executable, "-m", "diagnose.cli", *args]
        done = subprocess.run(program, stdout=writing, stderr=subprocess.PIPE, text=True, check=False)
        assert done.stderr == "", args
        assert done.returncode in (0, 1)
    os.close(writing)


def test_everyday_commands_import_no_heavy_package(case: Result) -> None:
    heavy = ("pgmpy", "pandas", "matplotlib", "scipy", "networkx", "torch", "sklearn", "pint")
    for command in ("causes", "next", "cases", "note no_start"):
        names = heavy if command in ("causes", "next") else (*heavy, "numpy")
        code = (
            "import sys\nfrom diagnose.cli.main import program\n"
            f"program.main({command.split()!r}, standalone_mode=False)\n"
            f"print([name for name in {names!r} if name in sys.modules], file=sys.stderr)"
        )
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert done.stderr.strip() == "[]", command


def test_the_store_is_the_one_named_on_the_call(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    call("--store", str(path), "new", "P-9")
    with Store(path) as store:
        assert [one.machine for one in store.cases()] == ["P-9"]


def told(pieces: Iterable[object]) -> str:
    return " ".join(map(str, pieces))


def test_facts_on_average_are_counted_and_named_only_when_all_is_asked_for() -> None:
    """Twenty names that nobody has to act on hide the line above them."""
    facts = {id: SimpleNamespace(name=f"Fact {id}") for id in "abc"}
    few = cast(Diagnosis, SimpleNamespace(averaged=("a", "b"), knowledge=SimpleNamespace(facts=facts)))
    one = cast(Diagnosis, SimpleNamespace(averaged=("c",), knowledge=SimpleNamespace(facts=facts)))
    short, single, named = (told(averaged_line(*it)) for it in ((few, False), (one, False), (few, True)))
    assert "2 facts of the machine" in short
    assert "fact a" not in short
    assert "One fact of the machine" in single
    assert all(name in named for name in ("fact a", "fact b"))
    none = cast(Diagnosis, SimpleNamespace(averaged=(), knowledge=SimpleNamespace(facts=facts)))
    assert not list(averaged_line(none, True))
