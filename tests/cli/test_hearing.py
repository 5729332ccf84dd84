"""Whole sentences through the commands: the clear part is recorded, the doubtful asked, the rest told."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.cases.case import Case
from diagnose.cases.events import Learnt, Noted
from diagnose.cli import asking
from diagnose.hearing import hear
from diagnose.knowledge.records import Hazard
from tests.calling import run
from tests.shipped import shipped_knowledge

NEW = Case(1)


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_CASES", str(tmp_path / "cases.sqlite"))


def noted(text: str, **how: object) -> set[tuple[str, str]]:
    found = hear(shipped_knowledge(), NEW, text, **how)  # type: ignore[arg-type]
    return {(event.finding, event.state) for event in found.intake.events if isinstance(event, Noted)}


def test_understand_shows_and_records_nothing(store: None) -> None:
    run("new", "P-1")
    told = json.loads(run("understand", "no power and black smoke, SPN 94 FMI 18", "--json").stdout)
    assert told["schema"] == "diagnose.understand/1"
    assert {(part["kind"], part["id"], part["state"]) for part in told["parts"]} == {
        ("finding", "low_power", "present"),
        ("finding", "black_smoke", "present"),
        ("code", "SPN 94 FMI 18", ""),
    }
    assert all(part["text"] for part in told["parts"])
    assert len(json.loads(run("cases", "1", "--json").stdout)["events"]) == 1


def test_a_sentence_is_noted_whole(store: None) -> None:
    run("new", "P-1")
    told = json.loads(run("note", "no power and black smoke, no leaks", "--json").stdout)
    assert [(event["finding"], event["state"]) for event in told["events"]][:2] == [
        ("low_power", "present"),
        ("black_smoke", "present"),
    ]
    assert told["open"] == told["not_understood"] == []


def test_what_is_open_is_told_with_exit_code_3(store: None) -> None:
    run("new", "P-1")
    told = json.loads(
        run("note", "black smoke under load, rattles at idle when cold", "--json", code=3).stdout
    )
    assert [event["finding"] for event in told["events"]] == ["black_smoke"]
    (question,) = told["open"]
    assert question["text"] == "rattles at idle when cold"
    assert 1 <= len(question["choices"]) <= 3
    assert run("note", question["choices"][0]["note"])


def test_one_key_takes_the_likeliest_of_each_doubtful_part(
    store: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("new", "P-1")
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    told = run("note", "rattles at idle when cold, clunks in gear", typed="1\n")
    assert "2 parts are doubtful" in told.stderr
    assert "2 entries kept" in told.stdout


def test_history_and_what_is_not_understood_are_kept_in_words() -> None:
    found = hear(shipped_knowledge(), NEW, "low power, turbo replaced in march, the flange frobnicates")
    (words,) = [event for event in found.intake.events if isinstance(event, Learnt)]
    assert words.text.endswith("the flange frobnicates")
    assert found.not_understood


def test_the_speakers_doubt_is_the_confidence() -> None:
    found = hear(shipped_knowledge(), NEW, "i think it has low power")
    assert [event.confidence for event in found.intake.events if isinstance(event, Noted)] == ["likely"]


def test_not_turns_what_is_said(store: None) -> None:
    assert noted("low power, black smoke", absent=True) == {
        ("low_power", "absent"),
        ("black_smoke", "absent"),
    }


def test_a_lone_candidate_that_makes_a_stop_likely_is_suspected_until_denied() -> None:
    known = shipped_knowledge()
    question = next(
        question
        for text in ("hydrolocked", "hot restart bad", "oil's gone thin", "noise in the driveline thing")
        for question in hear(known, NEW, text).questions
        if len(question.choices) == 1
    )
    id = question.choices[0].text.partition(" = ")[0]
    hazard = next(hazard for hazard in known.hazards.values() if hazard.stop)
    stops: dict[str, Hazard] = {**known.hazards, hazard.id: replace(hazard, suspect=(id,))}
    (asked,) = hear(replace(known, hazards=stops), NEW, question.text).questions
    (event,) = asked.meanwhile.events
    assert isinstance(event, Noted)
    assert (event.finding, event.confidence) == (id, "unsure")


def test_said_to_be_there_and_not_is_asked() -> None:
    found = hear(shipped_knowledge(), NEW, "no black smoke. black smoke under load.")
    assert not {event.finding for event in found.intake.events if isinstance(event, Noted)} & {"black_smoke"}
    assert any("black_smoke" in choice.text for question in found.questions for choice in question.choices)
