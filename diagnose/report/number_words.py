"""A number of the knowledge in words: what it says, where it stands, and how sure it is."""

from __future__ import annotations

from pathlib import Path

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.number import Number
from diagnose.knowledge.provenance import FREQUENCY
from diagnose.knowledge.records import Knowledge
from diagnose.study.exposed import ExposedRow
from diagnose.study.named import NamedNumber, parent_of, record_of


def number_words(diagnosis: Diagnosis, row: ExposedRow, item: NamedNumber) -> str:
    """`Oil pump worn leads to Pressure while cranking: low`; `Oil pump worn, on a machine that comes in`."""
    knowledge, built = diagnosis.knowledge, diagnosis.built
    id, parent = record_of(built, row.child), parent_of(built, row)
    child = built.variables[row.child]
    if child.kind == "fact":
        fact = knowledge.facts[id]
        return f"{fact.name}: {child.value or fact.values[item.state]}, its share of machines"
    if child.kind == "other":
        return f"{_name(knowledge, id)}, from a cause that is not listed"
    effect = _name(knowledge, id) + _state(knowledge, id, item.state)
    if parent:
        return f"{_name(knowledge, parent)}{_state(knowledge, parent, max(row.state, 1))} leads to {effect}"
    if id not in knowledge.causes:
        return f"{effect}, without any of its causes"
    return effect + (_factor(knowledge, id, item.number) or f", {FREQUENCY[knowledge.causes[id].per]}")


def basis_words(number: Number) -> str:
    """`judgement, worth 10 cases; fuel.yaml:120`."""
    place = f"{Path(number.place.file).name}:{number.place.line}"
    return f"{number.basis}, worth {number.ess:g} cases; {place}"


def _factor(knowledge: Knowledge, id: str, number: Number) -> str:
    """The machine's fact that multiplies the cause's odds by this number, if one does."""
    for modifier in knowledge.causes[id].modifiers:
        if modifier.odds is number:
            return f", times as often where {knowledge.facts[modifier.fact].name.lower()} is {modifier.value}"
    return ""


def _name(knowledge: Knowledge, id: str) -> str:
    record = knowledge.causes.get(id) or knowledge.conditions.get(id) or knowledge.findings[id]
    return record.name


def _state(knowledge: Knowledge, id: str, state: int) -> str:
    """`: low` where there are several states to tell apart."""
    record = knowledge.conditions.get(id) or knowledge.findings.get(id)
    return f": {record.states[state]}" if record and len(record.states) > 2 else ""
