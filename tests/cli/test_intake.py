"""What was typed -> events: the small knowledge has two white smokes, ordered states, shared words and codes."""

from dataclasses import replace

import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Checked, Coded, Noted, Opened, OpenedUp, Repaired
from diagnose.errors import CallError
from diagnose.intake.done import checked, repaired
from diagnose.intake.note import grouped, note
from diagnose.knowledge.records import Knowledge

NEW = Case(1)


def noted(knowledge: Knowledge, text: str, **how: object) -> list[tuple[str, str]]:
    found = note(knowledge, NEW, text, **how)  # type: ignore[arg-type]
    return [(event.finding, event.state) for event in found.events if isinstance(event, Noted)]


@pytest.mark.parametrize(
    ("text", "finding", "state"),
    [
        ("no start", "no_start", "present"),
        ("cranks but will not start", "no_start", "present"),
        ("no_start", "no_start", "present"),
        ("metal in the filter", "metal_in_filter", "present"),
        ("no metal in the filter", "metal_in_filter", "absent"),
        ("rail pressure cranking 2.1 MPa", "rail_pressure", "low"),
        ("2.1 MPa rail pressure cranking", "rail_pressure", "low"),
        ("rail pressure cranking 300 psi", "rail_pressure", "low"),  # 300 psi = 2.07 MPa (NIST SP 811, B.8)
        ("rail pressure cranking 20 MPa", "rail_pressure", "normal"),
        ("rail pressure cranking = none", "rail_pressure", "none"),
        ("battery at rest 12.1 V", "battery_rest", "low"),
        ("battery at rest 11 V", "battery_rest", "dead"),
        ("SPN 164 FMI 18", "pressure_code", "present"),
        ("164/18", "pressure_code", "present"),
        ("p2291", "pressure_code", "present"),
        ("no P2291", "pressure_code", "absent"),
    ],
)
def test_text_becomes_one_finding_in_a_state(small: Knowledge, text: str, finding: str, state: str) -> None:
    assert noted(small, text) == [(finding, state)]


def test_not_means_the_first_state(small: Knowledge) -> None:
    assert noted(small, "no start", absent=True) == [("no_start", "absent")]
    assert noted(small, "battery at rest low", absent=True) == [("battery_rest", "normal")]


def test_value_unit_code_words_and_confidence_are_kept(small: Knowledge) -> None:
    (reading,) = note(small, NEW, "rail pressure cranking 2.1 MPa", confidence="likely").events
    assert reading == Noted(
        "rail_pressure",
        "low",
        "likely",
        "rail pressure cranking 2.1 MPa",
        2.1,
        "MPa",
        knowledge=small.version,
    )
    (code,) = note(small, NEW, "P2291 x3").events
    assert isinstance(code, Noted)
    assert (code.code, code.text) == ("P2291", "P2291 x3")


def test_unknown_code_is_kept_and_said_not_to_be_used(small: Knowledge) -> None:
    found = note(small, NEW, "SPN 97 FMI 4")
    assert [type(event) for event in found.events] == [Coded]
    assert "not used" in found.words[0]


@pytest.mark.parametrize("text", ["white smoke", "no white smoke", "smoke"])
def test_several_close_findings_are_a_question(small: Knowledge, text: str) -> None:
    found = note(small, NEW, text)
    assert not found.events
    assert {choice.text.split(" = ")[0] for choice in found.choices} >= {"steam_white", "smoke_warm"}


def test_an_answer_to_the_question_is_clear_and_keeps_the_first_words(small: Knowledge) -> None:
    for text, state in (("white smoke", "present"), ("no white smoke", "absent")):
        for choice in note(small, NEW, text).choices:
            (event,) = note(small, NEW, choice.text, as_written=text).events
            assert isinstance(event, Noted)
            assert (event.state, event.text) == (state, text)


