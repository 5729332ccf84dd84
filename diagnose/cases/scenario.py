"""Scenarios: worked cases in YAML, one format for demo, practice and regression tests.

A scenario becomes the same events and the same fold as a case in the store, and what is expected of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event
from diagnose.cases.expectation import Expectation, read_expectation
from diagnose.cases.scenario_events import acts, opening
from diagnose.cases.scenario_format import SCENARIO
from diagnose.cases.scenario_lookup import Lookup
from diagnose.errors import DataError, Place
from diagnose.forms.fields import Notes, Values
from diagnose.forms.reader import Document, read_file, read_text
from diagnose.knowledge.formerly import present_ids, renamed
from diagnose.knowledge.loader import shipped
from diagnose.knowledge.records import Knowledge

_OF_RECORDS = (
    *("note", "finding", "check", "repaired", "renewed"),
    *("causes", "consequence", "repairs", "probability", "keep_running", "any_of"),
)
"""Fields that name causes, findings, checks or repairs, which may have another id now."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """A worked case. `events` are numbered from 1, as in the store; `expect` may be left out."""

    id: str
    title: str
    about: str
    events: tuple[Event, ...]
    expect: Expectation | None
    place: Place

    def case(self) -> Case:
        """The case as its events leave it; its number is 0, for it stands in no store."""
        return fold(0, self.events)


def folder() -> Path:
    """The folder of the scenarios that come with the program."""
    return shipped("scenarios")


def load(path: Path, knowledge: Knowledge) -> Scenario:
    """The scenario in a file. Raises DataError with everything wrong in it."""
    return _one(read_file(path), knowledge)


def loads(text: str, name: str, knowledge: Knowledge) -> Scenario:
    """The scenario in a text; problems are placed in the file `name`. Raises DataError."""
    return _one(read_text(text, name), knowledge)


def load_folder(path: Path, knowledge: Knowledge) -> tuple[Scenario, ...]:
    """All scenarios (`*.yaml`) of a folder, by file name. Raises DataError with everything wrong in any."""
    notes = Notes()
    files = sorted(path.glob("*.yaml"))
    if not files:
        notes.add("S008", Place(str(path)), "is not a folder with .yaml files")
    found = [_read(read_file(file), knowledge, notes) for file in files]
    scenarios = [scenario for scenario in found if scenario is not None]
    _unique(scenarios, notes)
    if notes.problems:
        raise DataError(notes.problems)
    return tuple(scenarios)


def _one(document: Document, knowledge: Knowledge) -> Scenario:
    notes = Notes()
    scenario = _read(document, knowledge, notes)
    if scenario is None or notes.problems:
        raise DataError(notes.problems)
    return scenario


def _unique(scenarios: Iterable[Scenario], notes: Notes) -> None:
    first: dict[str, Scenario] = {}
    for scenario in scenarios:
        if (known := first.setdefault(scenario.id, scenario)) is not scenario:
            message = f"the scenario `{scenario.id}` stands in {known.place.file} too"
            notes.add("S007", scenario.place, message, "rename one")


def _read(document: Document, knowledge: Knowledge, notes: Notes) -> Scenario | None:
    """The scenario, or None with its problems in the notes."""
    before = len(notes)
    notes.take(document)
    values = SCENARIO.read(document.root, notes) if document.root is not None else None
    scenario = None if values is None else _build(values, Lookup(knowledge, notes))
    return scenario if len(notes) == before else None


def _build(values: Values, lookup: Lookup) -> Scenario | None:
    if values["machine"] is None:
        return None
    values = renamed(values, present_ids(lookup.knowledge), _OF_RECORDS)
    first = opening(values["machine"], values["complaint"], lookup)
    events = [first, *acts(first, values["events"] or (), lookup)]
    version = lookup.knowledge.version
    return Scenario(
        id=str(values["scenario"]),
        title=str(values["title"]),
        about=str(values["about"]),
        events=tuple(replace(event, sequence=i, knowledge=version) for i, event in enumerate(events, 1)),
        expect=read_expectation(values["expect"], lookup) if values["expect"] is not None else None,
        place=values.places.get("scenario", values.place),
    )
