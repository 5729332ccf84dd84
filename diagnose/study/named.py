"""Which number of the knowledge stands behind each row of a network that was laid open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.located import apart
from diagnose.knowledge.number import Number
from diagnose.knowledge.provenance import FREQUENCY
from diagnose.knowledge.records import Knowledge, Link
from diagnose.network.built import Built
from diagnose.study.exposed import Exposed, ExposedRow

Multiplies = Literal["", "odds", "hazard"]


@dataclass(frozen=True, slots=True)
class NamedNumber:
    """A number of the knowledge and the state of the row whose probability it is; or, where it `multiplies`, the
    odds of that or its hazard, -ln(1 - probability).
    """

    label: str
    number: Number
    state: int = 1
    multiplies: Multiplies = ""


@dataclass(frozen=True, slots=True, eq=False)
class NamedRows:
    """The rows that have numbers; `left_out`: how many rows come from repairs and have none of their own."""

    rows: dict[ExposedRow, list[NamedNumber]]
    left_out: int


def named(diagnosis: Diagnosis, exposed: Exposed) -> NamedRows:
    """The numbers of every row. Rows that are no numbers of the knowledge (copies of a variable for another epoch,
    the strength of a cause that is not listed) are left away."""
    rows: dict[ExposedRow, list[NamedNumber]] = {}
    left_out = 0
    for row in exposed.rows:
        if found := list(_numbers(diagnosis, row)):
            rows[row] = found
        elif not _is_fixed(diagnosis.built, exposed, row):
            left_out += 1
    return NamedRows(rows, left_out)


def _is_fixed(built: Built, exposed: Exposed, row: ExposedRow) -> bool:
    """All or nothing, or the strength of "other cause"."""
    family = exposed.network.families[row.variable]
    values = family.values[row.state] if family.parents else family.values  # type: ignore[union-attr]
    unlisted = row.parent is not None and built.variables[row.parent].kind == "other"
    return unlisted or bool(np.isin(values, (0.0, 1.0)).all())


def _numbers(diagnosis: Diagnosis, row: ExposedRow) -> Iterator[NamedNumber]:
    knowledge, child = diagnosis.knowledge, diagnosis.built.variables[row.child]
    id, parent = record_of(diagnosis.built, row.child), parent_of(diagnosis.built, row)
    if child.kind == "noise":
        yield from _noise(knowledge, parent, id)
    elif parent in knowledge.causes or parent in knowledge.conditions:
        link = _link(knowledge, parent, id)
        if link:
            yield from _strengths(knowledge, parent, link, row.state)
    elif child.kind == "other":
        finding = knowledge.findings[id]
        if finding.other:
            yield NamedNumber(f"{finding.id}: another cause, not listed", finding.other)
    elif child.kind == "fact":
        yield from _shares(knowledge, id, child.value)
    elif id in knowledge.causes:
        if not parent and child.version == 0:  # before any repair; later ones come from the repair
            yield from _prior(diagnosis, id)
    elif not parent:
        yield from _leak(knowledge, id)


def record_of(built: Built, variable: int) -> str:
    """The record behind a variable, or the fact: of a copy at a cylinder or bank its own, of where a link strikes
    the effect's."""
    id = built.variables[variable].id
    return apart(built.strikes.get(id, id))[0]


def parent_of(built: Built, row: ExposedRow) -> str:
    """The record whose link the row is part of; none: empty."""
    if row.parent is None:
        return apart(built.variables[row.child].parent)[0]
    return apart(built.variables[row.parent].id)[0]


def _prior(diagnosis: Diagnosis, id: str) -> Iterator[NamedNumber]:
    cause = diagnosis.knowledge.causes[id]
    by: Multiplies = "odds" if cause.per == "share" else "hazard"
    yield NamedNumber(f"{id}: {FREQUENCY[cause.per]}", cause.frequency, multiplies="" if by == "odds" else by)
    facts = diagnosis.case.machine.facts
    for modifier in cause.modifiers:
        if facts.get(modifier.fact) == modifier.value:
            label = f"{id}: times with {modifier.fact} {modifier.value}"
            yield NamedNumber(label, modifier.odds, multiplies=by)


def _shares(knowledge: Knowledge, id: str, value: str) -> Iterator[NamedNumber]:
    """How common the values of a fact are that is not known and depends on no other."""
    fact = knowledge.facts[id]
    if value:
        yield NamedNumber(f"{id}: share of {value}", fact.shares[fact.values.index(value)])
    elif fact.shares and not fact.given:
        for state, number in enumerate(fact.shares):
            if state and number.value > 0:
                yield NamedNumber(f"{id}: share of {fact.values[state]}", number, state)


def _leak(knowledge: Knowledge, id: str) -> Iterator[NamedNumber]:
    record = knowledge.findings.get(id) or knowledge.conditions[id]
    for state, number in enumerate(record.leak, 1):
        if number.value > 0:
            yield NamedNumber(f"{id}{_state(record.states, state)}: without any cause", number, state)


def _link(knowledge: Knowledge, parent: str, effect: str) -> Link | None:
    record = knowledge.causes.get(parent) or knowledge.conditions.get(parent)
    return next((link for link in record.leads_to if link.effect == effect), None) if record else None


def _strengths(knowledge: Knowledge, parent: str, link: Link, state: int) -> Iterator[NamedNumber]:
    states = _states(knowledge, link.effect)
    mine = _state(_states(knowledge, parent), state)
    for to, number in enumerate(link.strengths[state - 1], 1):
        if number.value > 0:
            yield NamedNumber(f"{parent}{mine} leads to {link.effect}{_state(states, to)}", number, to)


def _noise(knowledge: Knowledge, parent: str, effect: str) -> Iterator[NamedNumber]:
    """The inhibitor of a link that a repair touched: its draws are the effect's states that can come about.

    Only for binary parents: with more states the draws are cut by all of them together."""
    link = _link(knowledge, parent, effect)
    if link is None or len(link.strengths) > 1 or sum(n.value for n in link.strengths[0]) >= 1:
        return
    items = _strengths(knowledge, parent, link, 1)
    for draw, item in enumerate(items, 1):
        yield NamedNumber(item.label, item.number, draw)


def _states(knowledge: Knowledge, id: str) -> tuple[str, ...]:
    record = knowledge.findings.get(id) or knowledge.conditions.get(id)
    return record.states if record else ("absent", "present")


def _state(states: tuple[str, ...], number: int) -> str:
    return f" {states[number]}" if len(states) > 2 else ""
