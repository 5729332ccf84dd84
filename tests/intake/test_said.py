"""Codes, states, places and tests by taking away in what is typed."""

from __future__ import annotations

from typing import Any

import pytest

from diagnose.cases.events import Coded, Event, Noted
from diagnose.errors import CallError
from diagnose.intake.note import grouped, in_state, located, note, which_state
from diagnose.intake.outcome import Choice, Intake
from diagnose.intake.places import place_behind, told_at
from tests.intake.engine import case, engine

KNOWN = engine()
NOW = "2024-05-01T10:00:00Z"
EIGHT = {"cylinders": "8", "layout": "two banks"}


def take(text: str, *events: Event, facts: dict[str, str] | None = None, **how: Any) -> Intake:
    return note(KNOWN, case(*events, facts=facts), text, **how)


def set_to(found: Intake) -> list[tuple[str, str, str]]:
    return [(one.finding, one.state, one.place) for one in found.events if isinstance(one, Noted)]


# ---- codes ----


def test_a_code_sets_all_that_list_it_and_names_the_cylinder_of_those_told_by_it() -> None:
    """SPN 651 is the injector of cylinder 1 (SAE J1939-71, from memory): 654 that of cylinder 4."""
    found = take("SPN 654 FMI 5 x3", now=NOW)
    kept: dict[str, Any] = {"code": "SPN 654 FMI 5", "knowledge": KNOWN.version, "time": NOW}
    assert found.events == (
        Noted("injector_code", "present", "sure", "SPN 654 FMI 5 x3", place="cylinder 4", **kept),
        Noted("fuel_code", "present", "sure", "SPN 654 FMI 5 x3", **kept),
    )
    assert found.words == (
        "SPN 654 FMI 5 -> Injector circuit code (cylinder 4)", "SPN 654 FMI 5 -> Fuel code"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "how", "confidence"),
    [
        ("P2291", {}, "sure"),
        ("P2291 active", {}, "sure"),
        ("P2291 pending", {}, "likely"),
        ("P2291 previously active", {}, "likely"),
        ("P2291 pending", {"confidence": "unsure"}, "unsure"),
        ("P2291 pending", {"absent": True}, "sure"),
        ("no P2291 pending", {}, "sure"),
    ],
)
def test_a_code_not_confirmed_or_of_before_is_likely_only(
    text: str, how: dict[str, Any], confidence: str
) -> None:
    (event,) = take(text, **how).events
    assert isinstance(event, Noted)
    assert event.confidence == confidence
    assert event.state == ("absent" if how.get("absent") or text.startswith("no ") else "present")


def test_a_code_that_nothing_lists_is_kept_as_it_was_typed() -> None:
    found = take("SPN 97 FMI 4 x2", now=NOW)
    assert found.events == (Coded("SPN 97 FMI 4", "SPN 97 FMI 4 x2", knowledge=KNOWN.version, time=NOW),)
    with pytest.raises(CallError, match="not in the knowledge"):
        take("SPN 97 FMI 4", absent=True)


@pytest.mark.parametrize("text", ["SPN", "fmi 3", "s97 f", "P2z91", "U 12"])
def test_what_looks_like_a_code_and_is_none_is_an_error_of_a_code(text: str) -> None:
    with pytest.raises(CallError) as error:
        take(text)
    looks = text != "U 12"
    assert ("nothing that the knowledge knows" in str(error.value)) is not looks


# ---- states and words ----


def test_states_by_name() -> None:
    assert set_to(take("squeeze = LOW")) == [("squeeze", "low", "")]
    assert set_to(take("squeeze of the bores", state="None")) == [("squeeze", "none", "")]
    assert set_to(take("squeeze", absent=True)) == [("squeeze", "normal", "")]
    assert set_to(take("rattle")) == [("rattle", "present", "")]
    with pytest.raises(CallError, match="has no state"):
        take("squeeze = lofty")
    with pytest.raises(CallError, match="but not both"):
        take("squeeze", state="low", absent=True)


def test_a_state_among_the_words_counts_where_it_is_the_only_one() -> None:
    assert set_to(take("squeeze of the bores low")) == [("squeeze", "low", "")]
    asked = take("squeeze of the bores low none")
    assert not asked.events
    assert asked == which_state(KNOWN.findings["squeeze"])
    assert asked.question == "Squeeze of the bores: which is it?"
    assert asked.choices == tuple(
        Choice(f"squeeze = {state}", f"Squeeze of the bores: {state}") for state in ("normal", "low", "none")
    )


def test_a_finding_chosen_with_its_state() -> None:
    found = in_state(KNOWN, KNOWN.findings["squeeze"], "low", "likely", "weak on two")
    assert found.events == (Noted("squeeze", "low", "likely", "weak on two", knowledge=KNOWN.version),)
    assert found.words == ("Squeeze of the bores: low",)


def test_what_was_noted_before_is_said() -> None:
    before = [Noted("rattle", "present"), Noted("squeeze", "low", place="cylinder 2")]
    assert take("rattle", *before).words == ("Belt rattles (as noted before)",)
    assert take("rattle", *before, absent=True).words == ("Belt rattles: absent (was: present)",)
    assert take("squeeze = none at cylinder 2", *before, facts=EIGHT).words == (
        "Squeeze of the bores: none (cylinder 2) (was: low)",
    )
    assert take("squeeze = none at cylinder 3", *before, facts=EIGHT).words == (
        "Squeeze of the bores: none (cylinder 3)",
    )


@pytest.mark.parametrize("text", ["", "   "])
def test_nothing_is_refused(text: str) -> None:
    with pytest.raises(CallError, match="nothing to note"):
        take(text)


