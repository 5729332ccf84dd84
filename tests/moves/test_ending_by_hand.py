"""What a repair leaves to do, read from events alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from diagnose.cases.events import Checked, Closed, Event, Noted, Opened, Reopened, Repaired, Withdrawn
from diagnose.knowledge.records import Knowledge
from diagnose.moves.ending import (
    complaint_to_note,
    complaints,
    gone,
    proof_words,
    proofs,
    repaired,
    tried,
)
from tests.knowledge_by_hand import finding
from tests.moves.test_stops_by_hand import case, world

ROUGH, SMOOTH = Noted("rough", "present"), Noted("rough", "absent")
TURNS = Noted("bolt_turns", "present")
SENSOR, REFIT = Repaired(("renew_sensor",), ("sensor",)), Repaired(("refit",), ("loose",))


def known() -> Knowledge:
    """Rough and slow are complaints; refitting is proven in two steps, one of which the sensor has too."""
    plain = world()
    verify = {"refit": ("Try it.", "Check the bolts after 10 h."), "renew_sensor": ("Try it.",)}
    repairs = {id: replace(one, verify=verify[id]) for id, one in plain.repairs.items()}
    return replace(
        plain, repairs=repairs, findings={**plain.findings, "slow": finding("slow", 0.01, other=0.1)}
    )


@pytest.mark.parametrize(
    ("events", "to_note", "is_gone", "to_run"),
    [
        ([], False, False, False),
        ([ROUGH], False, False, False),
        ([SMOOTH], False, False, False),
        ([ROUGH, SENSOR], True, False, True),
        ([TURNS, SENSOR], False, False, False),  # came in without a complaint
        ([ROUGH, SENSOR, TURNS], True, False, True),
        ([ROUGH, SENSOR, SMOOTH], False, True, True),
        ([ROUGH, SENSOR, ROUGH], False, False, False),
        ([ROUGH, SENSOR, ROUGH, REFIT], True, False, True),
        ([ROUGH, SENSOR, SMOOTH, Noted("slow", "present")], False, False, False),
        ([ROUGH, SENSOR, SMOOTH, Noted("unheard_of", "present")], False, True, True),
    ],
)
def test_whether_it_was_tried_and_is_gone(
    events: Sequence[Event], to_note: bool, is_gone: bool, to_run: bool
) -> None:
    of = case(*events)
    assert complaint_to_note(known(), of) is to_note
    assert gone(known(), of) is is_gone
    assert tried(known(), of) is to_run


HOT_UPHILL, COOL_UPHILL = Noted("hot_uphill", "present"), Noted("hot_uphill", "absent")


@pytest.mark.parametrize(
    ("events", "to_note", "is_gone"),
    [
        ([HOT_UPHILL, SENSOR], True, False),
        ([HOT_UPHILL, SENSOR, COOL_UPHILL], False, True),
        ([HOT_UPHILL, SENSOR, HOT_UPHILL], False, False),
        ([HOT_UPHILL, ROUGH, SENSOR, COOL_UPHILL], True, False),  # it is rough that was complained of
        ([TURNS, Checked("look"), HOT_UPHILL, SENSOR], False, False),  # asked for, not told
        ([Noted("washed", "present"), SENSOR], False, False),  # no repair unwashes it
    ],
)
def test_without_a_complaint_what_was_told_at_first_must_be_gone(
    events: Sequence[Event], to_note: bool, is_gone: bool
) -> None:
    hot, washed = (replace(finding(id, 0.01), kind="question") for id in ("hot_uphill", "washed"))
    told = {"hot_uphill": hot, "washed": replace(washed, past=True)}
    plain = known()
    with_told, of = replace(plain, findings={**plain.findings, **told}), case(*events)
    assert complaint_to_note(with_told, of) is to_note
    assert gone(with_told, of) is is_gone


def test_the_complaints_are_those_last_seen_to_be_there() -> None:
    of = case(ROUGH, Noted("slow", "present"), TURNS, Noted("slow", "absent"), Noted("unheard_of", "present"))
    assert [one.id for one in complaints(known(), of)] == ["rough"]


def test_the_repairs_of_this_visit() -> None:
    back = Reopened("rough again")
    assert repaired(case(ROUGH, SENSOR, ROUGH, REFIT, SENSOR)) == ("renew_sensor", "refit")
    closed = [ROUGH, SENSOR, SMOOTH, Closed(("sensor",))]
    assert repaired(case(*closed)) == ("renew_sensor",)
    assert repaired(case(*closed, back, ROUGH)) == ()
    assert repaired(case(*closed, back, ROUGH, REFIT)) == ("refit",)
    assert repaired(case(*closed, Reopened("a slip", comeback=False), REFIT)) == ("renew_sensor", "refit")
    twice = [*closed, back, ROUGH, REFIT, Closed(("loose",)), back]
    assert repaired(case(*twice, ROUGH, SENSOR)) == ("renew_sensor",)
    withdrawn = case(ROUGH, SENSOR, REFIT, Withdrawn(3))
    assert repaired(withdrawn) == ("refit",)


def left(*events: Event) -> list[tuple[str, str, bool]]:
    of = case(ROUGH, SENSOR, ROUGH, REFIT, *events)
    return [(one.id, one.repair, one.later) for one in proofs(known(), of)]


def test_what_was_not_ticked_proves_it_the_same_step_once() -> None:
    assert left() == [("prove:refit:1", "refit", False), ("prove:refit:2", "refit", False)]
    assert left(Checked("prove:refit:1")) == [("prove:refit:2", "refit", False)]
    assert left(Checked("prove:refit:2", "later")) == [
        ("prove:refit:1", "refit", False), ("prove:refit:2", "refit", True)
    ]  # fmt: skip
    assert left(Checked("prove:refit:2", "later"), Checked("prove:refit:2", "done")) == [
        ("prove:refit:1", "refit", False)
    ]
    plain = known()
    hours = replace(plain.repairs["refit"], proven_after=(0.0, 10.0))
    timed = replace(plain, repairs={**plain.repairs, "refit": hours})
    for of, after in ((plain, 0.0), (timed, 10.0)):
        assert [(one.words, one.hours) for one in proofs(of, case(ROUGH, REFIT))] == [
            ("Try it.", 0.0), ("Check the bolts after 10 h.", after)
        ]  # fmt: skip


def test_what_was_ticked_before_the_last_repair_proves_nothing_of_it() -> None:
    of = case(ROUGH, REFIT, Checked("prove:refit:1"), ROUGH, SENSOR)
    assert [one.id for one in proofs(known(), of)] == ["prove:renew_sensor:1", "prove:refit:2"]


def test_a_tick_that_was_withdrawn_is_none() -> None:
    told = [Opened("M-1"), ROUGH, REFIT, Checked("prove:refit:1"), Withdrawn(4)]
    of = case(*told[1:])
    assert [one.id for one in proofs(known(), of)] == ["prove:refit:1", "prove:refit:2"]


def test_a_repair_that_the_knowledge_has_no_more_has_no_proof() -> None:
    assert proofs(known(), case(ROUGH, Repaired(("gone",), ()))) == ()
    assert proof_words(known(), "prove:refit:2") == "Check the bolts after 10 h."
    assert proof_words(known(), "prove:refit:3") == "prove:refit:3"
    assert proof_words(known(), "prove:gone:1") == "prove:gone:1"
