"""Cases under the ids of today: what was recorded of a finding, cause, check or repair that has another id now."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

from diagnose.cases.case import Case, Epoch, Observation, fold
from diagnose.cases.events import Checked, Closed, Event, Learnt, Noted, Opened, Repaired
from diagnose.knowledge.formerly import known_now, present_ids
from diagnose.knowledge.records import Knowledge

Rename = Callable[[str], str]
T = TypeVar("T")


def renaming(knowledge: Knowledge) -> Rename | None:
    """From any id to the one that it has now; None where no record has an earlier id."""
    present = present_ids(knowledge)
    return (lambda id: known_now(present, id)) if present else None


def with_present_ids(knowledge: Knowledge, case: Case) -> Case:
    """The case as if it had been recorded with the ids that the knowledge has now; the same case where it was.
    The store keeps what was written."""
    now = renaming(knowledge)
    if now is None:
        return case
    events = tuple(event_renamed(event, now) for event in case.history)
    return case if events == case.history else fold(case.number, events)


def event_renamed(event: Event, now: Rename) -> Event:
    """The event under the ids of today."""
    match event:
        case Opened() | Learnt():
            return replace(event, renewed=_keys(event.renewed, now)) if event.renewed else event
        case Noted():
            return replace(event, finding=now(event.finding))
        case Checked():
            return replace(event, check=now(event.check))
        case Repaired():
            return replace(event, repairs=_each(event.repairs, now), causes=_each(event.causes, now))
        case Closed():
            return replace(event, causes=_each(event.causes, now), otherwise=_keys(event.otherwise, now))
    return event


def epoch_renamed(epoch: Epoch, now: Rename) -> Epoch:
    """The epoch under the ids of today; of two observations that are one finding now, the later."""
    seen: dict[str, Observation] = {}
    for one in epoch.observations:
        renamed = replace(one, finding=now(one.finding))
        seen.pop(renamed.id, None)
        seen[renamed.id] = renamed
    return replace(
        epoch,
        repairs=_each(epoch.repairs, now),
        causes=_each(epoch.causes, now),
        observations=tuple(seen.values()),
        checks=_each(epoch.checks, now),
    )


def _each(ids: Iterable[str], now: Rename) -> tuple[str, ...]:
    return tuple(dict.fromkeys(map(now, ids)))


def _keys(by_id: Mapping[str, T], now: Rename) -> dict[str, T]:
    return {now(id): value for id, value in by_id.items()}
