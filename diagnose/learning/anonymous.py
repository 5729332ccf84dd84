"""Cases without what names a machine, a person or a shop.

Nothing that was typed goes through: only ids, states and values that the knowledge itself holds. Hours are
rounded, days become quarters, and a case is named by a keyed hash, so that nobody without the salt can tell
which case it was.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Container, Iterable
from dataclasses import replace

from diagnose.cases.case import Epoch, Observation
from diagnose.knowledge.records import Knowledge
from diagnose.learning.lesson import Lesson
from diagnose.network.machine import Machine

HOURS = 250.0
"""Running hours are rounded to the nearest multiple."""
NAME = 16
"""Hexadecimal digits of a case's new name."""


def anonymous(knowledge: Knowledge, lesson: Lesson, salt: bytes) -> Lesson:
    """The case without what names anybody. The same salt gives the same case the same name."""
    return Lesson(
        case=hmac.new(salt, lesson.case.encode(), hashlib.sha256).hexdigest()[:NAME],
        machine=_machine(knowledge, lesson.machine),
        came_in_for=_known(lesson.came_in_for, knowledge.findings),
        opened=quarter(lesson.opened),
        closed=quarter(lesson.closed),
        epochs=tuple(_epoch(knowledge, epoch) for epoch in lesson.epochs),
        confirmed=tuple(one for one in lesson.confirmed if one.cause in knowledge.causes),
        is_closed=lesson.is_closed,
        proven=lesson.proven,
    )


def quarter(day: str) -> str:
    """`2024-08-17` -> `2024-Q3`; "" where the text is no day or quarter."""
    year, month = day[:4], day[5:7]
    if not (year.isdecimal() and len(year) == 4 and day[4:5] == "-"):
        return ""
    if month.isdecimal() and 1 <= int(month) <= 12:
        return f"{year}-Q{(int(month) + 2) // 3}"
    return day if month in ("Q1", "Q2", "Q3", "Q4") and len(day) == 7 else ""


def _machine(knowledge: Knowledge, machine: Machine) -> Machine:
    facts = {
        fact: value
        for fact, value in machine.facts.items()
        if fact in knowledge.facts and value in knowledge.facts[fact].values
    }
    return Machine(
        family=machine.family if machine.family in knowledge.families else "",
        facts=facts,
        hours=None if machine.hours is None else _rounded(machine.hours),
        renewed={id: _rounded(run) for id, run in machine.renewed.items() if id in knowledge.causes},
        last_right=None if machine.last_right is None else _rounded(machine.last_right),
    )


def _rounded(hours: float) -> float:
    """Never to 0: in no time nothing can have happened."""
    return max(round(hours / HOURS) * HOURS, HOURS / 2)


def _epoch(knowledge: Knowledge, epoch: Epoch) -> Epoch:
    seen = (_observation(one) for one in epoch.observations if _is_known(knowledge, one))
    return replace(
        epoch,
        repairs=_known(epoch.repairs, knowledge.repairs),
        causes=_known(epoch.causes, knowledge.causes),
        checks=_known(epoch.checks, knowledge.checks),
        observations=tuple(seen),
    )


def _observation(seen: Observation) -> Observation:
    return Observation(seen.finding, seen.state, seen.confidence, epoch=seen.epoch)


def _is_known(knowledge: Knowledge, seen: Observation) -> bool:
    finding = knowledge.findings.get(seen.finding)
    return finding is not None and seen.state in finding.states


def _known(ids: Iterable[str], section: Container[str]) -> tuple[str, ...]:
    return tuple(id for id in ids if id in section)
