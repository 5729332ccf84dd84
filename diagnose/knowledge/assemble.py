"""Texts of knowledge files -> documents -> sections -> one pool of ids -> records -> rules."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from diagnose.errors import Problem
from diagnose.forms.fields import Notes, Values, Word, read_as
from diagnose.forms.reader import read_text
from diagnose.knowledge.builder import Builder, States, states_of
from diagnose.knowledge.entry import Entry
from diagnose.knowledge.files import FileText, version
from diagnose.knowledge.overlay import overlaid, read_overlay
from diagnose.knowledge.records import BINARY, Knowledge, System
from diagnose.knowledge.rules import LOCAL, RULES, WITH_OVERLAY, Survey, found
from diagnose.knowledge.sections.file import BUILD, FILE, OF_A_SYSTEM, SECTIONS


def assemble(
    texts: Sequence[FileText], unread: Sequence[Problem] = ()
) -> tuple[Knowledge | None, tuple[Problem, ...]]:
    """The knowledge in these texts (None if anything is wrong) and every problem, in order of place.

    Where files could not be read at all (`unread`), only the rules that look at one record run: what the
    records refer to may stand there.
    """
    notes = Notes()
    notes.problems.extend(unread)
    files = _files(texts, False, notes)
    overlays = _files(texts, True, notes)
    entries = list(_unique(overlaid(_entries(files), _entries(overlays), notes), notes))
    knowledge = _knowledge(version(texts), _systems([*files, *_with_system(overlays)], notes), entries, notes)
    survey = Survey(knowledge, frozenset(notes.doubtful))
    rules = LOCAL if unread else WITH_OVERLAY if overlays else RULES
    notes.problems.extend(found(survey, rules))
    problems = tuple(sorted({*notes.problems}, key=lambda one: (one.place, one.code)))
    return (None if problems else knowledge), problems


def _files(texts: Iterable[FileText], overlay: bool, notes: Notes) -> list[Values]:
    """What the files of the knowledge, or those of the overlay, hold."""
    read = read_overlay if overlay else _read
    return [values for text in texts if text.overlay == overlay and (values := read(text, notes)) is not None]


def _with_system(overlays: Iterable[Values]) -> Iterator[Values]:
    """An overlay that only changes shipped records needs none."""
    return (file for file in overlays if file["system"] is not None)


def _read(text: FileText, notes: Notes) -> Values | None:
    values: Values | None = read_as(FILE, read_text(text.content, text.name), notes)
    return values


def _entries(files: Iterable[Values]) -> Iterator[Entry]:
    for file in files:
        for section in SECTIONS:
            for id, values in (file[section] or {}).items():
                if values is not None:
                    yield Entry(section, id, values, file)


def _unique(entries: Iterable[Entry], notes: Notes) -> Iterator[Entry]:
    """One pool of ids: the first of each stays."""
    seen: dict[str, Entry] = {}
    for entry in entries:
        first = seen.setdefault(entry.id, entry)
        if first is entry:
            yield entry
        else:
            where = f"in {first.section}, {first.id.place}"
            hint = "rename one of them"
            notes.add("K020", entry.id.place, f"the id `{entry.id}` is defined twice; first {where}", hint)
            notes.doubtful.update(_mentioned(entry.values))


def _mentioned(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from _mentioned(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from _mentioned(inner)


def _systems(files: Iterable[Values], notes: Notes) -> dict[str, System]:
    """The systems by id; a second file of a system need not repeat its name."""
    systems: dict[str, System] = {}
    for file in files:
        if (id := file["system"]) is not None:
            _add_system(id, file, systems, notes)
        elif "system" not in file.places and any(file[section] for section in OF_A_SYSTEM):
            hint = "write system: and name: at the head of the file"
            notes.add(
                "K027", file.place, "causes, conditions, findings, checks and repairs need a system", hint
            )
    for id, system in systems.items():
        if not system.name:
            notes.add("K027", system.place, f"no file names the system `{id}`", "write name:")
    return systems


def _add_system(id: Word, file: Values, systems: dict[str, System], notes: Notes) -> None:
    known = systems.get(id)
    if file["name"] is None:
        systems.setdefault(id, System(id, "", "", id.place))
    elif known and known.name and known.name != file["name"]:
        notes.add("K020", id.place, f"the system `{id}` has another name at {known.place}", "name it once")
    elif not (known and known.name):
        systems[id] = System(id, file["name"], file["about"] or "", id.place)


def _states(entries: Iterable[Entry]) -> States:
    return {
        entry.id: BINARY if entry.section == "causes" else states_of(entry.values)
        for entry in entries
        if entry.section in ("causes", "conditions", "findings")
    }


def _knowledge(version: str, systems: dict[str, System], entries: list[Entry], notes: Notes) -> Knowledge:
    records: dict[str, dict[str, Any]] = {section: {} for section in SECTIONS}
    states = _states(entries)
    for entry in entries:
        builder = _builder(entry.file, states, notes)
        records[entry.section][entry.id] = BUILD[entry.section](entry.id, entry.values, builder)
    return Knowledge(version=version, systems=systems, **records)


def _builder(file: Values, states: States, notes: Notes) -> Builder:
    default = file["default_basis"] or {"basis": None, "ess": None}
    return Builder(file["system"] or "", default["basis"], default["ess"], states, notes)
