"""A case: its events folded into what is known of the machine, epoch by epoch. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce

from diagnose.cases.events import (
    COOLING,
    NOTHING,
    PARTS,
    Checked,
    Closed,
    Coded,
    Confidence,
    Event,
    Learnt,
    Measured,
    Noted,
    Opened,
    OpenedUp,
    Reopened,
    Repaired,
    Waits,
    Withdrawn,
)
from diagnose.knowledge.located import at
from diagnose.network.machine import Machine


@dataclass(frozen=True, slots=True)
class Observation:
    """A finding seen in a state. `event`: the number of the event; `epoch`: how many repairs came before; `place`:
    the cylinder or bank, where it was told."""

    finding: str
    state: str
    confidence: Confidence = "sure"
    value: float | None = None
    unit: str = ""
    text: str = ""
    event: int = 0
    epoch: int = 0
    code: str = ""
    place: str = ""

    @property
    def id(self) -> str:
        """The id under which it stands in the network: of the finding, at its place."""
        return at(self.finding, self.place)


@dataclass(frozen=True, slots=True)
class Measurement:
    """A value of a quantity that set no finding when it was read. `event`, `epoch`: as of an observation."""

    quantity: str
    value: float
    unit: str
    confidence: Confidence = "sure"
    text: str = ""
    event: int = 0
    epoch: int = 0


@dataclass(frozen=True, slots=True)
class Epoch:
    """The time between two repairs. `repairs` and `causes` (those covered) are of the repair that began it,
    none in the first. One observation a finding (and place, where one was told) and one measurement a quantity, the
    latest, in order of event.
    """

    repairs: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    observations: tuple[Observation, ...] = ()
    checks: tuple[str, ...] = ()
    measured: tuple[Measurement, ...] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """The state of a case. `history` has every event, `withdrawn` the numbers of those that do not count.

    `opened` is None where the opening itself was withdrawn (the case was opened by mistake).
    `came_in_for`: the findings noted before anything was checked, opened up or repaired.
    `waits`: what it waits for, None where it goes on.
    `codes_not_used`, `checks_done` and `access_open` hold each code or id once, in order of first mention.
    """

    number: int
    machine: Machine = field(default_factory=Machine)
    complaint: str = ""
    came_in_for: tuple[str, ...] = ()
    epochs: tuple[Epoch, ...] = (Epoch(),)
    codes_not_used: tuple[str, ...] = ()
    checks_done: tuple[str, ...] = ()
    access_open: tuple[str, ...] = ()
    opened: Opened | None = None
    closed: Closed | None = None
    waits: Waits | None = None
    history: tuple[Event, ...] = ()
    withdrawn: frozenset[int] = frozenset()

    @property
    def inspection(self) -> bool:
        """Whether nobody complains of anything."""
        return self.opened is not None and self.opened.inspection

    @property
    def visits(self) -> tuple[int, ...]:
        """The epochs in which the machine came in: the first, and those of its comebacks."""
        epoch, found = 0, [0]
        for event in self.history:
            if event.sequence not in self.withdrawn:
                epoch += isinstance(event, Repaired)
                found += [epoch] if isinstance(event, Reopened) and event.comeback else []
        return tuple(dict.fromkeys(found))

    @property
    def observations(self) -> tuple[Observation, ...]:
        """The observations of all epochs, in order of event within each."""
        return tuple(seen for epoch in self.epochs for seen in epoch.observations)


def fold(number: int, events: Iterable[Event]) -> Case:
    """The case of this number after these events, which are in order of their sequence numbers."""
    history = tuple(events)
    gone = withdrawn(history)
    counting = (event for event in history if event.sequence not in gone)
    return replace(reduce(_apply, counting, Case(number)), history=history, withdrawn=gone)


def advance(case: Case, event: Event) -> Case:
    """The case after one event more; the same as folding the longer history."""
    history = (*case.history, event)
    if isinstance(event, Withdrawn):
        return fold(case.number, history)
    return replace(_apply(case, event), history=history)


def withdrawn(events: Sequence[Event]) -> frozenset[int]:
    """The numbers of the events that a withdrawal in force takes back; it can only take back earlier ones."""
    gone: set[int] = set()
    for event in reversed(events):
        if isinstance(event, Withdrawn) and event.sequence not in gone and event.event < event.sequence:
            gone.add(event.event)
    return frozenset(gone)


def _apply(before: Case, event: Event) -> Case:
    after = _applied(before, event)
    return after if after.waits is None or _still_waits(after.waits, event) else replace(after, waits=None)


def _still_waits(waits: Waits, event: Event) -> bool:
    """Whether it still waits after this event: parts are there once they are in, whoever goes on finds it cool."""
    if waits is event:
        return waits.reason != NOTHING
    if isinstance(event, Withdrawn):
        return True
    ends = isinstance(event, Closed | Reopened) or (waits.reason == PARTS and isinstance(event, Repaired))
    return not ends and waits.reason != COOLING


def _applied(before: Case, event: Event) -> Case:
    match event:
        case Opened():
            return _open(before, event)
        case Noted():
            return _first(
                _with_last_epoch(before, _note(before.epochs[-1], event, len(before.epochs) - 1)), event
            )
        case Measured():
            return _with_last_epoch(before, _measure(before.epochs[-1], event, len(before.epochs) - 1))
        case Coded():
            return replace(before, codes_not_used=_once(before.codes_not_used, event.code))
        case Checked():
            return _check(before, event.check)
        case OpenedUp():
            return replace(before, access_open=_once(before.access_open, event.access))
        case Repaired():
            return _repair(before, event)
        case Learnt():
            return replace(before, machine=_learn(before.machine, event))
        case Closed():
            return replace(before, closed=event)
        case Reopened():
            return replace(before, closed=None)
        case Waits():
            return replace(before, waits=event)
    return before  # a withdrawal changes nothing by itself: `fold` leaves out what it takes back


def _open(before: Case, event: Opened) -> Case:
    machine = Machine(
        event.machine, event.family, dict(event.facts), event.hours, dict(event.renewed), event.last_right
    )
    return replace(before, machine=machine, complaint=event.complaint, opened=event)


def _learn(machine: Machine, event: Learnt) -> Machine:
    return replace(
        machine,
        facts={**machine.facts, **event.facts},
        hours=machine.hours if event.hours is None else event.hours,
        renewed={**machine.renewed, **event.renewed},
        last_right=machine.last_right if event.last_right is None else event.last_right,
    )


def _note(epoch: Epoch, event: Noted, number: int) -> Epoch:
    seen = Observation(
        finding=event.finding,
        state=event.state,
        confidence=event.confidence,
        value=event.value,
        unit=event.unit,
        text=event.text,
        event=event.sequence,
        epoch=number,
        code=event.code,
        place=event.place,
    )
    others = (other for other in epoch.observations if other.id != seen.id)
    return replace(epoch, observations=(*others, seen))


def _measure(epoch: Epoch, event: Measured, number: int) -> Epoch:
    new = Measurement(
        event.quantity, event.value, event.unit, event.confidence, event.text, event.sequence, number
    )
    others = (other for other in epoch.measured if other.quantity != event.quantity)
    return replace(epoch, measured=(*others, new))


def _first(case: Case, event: Noted) -> Case:
    if case.checks_done or case.access_open or len(case.epochs) > 1:
        return case
    return replace(case, came_in_for=_once(case.came_in_for, event.finding))


def _check(before: Case, check: str) -> Case:
    epoch = before.epochs[-1]
    after = _with_last_epoch(before, replace(epoch, checks=_once(epoch.checks, check)))
    return replace(after, checks_done=_once(before.checks_done, check))


def _repair(before: Case, event: Repaired) -> Case:
    epoch = Epoch(repairs=event.repairs, causes=event.causes)
    return replace(before, epochs=(*before.epochs, epoch), access_open=event.left_open)


def _with_last_epoch(before: Case, epoch: Epoch) -> Case:
    return replace(before, epochs=(*before.epochs[:-1], epoch))


def _once(known: tuple[str, ...], new: str) -> tuple[str, ...]:
    return known if new in known else (*known, new)
