"""A small knowledge, machines drawn from it by its own mechanism, and cases as they would be written down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from diagnose.cases.case import Epoch, Observation
from diagnose.cases.events import Confirmed
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Cause, Condition, Knowledge, Link
from diagnose.learning.lesson import ConfirmedCause, Lesson
from diagnose.network.build import build
from diagnose.network.machine import Machine
from diagnose.network.network import NoisyMax
from tests.knowledge_by_hand import cause, condition, finding, knowledge

STATES = ("normal", "low", "none")


def small() -> Knowledge:
    """Three causes, one of which wrecks another; a hidden condition; findings of two and three states."""
    return knowledge(
        cause("pump", 0.2, {"pressure": 0.8, "debris": 0.4, "metal": 0.7}),
        cause("debris", 0.05, {"metal": 0.6}),
        cause("seal", 0.3, {"pressure": 0.7, "oil_at_bore": 0.9}),
        condition("pressure", 0.05, {"gauge": [[0.5, 0.3]], "code": 0.7}),
        finding("gauge", [0.06, 0.02], *STATES),
        finding("code", 0.04),
        finding("metal", 0.1),
        finding("oil_at_bore", 0.08),
    )


def with_numbers(base: Knowledge, value: float | None = None, ess: float = 1.0) -> Knowledge:
    """The same knowledge with every prior, leak and link at one value (None: as it is), worth so many
    cases."""

    def number(one: Number, share: float = 1.0) -> Number:
        return replace(one, value=one.value if value is None else value / share, ess=ess)

    def row(numbers: Sequence[Number]) -> tuple[Number, ...]:
        return tuple(number(one, len(numbers)) for one in numbers)

    def links(record: Cause | Condition) -> tuple[Link, ...]:
        return tuple(replace(link, strengths=tuple(map(row, link.strengths))) for link in record.leads_to)

    return replace(
        base,
        causes={
            id: replace(c, frequency=number(c.frequency), leads_to=links(c)) for id, c in base.causes.items()
        },
        conditions={id: replace(c, leak=row(c.leak), leads_to=links(c)) for id, c in base.conditions.items()},
        findings={id: replace(f, leak=row(f.leak)) for id, f in base.findings.items()},
    )


def draw(base: Knowledge, machine: Machine, count: int, random: np.random.Generator) -> dict[str, np.ndarray]:
    """Worlds from the top down: every contribution drawn alone, the largest counts (Diez 1993). Name ->
    states."""
    network = build(base, machine).network
    found: dict[int, np.ndarray] = {}
    for variable, family in enumerate(network.families):
        if isinstance(family, NoisyMax):
            value = random.choice(len(family.leak), size=count, p=family.leak)
            for parent, link in zip(family.parents, family.links, strict=True):
                below = np.cumsum(link, axis=1)[found[parent]][:, :-1]
                value = np.maximum(value, (random.random((count, 1)) >= below).sum(axis=1))
        else:
            rows = np.broadcast_to(
                family.values[tuple(found[p] for p in family.parents)], (count, network.cards[variable])
            )
            value = (random.random((count, 1)) >= np.cumsum(rows, axis=1)[:, :-1]).sum(axis=1)
        found[variable] = value
    return {name: found[variable] for variable, name in enumerate(network.names)}


def cases(
    base: Knowledge,
    count: int,
    seed: int = 0,
    looked: float = 0.6,
    unlisted: Mapping[str, float] | None = None,
    machine: Machine | None = None,
) -> list[Lesson]:
    """Closed cases: each finding is looked at with a probability that knows nothing of its state; every cause
    that is there is listed; of those in `unlisted` so many are not, where a cause that can bring them about
    is."""
    random = np.random.default_rng(seed)
    machine = machine or Machine("GRADER-3")
    worlds = draw(base, machine, count, random)
    made = []
    for row in range(count):
        seen = tuple(
            Observation(id, one.states[worlds[id][row]])
            for id, one in base.findings.items()
            if random.random() < looked
        )
        there = [id for id in base.causes if id in worlds and worlds[id][row]]
        wrecked = {link.effect for id in there for link in base.causes[id].leads_to}
        gone = {id for id, share in (unlisted or {}).items() if id in wrecked and random.random() < share}
        listed = [id for id in there if id not in gone]
        made.append(lesson(str(row + 1), listed, seen, machine))
    return [one for one in made if one.confirmed]


def lesson(
    case: str,
    causes: Sequence[str],
    seen: Sequence[Observation],
    machine: Machine,
    how: Confirmed = "by sight",
    closed: str = "",
) -> Lesson:
    """A proven case."""
    return Lesson(
        case,
        replace(machine, number=machine.number and f"{machine.number}/{case}"),
        closed=closed,
        epochs=(Epoch(observations=tuple(seen)),),
        confirmed=tuple(ConfirmedCause(id, how) for id in causes),
        is_closed=True,
        proven=True,
    )
