"""At which cylinder or bank a finding was noted. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from diagnose.cases.case import Case
from diagnose.cases.events import Event, Noted
from diagnose.errors import CallError
from diagnose.knowledge.located import kind_of, objection, place_of, with_place
from diagnose.knowledge.records import Finding, Knowledge

AT = " at "
"""What stands between a finding and its place."""


def place_behind(text: str) -> tuple[str, str]:
    """`finding = state at cylinder 4`: what stands before the place, and that; no place: empty."""
    bare, _, place = text.rpartition(AT)
    return (bare, place_of(place)) if bare and place_of(place) else (text, "")


def told_at(knowledge: Knowledge, id: str, place: str) -> Finding | None:
    """The finding, where it is told by such places; else the one kind of it that is (a misfire of cylinder 4 is a
    steady miss of one cylinder); else none."""
    record, kind = knowledge.findings.get(id), kind_of(place)
    if record is None or record.located:
        return record if record and record.located == kind else None
    closer = [one for one in knowledge.findings.values() if id in one.kind_of and one.located == kind]
    return closer[0] if len(closer) == 1 else None


def placed(
    knowledge: Knowledge, case: Case, told: Iterable[tuple[Event, str]], places: Sequence[str]
) -> list[tuple[Event, str]]:
    """Events with the words on them, each finding that is told by cylinder or bank once at each of the places,
    where no code has named one. Raises CallError where the machine has no such place, or no finding is told so."""
    told = list(told)
    found = [pair for event, words in told for pair in _at_each(knowledge, case, event, words, places)]
    if not any(isinstance(event, Noted) and event.place for event, _ in found):
        finding = next((event.finding for event, _ in told if isinstance(event, Noted)), "")
        raise CallError(_sentence(objection(knowledge, case.machine.facts, finding, places[0], "")))
    return found


def _at_each(
    knowledge: Knowledge, case: Case, event: Event, words: str, places: Sequence[str]
) -> Iterator[tuple[Event, str]]:
    """The event at each of the places that it can be told of; as it is where it can of none, or stands at one."""
    if not isinstance(event, Noted) or event.place:
        yield event, words
        return
    records = [(place, record) for place in places if (record := told_at(knowledge, event.finding, place))]
    if not records:
        yield event, words
    for place, record in records:
        if wrong := objection(knowledge, case.machine.facts, record.id, place, _bank(case)):
            raise CallError(_sentence(wrong))
        yield _noted_at(knowledge, event, words, record, place)


def _noted_at(
    knowledge: Knowledge, event: Noted, words: str, record: Finding, place: str
) -> tuple[Noted, str]:
    if record.id == event.finding:
        return replace(event, place=place), with_place(words, place)
    gone = event.state == knowledge.findings[event.finding].normal
    state = record.states[0 if gone else 1]
    return replace(event, finding=record.id, state=state, place=place), with_place(
        record.in_words(state), place
    )


def _bank(case: Case) -> str:
    """A bank that was named before."""
    return next((one.place for one in case.observations if kind_of(one.place) == "bank"), "")


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
