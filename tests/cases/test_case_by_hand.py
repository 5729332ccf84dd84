"""Cases of a few events, folded by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import Case, Measurement, Observation, advance, fold, withdrawn
from diagnose.cases.events import (
    COOLING,
    CUSTOMER,
    NOTHING,
    PARTS,
    Checked,
    Closed,
    Coded,
    Event,
    Learnt,
    Measured,
    Noted,
    Opened,
    OpenedUp,
    Reopened,
    Repaired,
    Waiting,
    Waits,
    Withdrawn,
)
from diagnose.network.machine import Machine

OPENED = Opened("D-07", "plough", {"duty": "road"}, 900.0, {"pump": 40.0}, "no start", 50.0)


def numbered(*events: Event) -> tuple[Event, ...]:
    return tuple(replace(event, sequence=number) for number, event in enumerate(events, 1))


def case_of(*events: Event) -> Case:
    return fold(7, numbered(OPENED, *events))


def test_what_the_opening_tells() -> None:
    of = case_of()
    assert of.machine == Machine("D-07", "plough", {"duty": "road"}, 900.0, {"pump": 40.0}, 50.0)
    assert (of.number, of.complaint, of.inspection, len(of.epochs)) == (7, "no start", False, 1)
    assert fold(7, [replace(OPENED, inspection=True, sequence=1)]).inspection
    assert not Case(7).inspection


def test_what_is_learnt_later_is_added_and_takes_nothing_away() -> None:
    more = case_of(
        Learnt({"fuel": "old"}, renewed={"belt": 1.0}), Learnt(hours=910.0), Learnt(last_right=0.0)
    )
    assert more.machine == Machine(
        "D-07", "plough", {"duty": "road", "fuel": "old"}, 910.0, {"pump": 40.0, "belt": 1.0}, 0.0
    )
    assert case_of(Learnt({"duty": "standby"}, 0.0)).machine.facts == {"duty": "standby"}
    assert case_of(Learnt(hours=0.0)).machine.hours == 0.0


def test_all_of_an_observation_is_kept() -> None:
    noted = Noted("hiss", "loud", "likely", "hisses", 2.0, "kPa", "17-3", "cylinder 4")
    first, second = case_of(noted, Repaired(("weld",)), replace(noted, text="still")).observations
    assert first == Observation("hiss", "loud", "likely", 2.0, "kPa", "hisses", 2, 0, "17-3", "cylinder 4")
    assert second == replace(first, text="still", event=4, epoch=1)


def test_before_any_event_all_is_of_the_first_epoch() -> None:
    plain, read = Observation("hiss", "loud"), Measurement("rail", 1.0, "MPa")
    assert (plain.event, plain.epoch, read.event, read.epoch) == (0, 0, 0, 0)


def test_one_observation_a_place_the_latest_last() -> None:
    of = case_of(Noted("hiss", "loud", place="cylinder 4"), Noted("hiss", "faint"), Noted("knock", "present"),
                 Noted("hiss", "none", place="cylinder 4"))  # fmt: skip
    assert [(one.finding, one.place, one.state) for one in of.observations] == [
        ("hiss", "", "faint"), ("knock", "", "present"), ("hiss", "cylinder 4", "none")
    ]  # fmt: skip


def test_one_measurement_a_quantity_the_latest_last() -> None:
    of = case_of(
        Measured("rail", 1.0, "MPa"),
        Measured("boost", 2.0, "kPa", "likely", "two"),
        Measured("rail", 3.0, "MPa"),
    )
    boost = Measurement("boost", 2.0, "kPa", "likely", "two", 3, 0)
    assert of.epochs[0].measured == (boost, Measurement("rail", 3.0, "MPa", event=4))
    later = case_of(Measured("rail", 1.0, "MPa"), Repaired(("weld",)), Measured("rail", 3.0, "MPa"))
    assert [[(one.value, one.epoch) for one in epoch.measured] for epoch in later.epochs] == [
        [(1, 0)],
        [(3, 1)],
    ]


@pytest.mark.parametrize("begun", [Checked("look"), OpenedUp("cover"), Repaired(("weld",))])
def test_it_came_in_for_what_was_noted_before_anything_was_done(begun: Event) -> None:
    of = case_of(
        Noted("smoke", "present"),
        Noted("knock", "present"),
        Noted("smoke", "absent"),
        begun,
        Noted("hiss", "loud"),
    )
    assert of.came_in_for == ("smoke", "knock")


def test_checks_and_what_stands_open_once_each_in_order_of_first_mention() -> None:
    of = case_of(Checked("look"), Checked("listen"), Checked("look"), OpenedUp("cover"), OpenedUp("sump"),
                 OpenedUp("cover"), Coded("17-3"), Coded("9-1"), Coded("17-3"))  # fmt: skip
    assert (of.checks_done, of.epochs[0].checks) == (("look", "listen"), ("look", "listen"))
    assert (of.access_open, of.codes_not_used) == (("cover", "sump"), ("17-3", "9-1"))
    after = case_of(
        Checked("look"), OpenedUp("cover"), Repaired(("weld",), ("crack",), ("sump",)), Checked("look")
    )
    assert [epoch.checks for epoch in after.epochs] == [("look",), ("look",)]
    assert (after.checks_done, after.access_open) == (("look",), ("sump",))
    assert (after.epochs[1].repairs, after.epochs[1].causes) == (("weld",), ("crack",))


def test_closed_and_come_back() -> None:
    closed = Closed(("crack",))
    assert case_of(closed).closed == replace(closed, sequence=2)
    assert case_of(closed, Reopened()).closed is None


@pytest.mark.parametrize(
    ("reason", "event", "still"),
    [
        (PARTS, Noted("smoke", "present"), True),
        (PARTS, Checked("look"), True),
        (PARTS, Repaired(("weld",)), False),
        (PARTS, Closed(()), False),
        (PARTS, Withdrawn(1), True),
        (CUSTOMER, Repaired(("weld",)), True),
        (CUSTOMER, Closed(()), False),
        (CUSTOMER, Reopened(), False),
        (COOLING, Noted("smoke", "present"), False),
        (COOLING, Withdrawn(1), True),
        (PARTS, Waits(CUSTOMER), True),
        (PARTS, Waits(NOTHING), False),
        (COOLING, Waits(COOLING), True),
    ],
)
def test_how_long_a_case_waits(reason: Waiting, event: Event, still: bool) -> None:
    """Parts are there once they are in; whoever goes on finds it cool; a withdrawal is no work."""
    assert case_of(Waits(reason)).waits is not None
    of = fold(7, numbered(Coded("9-1"), OPENED, Waits(reason), event))
    assert (of.waits is not None) == still
    if isinstance(event, Waits) and still:
        assert of.waits is not None
        assert of.waits.reason == event.reason


def test_a_withdrawal_takes_back_what_came_before_it() -> None:
    """Not itself, not what comes later; one that was itself withdrawn takes nothing back."""
    events = numbered(
        Coded("1"), Coded("2"), Withdrawn(2), Withdrawn(4), Withdrawn(6), Coded("6"), Withdrawn(3)
    )
    assert withdrawn(events) == {3}
    assert fold(7, events).codes_not_used == ("1", "2", "6")
    assert fold(7, events).withdrawn == {3}
    assert fold(7, events[:3]).codes_not_used == ("1",)
    for number in range(1, len(events)):
        assert advance(fold(7, events[:number]), events[number]) == fold(7, events[: number + 1])
