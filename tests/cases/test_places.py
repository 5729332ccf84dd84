"""A finding told at a cylinder or bank: kept, folded, read, and made to agree with what was told of the whole."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import pytest

from diagnose.cases import scenario as scenarios
from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event, NewerEvent, Noted, Opened, Repaired, from_json, to_json
from diagnose.cases.understood import understood, without_places
from diagnose.diagnosis import diagnose
from diagnose.errors import DataError
from diagnose.knowledge.located import in_words, objection, place_of
from diagnose.moves.ending import complaints, gone
from diagnose.report.diagnosis_data import cause
from tests.shipped import shipped_knowledge

MISS, LOW = "misfire_one_cylinder", "compression_one_low"


def case(*told: tuple[str, str, str], **facts: str) -> Case:
    events: list[Event] = [Opened("C-1", facts=facts, sequence=1)]
    events += [Noted(f, state, place=place, sequence=n) for n, (f, state, place) in enumerate(told, 2)]
    return fold(1, events)


def seen(read: Case) -> list[tuple[str, str, str]]:
    return [(one.finding, one.state, one.place) for one in read.observations]


@pytest.mark.parametrize("place", ["", "cylinder 4", "bank left"])
def test_an_event_keeps_its_place(place: str) -> None:
    event = Noted(MISS, "present", place=place, sequence=3)
    assert from_json(to_json(event)) == event
    assert json.loads(to_json(event))["version"] == (2 if place else 1)  # as before where none is told


def test_a_note_from_before_places_is_read() -> None:
    old = json.loads(to_json(Noted(MISS, "present", sequence=3)))
    assert "place" not in old
    assert from_json(json.dumps(old)) == Noted(MISS, "present", sequence=3)
    with pytest.raises(NewerEvent):
        from_json(json.dumps(old | {"version": 4}))


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("cylinder 4", "cylinder 4", "cylinder 4"),
        ("cylinder  04", "cylinder 4", "cylinder 4"),
        ("bank b", "bank B", "bank B"),
        ("Left bank", "bank left", "left bank"),
        ("bank 2", "bank 2", "bank 2"),
        ("cylinder 0", "", ""),
        ("cylinder 25", "", ""),
        ("bank C", "", ""),
        ("port side", "", ""),
    ],
)
def test_how_a_place_is_written(text: str, place: str, words: str) -> None:
    assert place_of(text) == place
    assert in_words(place) == words


def test_each_place_has_its_own_latest_state() -> None:
    told = [(MISS, "present", "cylinder 4"), (MISS, "present", "cylinder 2"), (MISS, "absent", "cylinder 4")]
    assert seen(case(*told)) == [(MISS, "present", "cylinder 2"), (MISS, "absent", "cylinder 4")]


@pytest.mark.parametrize(
    ("told", "left"),
    [
        # it is there where it is at a place, which says more
        ([("present", ""), ("present", "cylinder 4")], [("present", "cylinder 4")]),
        ([("present", "cylinder 4"), ("present", "")], [("present", "cylinder 4")]),
        # gone later, it is gone everywhere; seen again at a place, it is there
        ([("present", "cylinder 4"), ("absent", "")], [("absent", "")]),
        ([("absent", ""), ("present", "cylinder 4")], [("present", "cylinder 4")]),
        # not at 2 says nothing against the machine having it
        ([("present", ""), ("absent", "cylinder 2")], [("present", ""), ("absent", "cylinder 2")]),
    ],
)
def test_a_place_and_the_whole_machine_agree(
    told: list[tuple[str, str]], left: list[tuple[str, str]]
) -> None:
    read = understood(shipped_knowledge(), case(*((MISS, state, place) for state, place in told))).case
    assert seen(read) == [(MISS, state, place) for state, place in left]


@pytest.mark.parametrize("place", ["the front", "cylinder 99", "bank A", "cylinder four"])
def test_a_place_that_the_knowledge_does_not_tell_it_by_is_passed_over(place: str) -> None:
    """An event of another program, or of a knowledge of before."""
    read = understood(shipped_knowledge(), case((MISS, "present", place))).case
    assert seen(read) == [(MISS, "present", "")]
    assert seen(understood(shipped_knowledge(), case(("low_power", "present", "cylinder 4"))).case) == [
        ("low_power", "present", "")
    ]


def test_what_is_worse_than_at_any_place_stays() -> None:
    read = understood(shipped_knowledge(), case((LOW, "none", ""), (LOW, "low", "cylinder 4"))).case
    assert seen(read) == [(LOW, "none", ""), (LOW, "low", "cylinder 4")]


def test_gone_where_it_was_is_gone() -> None:
    """After a repair: sound at the cylinder that missed is a machine that does not miss; at another it is not."""
    first = case((MISS, "present", "cylinder 4"))
    for place, left in (("cylinder 4", [(MISS, "absent", "")]), ("cylinder 2", [])):
        events = (
            *first.history,
            Repaired(("x",), sequence=3),
            Noted(MISS, "absent", place=place, sequence=4),
        )
        whole = without_places(shipped_knowledge(), fold(1, events))
        assert seen(replace(whole, epochs=whole.epochs[1:])) == left
        assert [one.id for one in complaints(shipped_knowledge(), fold(1, events))] == (
            [] if left else [MISS]
        )
        assert gone(shipped_knowledge(), fold(1, events)) == bool(left)


def test_the_machine_as_a_whole_shows_the_worst() -> None:
    told = case((LOW, "none", "cylinder 2"), (LOW, "normal", "cylinder 4"), (MISS, "present", "cylinder 2"))
    assert seen(without_places(shipped_knowledge(), told)) == [(LOW, "none", ""), (MISS, "present", "")]
    told = case((LOW, "normal", "cylinder 4"), (MISS, "present", ""), (MISS, "absent", "cylinder 2"))
    assert seen(without_places(shipped_knowledge(), told)) == [(MISS, "present", "")]
    plain = case((MISS, "present", ""))
    assert without_places(shipped_knowledge(), plain) is plain


@pytest.mark.parametrize(
    ("finding", "place", "facts", "before", "says"),
    [
        (MISS, "cylinder 4", {}, "", ""),
        (MISS, "cylinder 8", {"cylinders": "6"}, "", "the engine has 6"),
        (MISS, "bank A", {}, "", "told by cylinder, not by bank"),
        ("low_power", "cylinder 4", {}, "", "is not told by cylinder or bank"),
        ("one_bank_weak", "bank A", {"layout": "inline"}, "", "stand in one line"),
        ("one_bank_weak", "bank A", {"layout": "two banks"}, "bank B", ""),
        ("one_bank_weak", "bank left", {"layout": "two banks"}, "bank B", "say which of these"),
    ],
)
def test_places_that_cannot_be(
    finding: str, place: str, facts: dict[str, str], before: str, says: str
) -> None:
    found = objection(shipped_knowledge(), facts, finding, place, before)
    assert says in found
    assert bool(says) == bool(found)


def test_a_scenario_says_where() -> None:
    machine = "{{number: X-1, family: common_rail_inline_six}}"
    text = f"scenario: one\ntitle: One\nmachine: {machine}\ncomplaint: misses\nevents:\n  - {{}}\n"
    for entry, place in (
        (f"{{note: {MISS}, at: cylinder 4}}", "cylinder 4"),
        ("{code: SPN 654 FMI 5}", "cylinder 4"),
        ("{code: P0302}", "cylinder 2"),
    ):
        read = scenarios.loads(text.format(entry), "one.yaml", shipped_knowledge()).case()
        assert [one.place for one in read.observations] == [place]
    for entry in (
        f"{{note: {MISS}, at: bank A}}",
        f"{{note: {MISS}, at: the front}}",
        "{note: low_power, at: cylinder 1}",
    ):
        with pytest.raises(DataError, match="S009"):
            scenarios.loads(text.format(entry), "one.yaml", shipped_knowledge())


# ---- the shipped knowledge ----


@cache
def found(*told: tuple[str, str, str], **facts: str) -> dict[str, float]:
    read = diagnose(shipped_knowledge(), case(*told, **facts))
    return {one.id: one.probability for one in read.causes}


def test_no_place_told_no_number_changes() -> None:
    """The knowledge with its places and without them: the same to the last bit."""
    known = shipped_knowledge()
    bare = replace(
        known,
        causes={id: replace(one, located="", several=False) for id, one in known.causes.items()},
        conditions={id: replace(one, located="") for id, one in known.conditions.items()},
        findings={id: replace(one, located="") for id, one in known.findings.items()},
    )
    for told in ([(MISS, "present", "")], [(LOW, "low", ""), ("one_bank_smokes", "present", "")]):
        one, other = (diagnose(which, case(*told)) for which in (known, bare))
        assert [(c.id, c.probability, c.place) for c in one.causes] == [
            (c.id, c.probability, "") for c in other.causes
        ]


def test_two_codes_at_two_cylinders_are_the_harness_and_at_one_the_coil() -> None:
    code, facts = "injector_circuit_code", {"cylinders": "6", "injection_control": "electronic"}
    one = found((code, "present", "cylinder 3"), **facts)
    two = found((code, "present", "cylinder 3"), (code, "present", "cylinder 5"), **facts)
    assert two["injector_harness_damaged"] > one["injector_harness_damaged"] + 0.2
    assert two["injector_coil_open"] < one["injector_coil_open"] / 10


def test_where_the_cause_is_stands_in_the_json() -> None:
    told = [(MISS, "present", "cylinder 5"), ("lash_found_wide", "present", "cylinder 5")]
    read = diagnose(shipped_knowledge(), case(*told, cylinders="6"))
    first = next(one for one in read.causes if one.id == "cam_lobe_worn")
    assert first.place == "cylinder 5"
    assert cause(first, ())["place"] == "cylinder 5"
    assert cause(replace(first, place=""), ())["place"] is None
    assert not read.thinned
    assert {one.finding for one in read.unexplained} == {MISS, "lash_found_wide"}


def test_planning_sees_what_a_repair_leaves() -> None:
    """The machine as a whole stands behind decisions: there is one with the places and one without."""
    told = [(MISS, "present", "cylinder 5"), ("lash_found_wide", "present", "cylinder 5")]
    read = diagnose(shipped_knowledge(), case(*told, cylinders="6"))
    assert read.whole is not read
    assert not read.whole.built.places
    assert read.whole.whole is read.whole
