"""How inspections are told: how one got at the part and what was seen of it, how far above or below, and how much
(plain English and common practice of the trade; no published source)."""

from __future__ import annotations

import pytest

from diagnose.understanding import Understanding, understand
from diagnose.understanding.index import index_of
from diagnose.understanding.inspection_results import seen_from
from diagnose.understanding.numbers_in_text import without_values
from diagnose.words.pieces import bare
from diagnose.words.polarity import sides_of
from diagnose.words.tokens import clauses_of
from diagnose.words.vocabulary import rightly_spelt
from tests.words.small import finding, knowledge
from tests.words.test_understanding import KNOWN, offered, recorded, said

SMALL = knowledge(
    [
        finding("meter_high", "Fuel meter above plate", "too many clicks at the knob", kind="inspection"),
        finding("left_flat", "Left tank sucked flat", "left tank collapsed", kind="inspection"),
        finding(
            "valve_deep",
            "Valve stands deep by the depth gauge",
            "depth gauge valve 3 mm deep",
            kind="inspection",
        ),
        finding("valve_stuck", "Metering valve sticks", "metering valve sticky", kind="inspection"),
        finding("chamber_soot", "Combustion chamber caked", "chamber caked black", kind="inspection"),
        finding("water_in_air", "Coolant in the air tank", "air tank got antifreeze", kind="inspection"),
        finding("plug_leaks", "Drain plug leaks", "drain plug thread stripped", kind="inspection"),
        finding("piston_hole", "Hole in the piston", "daylight through the piston", kind="inspection"),
        finding("relay_dead", "Relay does not pull in", kind="inspection"),
        finding("seeps", "Oil seeps", "seeping at the joint"),
    ]
)


def read(text: str) -> Understanding:
    return understand(SMALL, text)


def kept(text: str) -> set[tuple[str, str]]:
    """What would be recorded."""
    return {(part.id, part.state) for part in read(text).parts if part.kind == "finding" and part.sure}


def meant(text: str) -> set[str]:
    """What is recorded or asked about."""
    parts = [part for part in read(text).parts if part.kind == "finding"]
    return {part.id for part in parts if part.id} | {one.id for part in parts for one in part.alternatives}


# ---- above and below, left and right, many and few ----


@pytest.mark.parametrize(
    ("text", "opposite", "id"),
    [
        ("fuel meter above plate", "fuel meter below plate", "meter_high"),
        ("fuel meter over plate", "fuel meter under plate", "meter_high"),
        ("too many clicks at the knob", "too few clicks at the knob", "meter_high"),
        ("left tank sucked flat", "right tank sucked flat", "left_flat"),
    ],
)
def test_a_word_of_the_other_side_never_means_the_same(text: str, opposite: str, id: str) -> None:
    assert (id, "present") in kept(text)
    assert id not in meant(opposite)


def test_no_side_takes_nothing_away() -> None:
    assert "left_flat" in meant("tank sucked flat")


@pytest.mark.parametrize(
    ("text", "side"),
    [
        ("over the mark", "+"),
        ("dial reads below", "-"),
        ("too few clicks", "-"),
        ("a few clicks", ""),
        ("soot all over the block", ""),
        ("smokes under load", ""),
    ],
)
def test_a_side_is_one_only_where_it_compares(text: str, side: str) -> None:
    tokens = [token for clause in clauses_of(text) for token in clause.tokens]
    assert {one[-1] for one in sides_of(tokens)} == set(side)


def test_what_is_under_the_mark_is_not_over_it() -> None:
    assert ("oil_above_mark", "present") in recorded("oil over the full mark")
    assert "oil_above_mark" not in {id for id, _ in recorded("oil under the full mark")}


# ---- a value that no quantity takes ----


@pytest.mark.parametrize(
    "text", ["depth gauge valve 4 mm deep", "depth gauge valve deep", "valve 0.1 inch deep depth gauge"]
)
def test_a_number_with_its_unit_hides_no_finding(text: str) -> None:
    assert "valve_deep" in meant(text)


def test_a_value_is_no_part_of_a_name() -> None:
    (words,) = [
        words for _, words, _, text, *_ in index_of(SMALL).rows if text == "depth gauge valve 3 mm deep"
    ]
    assert "deep" in words
    assert "mm" not in words
    assert without_values("runout 0.8 mm at the rim").split() == ["runout", "at", "the", "rim"]
    assert "v" in without_values("5 V reference dead")


def test_how_much_is_left_to_who_looks() -> None:
    """Whether so many millimetres are too many is not said by the words."""
    assert ("valve_deep", "present") not in kept("depth gauge valve 1 mm deep")
    readings = [part for part in read("depth gauge valve 4 mm deep").parts if part.kind == "reading"]
    assert [(part.value, part.id) for part in readings] == [(4.0, "")]