def test_names_of_findings_and_codes_stand_alone_other_words_belong_together() -> None:
    for words in (("rattle", "P2291"), ("misfire", "steady_miss")):
        assert grouped(KNOWN, words) == words
    assert grouped(KNOWN, ("belt", "rattles")) == ("belt rattles",)
    assert grouped(KNOWN, ("belt rattles", "noisy")) == ("belt rattles", "noisy")
    assert grouped(KNOWN, ("Rattle",)) == ("Rattle",)


# ---- places ----


@pytest.mark.parametrize(
    ("text", "parted"),
    [
        ("squeeze = low at cylinder 4", ("squeeze = low", "cylinder 4")),
        ("weak at left bank", ("weak", "bank left")),
        ("smoke at idle", ("smoke at idle", "")),
        (" at cylinder 4", (" at cylinder 4", "")),
        ("squeeze at idle at cylinder 4", ("squeeze at idle", "cylinder 4")),
    ],
)
def test_a_place_behind_a_text(text: str, parted: tuple[str, str]) -> None:
    assert place_behind(text) == parted


def test_the_record_that_is_told_at_a_place() -> None:
    def at(id: str, place: str) -> str:
        found = told_at(KNOWN, id, place)
        return found.id if found else ""

    assert at("squeeze", "cylinder 4") == "squeeze"
    assert at("squeeze", "bank left") == ""
    assert at("bank_weak", "bank left") == "bank_weak"
    assert at("misfire", "cylinder 4") == "steady_miss"  # the one kind of it that is told by cylinder
    assert at("misfire", "bank left") == at("rattle", "cylinder 4") == at("unheard of", "cylinder 4") == ""


def test_a_finding_is_noted_at_each_place() -> None:
    found = take("squeeze = low", facts=EIGHT, places=["cylinder 2", "cylinder 5"])
    assert set_to(found) == [("squeeze", "low", "cylinder 2"), ("squeeze", "low", "cylinder 5")]
    assert found.words == ("Squeeze of the bores: low (cylinder 2)", "Squeeze of the bores: low (cylinder 5)")
    both = take("squeeze = low at cylinder 3", facts=EIGHT, places=["cylinder 2"])
    assert [place for _, _, place in set_to(both)] == ["cylinder 2", "cylinder 3"]


def test_a_general_finding_is_noted_as_the_kind_that_is_told_there() -> None:
    present, absent = (
        take("misfire", facts=EIGHT, places=["cylinder 2"], absent=gone) for gone in (False, True)
    )
    assert set_to(present) == [("steady_miss", "present", "cylinder 2")]
    assert present.words == ("One cylinder dead (cylinder 2)",)
    assert set_to(absent) == [("steady_miss", "absent", "cylinder 2")]
    assert absent.words == ("One cylinder dead: absent (cylinder 2)",)


def test_the_place_that_a_code_names_stays() -> None:
    found = take("SPN 654 FMI 5", facts=EIGHT, places=["cylinder 2"])
    assert set_to(found) == [("injector_code", "present", "cylinder 4"), ("fuel_code", "present", "")]


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ("squeeze = low", "cylinder 9", "There is no cylinder 9: the engine has 8"),
        ("rattle", "cylinder 2", "“Belt rattles” is not told by cylinder or bank"),
        ("bank_weak", "bank A", "The banks were called as in “bank left” before"),
    ],
)
def test_a_place_that_cannot_be_is_refused(text: str, place: str, says: str) -> None:
    with pytest.raises(CallError) as error:
        take(text, Noted("bank_weak", "present", place="bank left"), facts=EIGHT, places=[place])
    assert str(error.value).startswith(says)


def test_without_a_place_or_an_event_all_stays_as_it_is() -> None:
    plain = Intake((Noted("squeeze", "low"),), ("Squeeze",))
    assert located(KNOWN, case(), plain, ()) is plain
    question = Intake(question="Which?")
    assert located(KNOWN, case(), question, ["cylinder 2"]) is question


# ---- tests by taking away ----


def tried(text: str, *events: Event, **how: Any) -> list[tuple[str, str]]:
    return [(id, state) for id, state, _ in set_to(take(text, *events, **how))]


RATTLES = Noted("rattle", "present")


def test_what_goes_was_there_before() -> None:
    assert tried("rattle gone with the belt off") == [("rattle", "present"), ("rattle@belt", "gone")]
    assert tried("rattle gone with the belt off", RATTLES) == [("rattle@belt", "gone")]
    assert tried("rattle@belt = gone", RATTLES) == [("rattle@belt", "gone")]
    assert tried("rattle still there with the belt off", RATTLES) == [("rattle@belt", "still there")]
    assert tried("rattle gone with the belt off", RATTLES, absent=True) == [("rattle@belt", "still there")]


def test_a_part_that_the_machine_does_not_have_was_not_taken_off() -> None:
    text = "rattle gone with the ground strap off"
    assert tried(text, RATTLES, facts={"system": "24 V"}) == [("rattle@strap", "gone")]
    assert ("rattle@strap", "gone") not in tried(text, RATTLES, facts={"system": "12 V"})


def test_it_means_what_is_there() -> None:
    assert tried("gone with the belt off", RATTLES) == [("rattle@belt", "gone")]
    asked = take("gone with the belt off", RATTLES, Noted("misfire", "present"))
    assert asked.question == "“gone with the belt off”: what is it of?"
    assert {choice.text for choice in asked.choices} == {"rattle@belt = gone", "misfire@belt = gone"}
    assert all("gone" in choice.label for choice in asked.choices)
    assert tried("gone with the belt off", RATTLES, Noted("misfire", "absent")) == [("rattle@belt", "gone")]


def test_what_is_the_very_name_of_a_finding_is_that_finding() -> None:
    assert tried("misfire gone with the belt off", RATTLES) == [("better_off", "present")]
