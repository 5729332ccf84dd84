from dataclasses import replace
from functools import reduce

from hypothesis import given
from hypothesis import strategies as st

from diagnose.cases.case import Case, Epoch, Observation, advance, fold
from diagnose.cases.events import (
    Checked,
    Closed,
    Coded,
    Event,
    Learnt,
    Noted,
    Opened,
    OpenedUp,
    Reopened,
    Repaired,
    Withdrawn,
)
from diagnose.network.machine import Machine
from tests.cases.strategies import acts, calm, histories


def case_of(*events: Event) -> Case:
    """The case opened for machine D-07, followed by these events."""
    every = (Opened("D-07", complaint="no start"), *events)
    return fold(1, tuple(replace(event, sequence=number) for number, event in enumerate(every, 1)))


def bare(case: Case) -> Case:
    """All but what is kept of the past."""
    return replace(case, history=(), withdrawn=frozenset())


@calm
@given(histories())
def test_replay_equals_the_running_case(events: tuple[Event, ...]) -> None:
    assert reduce(advance, events, Case(1)) == fold(1, events)


@calm
@given(histories(), acts)
def test_withdrawing_undoes_recording(events: tuple[Event, ...], act: Event) -> None:
    count = len(events)
    after = (*events, replace(act, sequence=count + 1), Withdrawn(count + 1, sequence=count + 2))
    assert bare(fold(1, after)) == bare(fold(1, events))


@calm
@given(histories(), acts)
def test_withdrawing_the_withdrawal_restores(events: tuple[Event, ...], act: Event) -> None:
    count = len(events)
    once = (*events, replace(act, sequence=count + 1))
    back = (Withdrawn(count + 1, sequence=count + 2), Withdrawn(count + 2, sequence=count + 3))
    assert bare(fold(1, (*once, *back))) == bare(fold(1, once))


@calm
@given(histories(), st.data())
def test_withdrawing_any_event_is_as_if_it_never_was(events: tuple[Event, ...], data: st.DataObject) -> None:
    """Of events that no withdrawal touches; the other events keep their numbers."""
    touched = {event.event for event in events if isinstance(event, Withdrawn)}
    free = [e.sequence for e in events if not isinstance(e, Withdrawn) and e.sequence not in touched]
    if not free:
        return
    number = data.draw(st.sampled_from(free))
    with_it = fold(1, (*events, Withdrawn(number, sequence=len(events) + 1)))
    without = fold(1, [event for event in events if event.sequence != number])
    assert bare(with_it) == bare(without)


@calm
@given(histories())
def test_nothing_is_lost_from_the_history(events: tuple[Event, ...]) -> None:
    assert fold(1, events).history == events


@calm
@given(histories())
def test_observations_know_their_epoch_and_event(events: tuple[Event, ...]) -> None:
    case = fold(1, events)
    noted = {event.sequence for event in events if isinstance(event, Noted)} - case.withdrawn
    for number, epoch in enumerate(case.epochs):
        assert {seen.epoch for seen in epoch.observations} <= {number}
        assert len({seen.finding for seen in epoch.observations}) == len(epoch.observations)
    assert {seen.event for seen in case.observations} <= noted


def test_the_latest_observation_of_a_finding_wins_within_an_epoch() -> None:
    case = case_of(
        Noted("a", "low"), Noted("b", "present"), Noted("a", "normal", "unsure", value=4.0, unit="MPa")
    )
    assert case.epochs == (
        Epoch(
            observations=(
                Observation("b", "present", event=3),
                Observation("a", "normal", "unsure", 4.0, "MPa", event=4),
            )
        ),
    )
    assert [event.sequence for event in case.history] == [1, 2, 3, 4]


def test_withdrawing_the_latest_brings_the_earlier_back() -> None:
    case = case_of(Noted("a", "low"), Noted("a", "normal"), Withdrawn(3))
    assert [(seen.state, seen.event) for seen in case.observations] == [("low", 2)]


def test_a_repair_starts_an_epoch_and_keeps_what_was_seen_before() -> None:
    case = case_of(
        Noted("a", "present"),
        Checked("look"),
        OpenedUp("cover_off"),
        OpenedUp("sump_off"),
        Repaired(("replace_pump",), ("pump_worn",), left_open=("sump_off",)),
        Noted("a", "present"),
        Checked("look"),
    )
    before, after = case.epochs
    assert (before.repairs, before.causes) == ((), ())
    assert (after.repairs, after.causes) == (("replace_pump",), ("pump_worn",))
    assert [(seen.event, seen.epoch) for seen in case.observations] == [(2, 0), (7, 1)]
    assert (before.checks, after.checks, case.checks_done) == (("look",), ("look",), ("look",))
    assert case.access_open == ("sump_off",)


def test_withdrawing_a_repair_joins_the_epochs() -> None:
    case = case_of(
        Noted("a", "low"), OpenedUp("cover_off"), Repaired(("r",)), Noted("a", "normal"), Withdrawn(4)
    )
    assert [(seen.state, seen.epoch) for seen in case.observations] == [("normal", 0)]
    assert (len(case.epochs), case.access_open) == (1, ("cover_off",))


def test_machine_facts_can_be_learnt_later() -> None:
    case = case_of(Learnt({"oil_change": "overdue"}, 9800, {"pump_worn": 120}), Learnt({"duty": "winter"}))
    assert case.machine == Machine(
        "D-07", "", {"oil_change": "overdue", "duty": "winter"}, 9800, {"pump_worn": 120}
    )


def test_an_opening_can_be_withdrawn() -> None:
    case = case_of(Withdrawn(1))
    assert (case.opened, case.machine, case.complaint) == (None, Machine(), "")


def test_codes_not_used_are_kept_once() -> None:
    assert case_of(Coded("SPN 1 FMI 2"), Coded("SPN 1 FMI 2")).codes_not_used == ("SPN 1 FMI 2",)


def test_closing_and_reopening() -> None:
    closed = Closed(("pump_worn",), "by sight", True, "scored plungers")
    assert case_of(closed).closed == replace(closed, sequence=2)
    assert case_of(closed, Reopened("came back")).closed is None
    assert case_of(closed, Reopened(), Withdrawn(3)).closed == replace(closed, sequence=2)


def test_each_cause_has_its_own_way_of_being_confirmed() -> None:
    closed = Closed(("pump_worn", "debris"), "by sight", otherwise={"debris": "assumed"})
    assert [closed.how(cause) for cause in closed.causes] == ["by sight", "assumed"]


def test_a_withdrawal_reaches_earlier_events_only() -> None:
    case = case_of(Withdrawn(3), Noted("a", "present"))
    assert (case.withdrawn, len(case.observations)) == (frozenset(), 1)
