"""A case as it is handed on: what was seen, what was done, what it really was. Stored cases and files become
these."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from diagnose.cases.case import Case, Epoch
from diagnose.cases.events import Closed, Confirmed
from diagnose.cases.renamed import Rename, epoch_renamed, renaming
from diagnose.knowledge.records import Knowledge
from diagnose.network.machine import Machine


@dataclass(frozen=True, slots=True)
class ConfirmedCause:
    """A cause that was confirmed, and how."""

    cause: str
    how: Confirmed


@dataclass(frozen=True, slots=True)
class Lesson:
    """One case. `case`: its number or any name of it; `opened` and `closed`: days (ISO 8601) or coarser
    (2024-Q3), "" where not known; `is_closed`: whether anybody has said what it was. `epochs` as in a stored
    case.
    """

    case: str
    machine: Machine
    complaint: str = ""
    came_in_for: tuple[str, ...] = ()
    opened: str = ""
    closed: str = ""
    epochs: tuple[Epoch, ...] = (Epoch(),)
    confirmed: tuple[ConfirmedCause, ...] = ()
    is_closed: bool = False
    proven: bool = False
    knowledge: str = ""
    codes_not_used: tuple[str, ...] = ()

    def as_case(self) -> Case:
        """The case to be diagnosed: what was seen and done, not what it was."""
        return Case(
            number=int(self.case) if self.case.isdecimal() and len(self.case) < 19 else 0,
            machine=self.machine,
            complaint=self.complaint,
            came_in_for=self.came_in_for,
            epochs=self.epochs,
            codes_not_used=self.codes_not_used,
        )

    def while_broken(self) -> Lesson:
        """Without what was seen after the first repair that covers a confirmed cause: from then on that cause
        is gone.

        A repair that names none of its causes may have been that repair; so may, in a proven case, the last
        one.
        """
        causes = {one.cause for one in self.confirmed}
        for number, epoch in enumerate(self.epochs[1:], 1):
            last = self.proven and number == len(self.epochs) - 1
            if last or not epoch.causes or causes & set(epoch.causes):
                return replace(self, epochs=self.epochs[:number])
        return self


def lesson_of(case: Case) -> Lesson:
    """A stored case as it is handed on."""
    closed = case.closed
    return Lesson(
        case=str(case.number),
        machine=case.machine,
        complaint=case.complaint,
        came_in_for=case.came_in_for,
        opened=_day(case.opened.time if case.opened else ""),
        closed=_day(closed.time) if closed else "",
        epochs=case.epochs,
        confirmed=_confirmed(closed),
        is_closed=closed is not None and case.opened is not None,
        proven=closed is not None and closed.proven,
        knowledge=next((event.knowledge for event in reversed(case.history) if event.knowledge), ""),
        codes_not_used=case.codes_not_used,
    )


def _confirmed(closed: Closed | None) -> tuple[ConfirmedCause, ...]:
    return tuple(ConfirmedCause(cause, closed.how(cause)) for cause in closed.causes) if closed else ()


def _day(time: str) -> str:
    return time[:10]


def under_present_ids(knowledge: Knowledge, lessons: Sequence[Lesson]) -> list[Lesson]:
    """The cases as if they had been recorded with the ids that the knowledge has now."""
    now = renaming(knowledge)
    return [_renamed(lesson, now) for lesson in lessons] if now else list(lessons)


def _renamed(lesson: Lesson, now: Rename) -> Lesson:
    machine = lesson.machine
    renewed = {now(id): hours for id, hours in machine.renewed.items()}
    return replace(
        lesson,
        machine=replace(machine, renewed=renewed) if renewed != machine.renewed else machine,
        came_in_for=tuple(dict.fromkeys(map(now, lesson.came_in_for))),
        epochs=tuple(epoch_renamed(epoch, now) for epoch in lesson.epochs),
        confirmed=tuple(dict.fromkeys(replace(one, cause=now(one.cause)) for one in lesson.confirmed)),
    )
