"""A case lived through again: entry by entry, with what was known after each.

Only what counts is replayed; a withdrawn entry left no trace in what is known now. Entries that do not change what
is known (a check done, a cover taken off) keep the diagnosis before them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event, Learnt, Noted, Opened, Repaired, Withdrawn
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Knowledge
from diagnose.network.observed import ImpossibleEvidence

Tell = Callable[[int, int], None]
"""Called with how many entries are done, of how many."""
TELLING = (Opened, Noted, Repaired, Learnt)
"""The events that change what is known."""
MOST, OF_MANY = 60, 8
"""So many entries are worked out each by itself (a case seldom has more than thirty); of more only so many, evenly
spaced, beside those around repairs, so that a report ends within its bound."""


@dataclass(frozen=True, slots=True)
class CaseEntry:
    """The events that one thing said stands for: a reading can set several findings."""

    events: tuple[Event, ...]

    @property
    def first(self) -> Event:
        """The event that tells what kind of entry it is."""
        return self.events[0]

    @property
    def telling(self) -> bool:
        """Whether it changes what is known."""
        return isinstance(self.first, TELLING)


@dataclass(frozen=True, slots=True)
class Moment:
    """An entry and what was known after it; `diagnosis` is None where the findings cannot all be true."""

    entry: CaseEntry
    diagnosis: Diagnosis | None
    probabilities: Mapping[str, float]
    impossible: tuple[str, ...] = ()


def entries(case: Case) -> tuple[CaseEntry, ...]:
    """What counts of a case, in order."""
    found: list[CaseEntry] = []
    for event in case.history:
        if event.sequence in case.withdrawn or isinstance(event, Withdrawn):
            continue
        if found and _said_together(found[-1].events[-1], event):
            found[-1] = CaseEntry((*found[-1].events, event))
        else:
            found.append(CaseEntry((event,)))
    return tuple(found)


def _said_together(before: Event, event: Event) -> bool:
    """Whether both came from one value or one fault code."""
    if not isinstance(before, Noted) or not isinstance(event, Noted):
        return False
    source = (event.text, event.value, event.unit, event.code)
    several = event.value is not None or bool(event.code)
    return several and source == (before.text, before.value, before.unit, before.code)


def replay(
    knowledge: Knowledge, case: Case, told: Sequence[CaseEntry], tell: Tell = lambda done, of: None
) -> Iterator[Moment]:
    """What was known after each entry of the case; each that tells anything takes a tenth of a second and more.
    An entry that is not worked out (`worked_out`) keeps what was known before it."""
    events: tuple[Event, ...] = ()
    known: Moment | None = None
    wanted = worked_out(told)
    for done, entry in enumerate(told, 1):
        events = (*events, *entry.events)
        if known is None or done - 1 in wanted:
            known = _known(knowledge, fold(case.number, events), entry)
        else:
            known = Moment(entry, known.diagnosis, known.probabilities, known.impossible)
        tell(done, len(told))
        yield known


def worked_out(told: Sequence[CaseEntry]) -> frozenset[int]:
    """The places of the entries after which what is known is worked out anew: all that tell something, or, of more
    than MOST, the first and the last, those at repairs and before them, and some between."""
    telling = [place for place, entry in enumerate(told) if entry.telling]
    if len(telling) <= MOST:
        return frozenset(telling)
    last = len(telling) - 1
    spaced = {telling[last * i // (OF_MANY - 1)] for i in range(OF_MANY)}
    repairs = [i for i, place in enumerate(telling) if isinstance(told[place].first, Repaired)]
    return frozenset(spaced | {telling[i] for i in repairs} | {telling[max(i - 1, 0)] for i in repairs})


def _known(knowledge: Knowledge, case: Case, entry: CaseEntry) -> Moment:
    try:
        found = diagnose(knowledge, case)
    except ImpossibleEvidence as error:
        return Moment(entry, None, {}, tuple(dict.fromkeys(error.names)))
    return Moment(entry, found, {cause.id: cause.probability for cause in found.causes})
