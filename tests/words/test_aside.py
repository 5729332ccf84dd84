"""What is said by the way is not recorded, and what is told of a test is not taken for a fault (plain English, and
common practice of the trade for tests and for how cylinders are named)."""

from __future__ import annotations

import pytest

from diagnose.words.shortened import SHORT
from diagnose.words.stems import stem
from tests.words.test_understanding import offered, recorded, said


@pytest.mark.parametrize(
    "text",
    [
        "can you check whether the belt is slipping",
        "tell me if the radiator leaks",
        "it smokes no more than the other trucks",
        "doesn't knock any worse under load",
        "never went over 95",
        "hums like it's breathing",
    ],
)
def test_what_is_said_by_the_way_is_not_recorded_and_not_lost(text: str) -> None:
    found = said(text)
    assert not {id for id, _ in recorded(text)} - {"noise_any"}
    assert found.not_understood or [part for part in found.parts if part.kind == "guess"]


@pytest.mark.parametrize(
    ("text", "finding"), [("feels like it's missing", "misfires"), ("sounds like a knock", "knock_any")]
)
def test_how_it_looks_or_sounds_is_still_heard(text: str, finding: str) -> None:
    assert finding in {id for id, _ in recorded(text) | offered(text)}


@pytest.mark.parametrize(
    "text",
    [
        "injector 5 line loosened and the knock stopped",
        "with the return blocked off rail comes up",
        "cut out 3 and 5, both drop",
        "smoke goes away when the number 2 line is cracked",
    ],
)
def test_a_test_is_neither_a_fault_nor_a_sign_that_went(text: str) -> None:
    assert recorded(text) <= {("smoke_any", "present")}


@pytest.mark.parametrize(
    "text",
    [
        "cut out 1 2 3 all drop, 5 no change",
        "killing 1 2 3 drops, nothing on 5",
        "cut out 1 to 6, no change on 5",
    ],
)
def test_a_cylinder_that_changes_nothing_when_cut_out_is_told(text: str) -> None:
    assert ("cutout_no_change", "present") in recorded(text)
    assert "cylinder 5" in {part.id for part in said(text).parts}


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("compression low on 3", ["cylinder 3"]),
        ("compression low on 3 and 5", ["cylinder 3", "cylinder 5"]),
        ("engine brake weak on cylinders 4 5 6", ["cylinder 4", "cylinder 5", "cylinder 6"]),
    ],
)
def test_numbers_of_cylinders_are_no_values(text: str, places: list[str]) -> None:
    parts = said(text).parts
    assert [id for part in parts if part.kind == "place" for id in (part.id, *part.also)] == places
    assert not [part for part in parts if part.kind == "reading"]


@pytest.mark.parametrize(
    ("text", "read", "bound"),
    [
        ("charging 13.1 instead of 28 volts", 13.1, 28),
        ("network resistance 60 ohm reads 121 ohm", 121, 60),
        ("oil pressure hot idle should be 40 psi reads 22 psi", 22, 40),
    ],
)
def test_what_should_be_is_no_reading(text: str, read: float, bound: float) -> None:
    parts = said(text).parts
    assert [part.value for part in parts if part.kind == "history"] == [bound]
    assert [part.value for part in parts if part.kind == "reading"] == [read]


def test_a_pressure_of_one_thing_is_none_of_another() -> None:
    assert not [part for part in said("boost holds at 1.9 bar").parts if part.kind == "reading" and part.id]


@pytest.mark.parametrize(
    ("text", "not_recorded"),
    [
        ("the engine started by itself no problem", ("started_by_itself", "absent")),
        ("front belt tight", ("belt_squeals", "absent")),
        ("turbo spins free", ("no_crank", "absent")),
        ("no fuel getting to the cylinders", ("fuel_from_cylinder", "absent")),
        ("fan belt good but squeals when wet", ("belt_squeals", "absent")),
        ("white smoke gone after warm up", ("white_smoke_warm", "present")),
        ("smoke test clean", ("smoke_any", "present")),
        ("runs on three cylinders", ("engine_will_not_stop", "present")),
        ("goes into low power mode", ("low_power", "present")),
    ],
)
def test_praise_and_denial_deny_only_what_they_are_against(text: str, not_recorded: tuple[str, str]) -> None:
    assert not_recorded not in recorded(text)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("stopped smoking", ("smoke_any", "absent")),
        ("goes into low power mode", ("derate_active", "present")),
        ("fan belt good but squeals when wet", ("belt_squeals", "present")),
    ],
)
def test_what_these_words_do_say_is_recorded(text: str, told: tuple[str, str]) -> None:
    assert told in recorded(text)


def test_what_never_happened_is_no_fact_of_the_machine() -> None:
    assert not [part for part in said("it never overheated before").parts if part.kind == "fact"]
    assert [part for part in said("overheated once last year").parts if part.kind == "fact"]


@pytest.mark.parametrize(
    ("short", "long"),
    [
        ("wht smk", "white smoke"),
        ("o/heats", "overheats"),
        ("w/pump leaking", "water pump leaking"),
        ("n/s", "no start"),
    ],
)
def test_words_shortened_on_job_cards_say_the_same(short: str, long: str) -> None:
    assert recorded(short) == recorded(long) != set()


def test_no_word_is_shortened_to_itself() -> None:
    assert all(spelt and spelt != [key] for key, spelt in SHORT.items())


@pytest.mark.parametrize(
    "words", ["valve valves", "gauge gauges", "noise noises", "lose lost losing", "die dying"]
)
def test_forms_of_one_word_have_one_stem(words: str) -> None:
    assert len({stem(word) for word in words.split()}) == 1
