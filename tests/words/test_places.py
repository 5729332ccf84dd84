"""Cylinders and banks in what is said: which finding they go with, and what is no place."""

from __future__ import annotations

import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Noted, Opened
from diagnose.errors import CallError
from diagnose.hearing import hear
from diagnose.intake.note import note
from diagnose.understanding.place import places_in
from tests.shipped import shipped_knowledge

MISS = "misfire_one_cylinder"


def engine(**facts: str) -> Case:
    return fold(1, [Opened("V-8", facts={"cylinders": "8", "layout": "two banks"} | facts, sequence=1)])


def heard(text: str, case: Case | None = None) -> list[tuple[str, str, str]]:
    events = hear(shipped_knowledge(), case or engine(), text).intake.events
    return [(one.finding, one.state, one.place) for one in events if isinstance(one, Noted)]


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("misfire 4", ["cylinder 4"]),
        ("cyl. #3", ["cylinder 3"]),
        ("number three cylinder", ["cylinder 3"]),
        ("the third cylinder", ["cylinder 3"]),
        ("4th cylinder", ["cylinder 4"]),
        ("cylinders 2 and 5", ["cylinder 2", "cylinder 5"]),
        ("cylinders 1, 2 & 3", ["cylinder 1", "cylinder 2", "cylinder 3"]),
        ("miss on no. 6", ["cylinder 6"]),
        ("bank B", ["bank B"]),
        ("right-hand bank", ["bank right"]),
        ("replaced injector 2 weeks ago", []),
        ("cylinder 4 psi", []),
        ("injectors 6 times", []),
        ("misfire 30 minutes after the start", []),
        ("missing 2.5 l", []),
    ],
)
def test_what_is_a_place(text: str, places: list[str]) -> None:
    found = [id for part in places_in(text) for id in (part.id, *part.also)]
    assert [id for id in found if id.startswith(("cylinder", "bank"))] == places


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("misfire 4", [(MISS, "present", "cylinder 4")]),
        ("misfire on cylinder 4", [(MISS, "present", "cylinder 4")]),
        ("dead miss on number 5", [(MISS, "present", "cylinder 5")]),
        (f"{MISS} cylinder 4", [(MISS, "present", "cylinder 4")]),
        (f"{MISS} = absent at cylinder 2", [(MISS, "absent", "cylinder 2")]),
        ("misfire on cylinders 2 and 5", [(MISS, "present", "cylinder 2"), (MISS, "present", "cylinder 5")]),
        ("compression_one_low = low on cylinder 3", [("compression_one_low", "low", "cylinder 3")]),
        ("left bank weak", [("one_bank_weak", "present", "bank left")]),
        ("P0304", [("cylinder_balance_code", "present", "cylinder 4")]),
        ("SPN 654 FMI 5", [("injector_circuit_code", "present", "cylinder 4")]),
        # what is not told by cylinder keeps to itself
        ("white smoke, dead miss on number 5", [("white_smoke", "present", ""), (MISS, "present", "cylinder 5")]),
        # the place of one sentence is not that of another
        ("dead miss on number 5. One exhaust port much colder than the others",
         [(MISS, "present", "cylinder 5"), ("one_cylinder_runs_cold", "present", "")]),
        ("dead miss", [(MISS, "present", "")]),
    ],
)  # fmt: skip
def test_where_it_was_said_to_be(text: str, told: list[tuple[str, str, str]]) -> None:
    assert heard(text) == told


def test_a_question_keeps_the_place() -> None:
    """Where the words can mean several things, the answer is kept at the cylinder that was named."""
    asked = hear(shipped_knowledge(), engine(), "number three cylinder misfires").questions
    choice = next(one for question in asked for one in question.choices if one.text.startswith(MISS))
    assert choice.text == f"{MISS} = present at cylinder 3"
    assert "(cylinder 3)" in choice.label
    (event,) = note(shipped_knowledge(), engine(), choice.text).events
    assert isinstance(event, Noted)
    assert (event.finding, event.state, event.place) == (MISS, "present", "cylinder 3")


@pytest.mark.parametrize(
    ("text", "case", "says"),
    [
        (f"{MISS} at cylinder 12", engine(), "There is no cylinder 12: the engine has 8"),
        ("one_bank_weak at bank A", engine(layout="inline"), "There is no bank A"),
        ("low_power at cylinder 3", engine(), "is not told by cylinder or bank"),
        (f"{MISS} at bank A", engine(), "is told by cylinder, not by bank"),
    ],
)
def test_a_place_that_cannot_be_is_refused(text: str, case: Case, says: str) -> None:
    with pytest.raises(CallError, match=says):
        hear(shipped_knowledge(), case, text)


def test_the_words_name_the_place() -> None:
    assert note(shipped_knowledge(), engine(), f"{MISS} at cylinder 4").words == (
        "Steady miss of one cylinder (cylinder 4)",
    )
    assert note(shipped_knowledge(), engine(), "one_bank_weak at left bank").words[0].endswith("(left bank)")