def test_ordered_states_are_asked_for_unless_named(small: Knowledge) -> None:
    asked = note(small, NEW, "rail_pressure")
    assert [choice.text for choice in asked.choices] == [
        "rail_pressure = normal",
        "rail_pressure = low",
        "rail_pressure = none",
    ]
    assert noted(small, "rail_pressure", state="none") == [("rail_pressure", "none")]
    assert noted(small, "rail pressure cranking low") == [("rail_pressure", "low")]


def test_negated_words_never_set_an_ordered_state_by_themselves(small: Knowledge) -> None:
    found = note(small, NEW, "no rail pressure cranking")
    assert not found.events
    assert found.choices


def test_a_value_that_fits_several_quantities_is_a_question(small: Knowledge) -> None:
    found = note(small, NEW, "battery 12.1 V")
    assert {choice.text for choice in found.choices} == {
        "battery voltage at rest 12.1 V",
        "battery voltage cranking 12.1 V",
    }
    assert all(note(small, NEW, choice.text).events for choice in found.choices)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "nothing to note"),
        ("xyzzy plugh", "nothing that the knowledge knows"),
        ("SPN 164", "needs its FMI"),
        ("SPN 164 FMI 99", "0 to 31"),
        ("P22O1", "P2201"),  # the letter O
        ("rail pressure cranking 2.1 V", "is a"),
        ("rail pressure cranking nan MPa", "not a value"),
        ("rail_pressure = lofty", "no state"),
        ("no SPN 97 FMI 4", "not in the knowledge"),
    ],
)
def test_what_cannot_be_is_an_error_that_says_why(small: Knowledge, text: str, says: str) -> None:
    with pytest.raises(CallError) as error:
        note(small, NEW, text)
    assert says in str(error.value)


def test_a_state_and_not_together_are_refused(small: Knowledge) -> None:
    with pytest.raises(CallError):
        note(small, NEW, "no_start", absent=True, state="present")


def test_words_tell_what_was_noted_before(small: Knowledge) -> None:
    (event,) = note(small, NEW, "no start").events
    case = fold(1, [Opened("P-1", sequence=1), replace(event, sequence=2)])
    assert note(small, case, "no start").words == ("Cranks but does not start (as noted before)",)
    assert note(small, case, "no start", absent=True).words[0].endswith("(was: present)")


@pytest.mark.parametrize(
    ("typed", "texts"),
    [
        (("white", "smoke"), ("white smoke",)),
        (("164/18", "p2291"), ("164/18", "p2291")),
        (("no_start", "steam_white"), ("no_start", "steam_white")),
        (("SPN", "164", "FMI", "18"), ("SPN 164 FMI 18",)),
        (("no start", "white smoke warm"), ("no start", "white smoke warm")),
        (("no start, white smoke warm",), ("no start, white smoke warm",)),
        (("rail", "pressure", "cranking", "2.1", "MPa"), ("rail pressure cranking 2.1 MPa",)),
        (("battery at rest 12,1 V",), ("battery at rest 12,1 V",)),  # a decimal comma parts nothing
    ],
)
def test_words_given_one_by_one_are_put_together(
    small: Knowledge, typed: tuple[str, ...], texts: tuple[str, ...]
) -> None:
    assert grouped(small, typed) == texts


def test_a_check_done_opens_what_it_needs(small: Knowledge) -> None:
    assert [type(event) for event in checked(small, NEW, "look_under_cover").events] == [Checked, OpenedUp]
    open_already = replace(NEW, access_open=("cover_off",))
    assert [type(event) for event in checked(small, open_already, "look_under_cover").events] == [Checked]


def test_a_repair_covers_its_causes_and_the_causes_named(small: Knowledge) -> None:
    (event,) = repaired(small, ["replace_pump", "debris"]).events
    assert event == Repaired(("replace_pump",), ("pump_worn", "debris"), knowledge=small.version)


def test_states_in_words(small: Knowledge) -> None:
    assert small.findings["no_start"].in_words("present") == "Cranks but does not start"
    assert small.findings["no_start"].in_words("absent") == "Cranks but does not start: absent"
    assert small.findings["battery_rest"].in_words("dead") == "Battery voltage at rest is low: dead"