# ---- the job is history, what was seen is none ----


@pytest.mark.parametrize(
    ("text", "id"),
    [
        ("pulled the metering valve, sticky, put it back", "valve_stuck"),
        ("we pulled the metering valve sticky", "valve_stuck"),
        ("head off, chamber caked black today", "chamber_soot"),
        ("took the head off chamber caked black", "chamber_soot"),
        ("drained the air tank got antifreeze", "water_in_air"),
        ("new drain plug thread stripped", "plug_leaks"),
    ],
)
def test_what_was_seen_behind_the_work_is_heard(text: str, id: str) -> None:
    assert id in meant(text)
    assert [part for part in read(text).parts if part.kind == "history"] or text.startswith("head off,")


@pytest.mark.parametrize(
    "text",
    [
        "replaced the sticky metering valve",
        "pulled the sticky metering valve",
        "pulled the metering valve because it was sticky",
        "new metering valve cured the sticky one",
        "replaced the metering valve, cleaned the plug",
        "pulled the metering valve sticky and replaced",
        "drained the air tank",
    ],
)
def test_what_was_cured_is_no_fault_that_stands(text: str) -> None:
    assert not kept(text)
    assert any(part.kind == "history" for part in read(text).parts)


@pytest.mark.parametrize(
    ("clause", "seen"),
    [
        ("pulled the pump drive sheared", "pump drive sheared"),
        ("new starter won't crank", "starter won't crank"),
        ("new injectors fitted", None),
        ("head off and machined", None),
        ("removed the broken bolt", None),
        ("removed the leaking cracked pipe", None),
    ],
)
def test_where_what_was_seen_begins(clause: str, seen: str | None) -> None:
    at = seen_from(clause)
    assert (None if at is None else clause[at:]) == seen


def test_a_stripped_thread_is_a_fault_and_a_stripped_pump_is_work() -> None:
    assert not [part for part in read("drain plug thread stripped").parts if part.kind == "history"]
    assert [part for part in said("stripped the pump").parts if part.kind == "history"]


# ---- the very words ----


def test_a_sentence_that_is_a_name_or_alias_is_meant_so() -> None:
    assert ("piston_hole", "present") in kept("daylight through the piston")
    assert ("piston_hole", "present") in kept("Oil on top. Daylight through the piston!")
    assert not kept("daylight through the piston?")


def test_no_name_or_alias_is_lost() -> None:
    """Each is found by its plain words, or where it has hardly any, word for word."""
    index = index_of(KNOWN)
    by_words = {(index.ids[row[0]], row[3]) for row in index.rows}
    every = {(one.id, text) for one in KNOWN.findings.values() for text in one.aliases}
    assert len(every) > 1000
    assert sorted(text for id, text in every - by_words if index.called(bare(text)) is None) == []


# ---- circumstances ----


@pytest.mark.parametrize(
    ("text", "not_said"),
    [
        ("relay pulls in", "load"),
        ("pulled the plug", "load"),
        ("stop lever bent", "idle"),
        ("viscosity under grade", "hill"),
    ],
)
def test_a_word_of_another_sense_is_no_circumstance(text: str, not_said: str) -> None:
    assert not_said not in {part.id for part in said(text).parts if part.kind == "circumstance"}


@pytest.mark.parametrize(
    ("text", "id"), [("smokes when pulling", "load"), ("dies on a grade", "hill"), ("rough at idle", "idle")]
)
def test_the_same_words_are_circumstances_where_they_are(text: str, id: str) -> None:
    assert id in {part.id for part in said(text).parts if part.kind == "circumstance"}


def test_a_speed_is_no_weather() -> None:
    assert not [part for part in said("hunts below 1300").parts if part.id == "weather"]
    assert [part for part in said("below 10 degrees this morning").parts if part.id == "weather"]
    assert [part for part in said("minus 12 last night").parts if part.id == "weather"]


# ---- spelling ----


def test_a_word_of_ordinary_english_is_not_changed_into_a_word_of_the_trade() -> None:
    spelling = index_of(KNOWN).spelling
    assert {
        word: spelling.corrected(word) for word in rightly_spelt() if spelling.corrected(word) != word
    } == {}
    assert spelling.corrected("seepng") == "seeping"
    assert spelling.corrected("sleeping") == "sleeping"


@pytest.mark.parametrize("text", ["sleeping current", "drip timing", "insulation"])
def test_a_word_with_another_meaning_records_nothing(text: str) -> None:
    assert not (recorded(text) | offered(text))
