"""Where the numbers come from: every number of a record with a label, and how much of the knowledge is which
basis."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.knowledge.records import (
    COMMON_PRACTICE,
    JUDGEMENT,
    SHOP,
    Cause,
    Check,
    Condition,
    Finding,
    Knowledge,
    Link,
    Number,
    Repair,
)

KINDS = ("source", COMMON_PRACTICE, JUDGEMENT, SHOP)
"""Groups of bases; `source`: a published source by its id."""
FREQUENCY = {
    "rate": "per 1,000 running hours",
    "per_start": "per start",
    "per_night": "per standing night",
    "share": "share of machines in service that have it",
}
"""What the frequency of a cause counts, in words."""
RECORDS = ("causes", "conditions", "findings", "checks", "repairs")


@dataclass(frozen=True, slots=True)
class Labelled:
    """One number of a record, and what it says in words: `leads to oil_pressure: low`."""

    label: str
    number: Number


def kind(basis: str) -> str:
    """The group of a basis."""
    return basis if basis in KINDS else "source"


def numbers(knowledge: Knowledge, record: Any) -> tuple[Labelled, ...]:
    """Every number of a cause, condition, finding, check or repair, in file order. States that are left out of a
    link or leak (written nowhere, value 0) are not among them."""
    made = _NUMBERS.get(type(record))
    return tuple(made(knowledge, record)) if made else ()


def tally(knowledge: Knowledge) -> dict[str, Counter[str]]:
    """System id -> how many of its numbers have a basis of each kind."""
    counts: dict[str, Counter[str]] = {id: Counter() for id in knowledge.systems}
    for section in RECORDS:
        for record in getattr(knowledge, section).values():
            counts[record.system].update(kind(one.number.basis) for one in numbers(knowledge, record))
    return counts


def _cause(knowledge: Knowledge, cause: Cause) -> Iterator[Labelled]:
    yield Labelled(FREQUENCY[cause.per], cause.frequency)
    if cause.age:
        yield Labelled("ageing, Weibull shape", cause.age.shape)
    for modifier in cause.modifiers:
        yield Labelled(f"times with {modifier.fact} {modifier.value}", modifier.odds)
    for link in cause.leads_to:
        yield from _link(knowledge, ("absent", "present"), link)
    if cause.damage:
        yield Labelled("damage, cost", cause.damage.cost)
        yield Labelled("damage if it runs on", cause.damage.running)
        yield Labelled("damage if it is moved", cause.damage.moving)


def _condition(knowledge: Knowledge, condition: Condition) -> Iterator[Labelled]:
    yield from _leak(condition)
    for link in condition.leads_to:
        yield from _link(knowledge, condition.states, link)


def _finding(knowledge: Knowledge, finding: Finding) -> Iterator[Labelled]:
    yield from _leak(finding)
    if finding.other:
        yield Labelled("another cause, not listed", finding.other)


def _check(knowledge: Knowledge, check: Check) -> Iterator[Labelled]:
    yield Labelled("minutes", check.minutes)


def _repair(knowledge: Knowledge, repair: Repair) -> Iterator[Labelled]:
    yield Labelled("minutes", repair.minutes)
    for cure in repair.cures:
        yield Labelled(f"cures {cure.cause}", cure.effectiveness)
    if repair.infant:
        yield Labelled("new part fails at once", repair.infant)
    if repair.life:
        yield Labelled("life, hours", repair.life.hours)


_NUMBERS: Mapping[type, Callable[[Knowledge, Any], Iterator[Labelled]]] = {
    Cause: _cause,
    Condition: _condition,
    Finding: _finding,
    Check: _check,
    Repair: _repair,
}


def _leak(record: Condition | Finding) -> Iterator[Labelled]:
    for state, number in zip(record.states[1:], record.leak, strict=True):
        if number.value > 0:
            yield Labelled("without any cause" + _named(state, record.states), number)


def _link(knowledge: Knowledge, parent: tuple[str, ...], link: Link) -> Iterator[Labelled]:
    states = _states(knowledge, link.effect)
    for mine, row in zip(parent[1:], link.strengths, strict=True):
        for state, number in zip(states[1:], row, strict=True):
            if number.value > 0:
                when = f" when {mine}" if len(parent) > 2 else ""
                yield Labelled(f"leads to {link.effect}{_named(state, states)}{when}", number)


def _named(state: str, states: tuple[str, ...]) -> str:
    return f": {state}" if len(states) > 2 else ""


def _states(knowledge: Knowledge, id: str) -> tuple[str, ...]:
    record = knowledge.conditions.get(id) or knowledge.findings.get(id)
    return record.states if record else ("absent", "present")
