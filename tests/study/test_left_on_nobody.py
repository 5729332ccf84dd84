"""A sure finding has something behind it: seen alone, little of it is left on no listed cause."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import islice

import pytest

from diagnose.knowledge.loader import load
from diagnose.knowledge.machine_facts import Requirement
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.knowledge.rules.strengths import MISLEADING
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.facts import Facts, ImpossibleFacts
from diagnose.network.history import History
from diagnose.network.machine import Machine
from diagnose.network.observed import one_hot
from diagnose.network.ties import with_room

MOST = 0.15
PATIENT = 1 << 19
"""Numbers of a table; time is no matter here."""
OFTEN_HEALTHY = 0.1
"""Leak from which a finding is rather a test passed than a fault."""
RARE = 0.05
"""A machine that seldom has what shows the finding must be told to have it: the shop sees it first."""


def left_on_nobody(knowledge: Knowledge) -> Iterator[tuple[str, float]]:
    """Of each sure finding `family: finding: state`, and P(none of the causes above it), on one kind of
    machine that can show it: another one each time."""
    kinds, families = Kinds(knowledge), deque(knowledge.families.values())
    for finding in filter(sure, knowledge.findings.values()):
        families.rotate(-1)
        for state in range(1, len(finding.states)):
            told = ((family, nobody(kinds, finding, state, family.facts)) for family in families)
            for family, p in islice((one for one in told if one[1] is not None), 1):
                yield f"{family.id}: {finding.id}: {finding.states[state]}", p or 0.0


@dataclass
class Kinds:
    """The networks of machines of which only these facts are known, each built once."""

    knowledge: Knowledge
    built: dict[frozenset[tuple[str, str]], Built] = field(default_factory=dict)

    def of(self, facts: Mapping[str, str]) -> Built:
        key = frozenset(facts.items())
        if key not in self.built:
            self.built[key] = build(self.knowledge, Machine(facts=dict(facts)), History())
        return self.built[key]

    def chance(self, one: Requirement, facts: Mapping[str, str]) -> float:
        return Facts(self.knowledge.facts, facts).chance(one)

    def could_show(self, finding: Finding, facts: Mapping[str, str]) -> bool:
        return all(self.chance(one, facts) > 0 for one in finding.only_if)

    def that_shows(self, finding: Finding, facts: Mapping[str, str]) -> dict[str, str]:
        """The facts with those that the finding asks for, where nobody has told them."""
        told = dict(facts)
        for one in finding.only_if:
            could = [value for value in one.values if self._together({**told, one.fact: value})]
            told.setdefault(one.fact, could[0])
        return told

    def _together(self, facts: Mapping[str, str]) -> bool:
        with suppress(ImpossibleFacts):
            return Facts(self.knowledge.facts, facts).consistent()
        return False


def sure(finding: Finding) -> bool:
    """Measured, read or seen; not told by the driver, no complaint, no sign of health, nothing that a sound machine
    shows as well (its leak is the observation itself misleading)."""
    told = finding.kind == "question" or finding.other is not None or finding.misleads >= MISLEADING
    return not told and all(number.value < OFTEN_HEALTHY for number in finding.leak)


def nobody(kinds: Kinds, finding: Finding, state: int, facts: Mapping[str, str]) -> float | None:
    """None where nothing on this machine leads to it."""
    if any(kinds.chance(one, facts) <= RARE for one in finding.only_if) and kinds.could_show(finding, facts):
        facts = kinds.that_shows(finding, facts)
    built = kinds.of(facts)
    variable, network = built.variable(finding.id), built.network
    region = network.ancestors([variable])
    causes = region & {built.variable(id) for id in built.causes}
    if not causes:
        return None
    room, engine = with_room(built, {variable: one_hot(len(finding.states), state)}, PATIENT)
    let_go = {network.names[v].partition("=")[0] for v in room.averaged}
    open_ones = [one.fact for one in finding.only_if if one.fact not in facts]
    decides = {name for fact in open_ones for name in (fact, kinds.knowledge.facts[fact].given)}
    if decides & let_go:  # no room for what decides, or for what that hangs on: then it must be told
        return nobody(kinds, finding, state, kinds.that_shows(finding, facts))
    chances, _ = engine.given([dict.fromkeys(causes - engine.fixed.keys(), 0)], ())
    return float(chances[0])


@pytest.mark.slow
def test_a_sure_finding_leaves_little_on_nobody() -> None:
    found = [f"{words} leaves {p:.0%}" for words, p in left_on_nobody(load()) if p > MOST]
    assert not found, "\n".join(found)
