"""Earlier ids: what a cause, finding, check or repair was called before. Ids are never dropped: a record that was
renamed, or took another one in, names the earlier ids, and cases, scenarios and overlays with them read rightly."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from diagnose.forms.notes import Values, Word
from diagnose.knowledge.away import away_id, finding_of, is_away, part_of
from diagnose.knowledge.entry import Entry
from diagnose.knowledge.records import Cause, Check, Finding, Knowledge, Repair

SECTIONS = ("causes", "findings", "checks", "repairs")
"""The sections whose records can have earlier ids."""
_OF_RECORDS = (
    *("leads_to", "cures", "reveals", "together", "clears", "suspect", "cleared_by"),
    *("carries", "brings", "watched", "of", "by", "kind_of"),
)
"""Fields of a record that name such records, alone, as a list or by key."""


def records(knowledge: Knowledge) -> Iterator[Cause | Finding | Check | Repair]:
    """Every record that can have earlier ids."""
    for section in SECTIONS:
        yield from getattr(knowledge, section).values()


def present_ids(knowledge: Knowledge) -> Mapping[str, str]:
    """Earlier id -> the id that it has now."""
    return {old: record.id for record in records(knowledge) for old in record.formerly}


def known_now(present: Mapping[str, str], id: str) -> str:
    """The id as it is now; of a test by taking away, that of its finding with the part."""
    now = present.get(finding_of(id), finding_of(id))
    return away_id(now, part_of(id)) if is_away(id) else now


def brought_up(entries: Iterable[Entry], shipped: Iterable[Entry]) -> list[Entry]:
    """What an overlay says, under the ids that the shipped records have now."""
    present = {str(old): str(entry.id) for entry in shipped for old in entry.values.get("formerly") or ()}
    if not present:
        return list(entries)
    return [
        replace(one, id=_word(one.id, present), values=renamed(one.values, present, _OF_RECORDS))
        for one in entries
    ]


def renamed(value: Any, present: Mapping[str, str], naming: Collection[str]) -> Any:
    """What was read of a file, with the ids in its fields `naming`, at any depth, as they are now."""
    if isinstance(value, tuple):
        return tuple(renamed(one, present, naming) for one in value)
    if not isinstance(value, dict):
        return value
    inner = {
        name: _named(one, present)
        if name in naming and not isinstance(one, Values)
        else renamed(one, present, naming)
        for name, one in value.items()
    }
    if not isinstance(value, Values):
        return inner
    found = Values(value.place, **inner)
    found.places = value.places
    return found


def _named(value: Any, present: Mapping[str, str]) -> Any:
    if isinstance(value, tuple):
        return tuple(_word(one, present) for one in value)
    if isinstance(value, dict):
        return {_word(id, present): one for id, one in value.items()}
    return _word(value, present)


def _word(word: Any, present: Mapping[str, str]) -> Any:
    """The word as it is now, where it stood."""
    return Word(present[word], word.place) if isinstance(word, Word) and word in present else word
