"""Where the knowledge comes from: every number of a record with a label and its basis, and every link with the
source that names it.

That a link is there and how strong it is are two things. A manual that names a cause of a complaint speaks for the
first; it says nothing of how often, so that the number keeps a basis of its own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from diagnose.knowledge.machine_facts import Fact
from diagnose.knowledge.number import COMMON_PRACTICE, JUDGEMENT, SHOP, Number
from diagnose.knowledge.records import Cause, Check, Condition, Finding, Knowledge, Link, Repair
from diagnose.knowledge.removable import Removable

KINDS = ("source", COMMON_PRACTICE, JUDGEMENT, SHOP)
"""Groups of bases; `source`: a published source by its id."""
FREQUENCY = {
    "rate": "per 1,000 running hours",
    "per_start": "per start",
    "per_night": "per standing night",
    "share": "share of machines in service that have it",
}
"""What the frequency of a cause counts, in words."""
RECORDS = ("causes", "conditions", "findings", "checks", "repairs", "removable", "facts")
FACTS = ""
"""Stands for the machine facts where numbers are counted by system: they belong to none."""
SPEAK_OF = {
    "frequency": "how often causes arise, or are there",
    "ageing": "ageing of parts",
    "modifier": "times as often with a fact of the machine",
    "link": "strength of links",
    "leak": "without any cause that is listed",
    "minutes": "minutes of checks and repairs",
    "repair": "what repairs cure, and how new parts last",
    "removable": "what goes and what comes with a part taken out",
    "damage": "damage from running on",
    "fact": "shares of the values of facts, starts and standing nights",
}
"""What a number can speak of, in words."""


@dataclass(frozen=True, slots=True)
class Labelled:
    """One number of a record, what it says in words (`leads to oil_pressure: low`), and of what: a key of
    `SPEAK_OF`. `source`: the published source that names the link, of a strength alone."""

    label: str
    number: Number
    of: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class SourcedLinks:
    """Of `links` links, how many a published source names, by how it was consulted (`read`, `second-hand`, ...)."""

    links: int
    by_confidence: Counter[str]

    @property
    def named(self) -> int:
        """Links that a source names."""
        return self.by_confidence.total()


def kind(basis: str) -> str:
    """The group of a basis."""
    return basis if basis in KINDS else "source"


def numbers(knowledge: Knowledge, record: Any) -> tuple[Labelled, ...]:
    """Every number of a cause, condition, finding, check, repair, removable part or fact, in file order. States and
    values that are left out of a link, a leak or shares (written nowhere, value 0) are not among them."""
    made = _NUMBERS.get(type(record))
    return tuple(made(knowledge, record)) if made else ()


def tally(knowledge: Knowledge) -> dict[str, Counter[str]]:
    """System id -> how many of its numbers have a basis of each kind; last under `FACTS` those of the facts."""
    counts: dict[str, Counter[str]] = {id: Counter() for id in (*knowledge.systems, FACTS)}
    for system, one in _all(knowledge):
        counts[system][kind(one.number.basis)] += 1
    return counts


def tally_by_subject(knowledge: Knowledge) -> dict[str, Counter[str]]:
    """What numbers speak of, in the order of `SPEAK_OF` -> how many have a basis of each kind."""
    counts: dict[str, Counter[str]] = {of: Counter() for of in SPEAK_OF}
    for _, one in _all(knowledge):
        counts[one.of][kind(one.number.basis)] += 1
    return counts


def tally_of_texts(knowledge: Knowledge) -> dict[str, Counter[str]]:
    """Limits of readings (each set of bands once) and cautions, in words -> how many have a basis of each kind."""
    readings = [finding.reading for finding in knowledge.findings.values() if finding.reading]
    limits = [basis for one in readings for basis in (one.basis, *(other.basis for other in one.where))]
    cautions = [hazard.basis for hazard in knowledge.hazards.values()]
    both = {"limits of readings": limits, "cautions": cautions}
    return {words: Counter(map(kind, bases)) for words, bases in both.items()}


def structure(knowledge: Knowledge) -> dict[str, SourcedLinks]:
    """System id of a cause or condition -> how many of the links that start there a source names."""
    links: dict[str, list[Link]] = {id: [] for id in knowledge.systems}
    for parent in knowledge.parents:
        links[parent.system].extend(parent.leads_to)
    return {id: _named_of(knowledge, of_system) for id, of_system in links.items()}


def _named_of(knowledge: Knowledge, links: Sequence[Link]) -> SourcedLinks:
    return SourcedLinks(
        len(links), Counter(knowledge.sources[link.source].confidence for link in links if link.source)
    )


def _all(knowledge: Knowledge) -> Iterator[tuple[str, Labelled]]:
    """Every number with the system of its record."""
    for section in RECORDS:
        for record in getattr(knowledge, section).values():
            system = getattr(record, "system", FACTS)
            yield from ((system, one) for one in numbers(knowledge, record))


def _cause(knowledge: Knowledge, cause: Cause) -> Iterator[Labelled]:
    yield Labelled(FREQUENCY[cause.per], cause.frequency, "frequency")
    if cause.age:
        yield Labelled("ageing, Weibull shape", cause.age.shape, "ageing")
    for modifier in cause.modifiers:
        yield Labelled(f"times with {modifier.fact} {modifier.value}", modifier.odds, "modifier")
    for link in cause.leads_to:
        yield from _link(knowledge, ("absent", "present"), link)
    if cause.damage:
        yield Labelled("damage, cost", cause.damage.cost, "damage")
        yield Labelled("damage if it runs on", cause.damage.running, "damage")
        yield Labelled("damage if it is moved", cause.damage.moving, "damage")


def _condition(knowledge: Knowledge, condition: Condition) -> Iterator[Labelled]:
    yield from _leak(condition)
    for link in condition.leads_to:
        yield from _link(knowledge, condition.states, link)


def _finding(knowledge: Knowledge, finding: Finding) -> Iterator[Labelled]:
    yield from _leak(finding)
    if finding.other:
        yield Labelled("another cause, not listed", finding.other, "leak")


def _check(knowledge: Knowledge, check: Check) -> Iterator[Labelled]:
    yield Labelled("minutes", check.minutes, "minutes")


def _repair(knowledge: Knowledge, repair: Repair) -> Iterator[Labelled]:
    yield Labelled("minutes", repair.minutes, "minutes")
    for cure in repair.cures:
        yield Labelled(f"cures {cure.cause}", cure.effectiveness, "repair")
    if repair.infant:
        yield Labelled("new part fails at once", repair.infant, "repair")
    if repair.life:
        yield Labelled("life, hours", repair.life.hours, "repair")


def _removable(knowledge: Knowledge, part: Removable) -> Iterator[Labelled]:
    for carried in part.carries:
        yield Labelled(f"carries {carried.id}", carried.effectiveness, "removable")
    for brought in part.brings:
        states = _states(knowledge, brought.effect)
        for state, number in zip(states[1:], brought.strengths, strict=True):
            if number.value > 0:
                yield Labelled(f"brings {brought.effect}{_named(state, states)}", number, "removable")
    if part.mistaken:
        yield Labelled("told as gone though still there", part.mistaken, "removable")
    if part.minutes:
        yield Labelled("minutes", part.minutes, "minutes")


def _fact(knowledge: Knowledge, fact: Fact) -> Iterator[Labelled]:
    yield from _shares("share", fact, fact.shares)
    for given, row in fact.shares_by.items():
        yield from _shares(f"share where {fact.given} is {given}", fact, row)
    for words, by_value in (("starts", fact.starts), ("standing nights", fact.nights)):
        yield from (Labelled(f"{words} an hour: {value}", one, "fact") for value, one in by_value.items())


def _shares(words: str, fact: Fact, row: tuple[Number, ...]) -> Iterator[Labelled]:
    for value, number in zip(fact.values, row, strict=False):  # no row: all values alike
        if number.value > 0:
            yield Labelled(f"{words}: {value}", number, "fact")


_NUMBERS: Mapping[type, Callable[[Knowledge, Any], Iterator[Labelled]]] = {
    Cause: _cause,
    Condition: _condition,
    Finding: _finding,
    Check: _check,
    Repair: _repair,
    Removable: _removable,
    Fact: _fact,
}


def _leak(record: Condition | Finding) -> Iterator[Labelled]:
    for state, number in zip(record.states[1:], record.leak, strict=True):
        if number.value > 0:
            yield Labelled("without any cause" + _named(state, record.states), number, "leak")


def _link(knowledge: Knowledge, parent: tuple[str, ...], link: Link) -> Iterator[Labelled]:
    states = _states(knowledge, link.effect)
    for mine, row in zip(parent[1:], link.strengths, strict=True):
        for state, number in zip(states[1:], row, strict=True):
            if number.value > 0:
                when = f" when {mine}" if len(parent) > 2 else ""
                label = f"leads to {link.effect}{_named(state, states)}{when}"
                yield Labelled(label, number, "link", link.source)


def _named(state: str, states: tuple[str, ...]) -> str:
    return f": {state}" if len(states) > 2 else ""


def _states(knowledge: Knowledge, id: str) -> tuple[str, ...]:
    record = knowledge.conditions.get(id) or knowledge.findings.get(id)
    return record.states if record else ("absent", "present")
