"""What each cause alone would show: the signature by which it is known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.machine_facts import Requirement
from diagnose.knowledge.records import Cause, Knowledge
from diagnose.network.arising import can_be
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.facts import Facts, ImpossibleFacts
from diagnose.network.machine import Machine
from diagnose.network.network import Array, below
from diagnose.network.predict import predict
from diagnose.network.ties import untied


@dataclass(frozen=True, eq=False)
class Signatures:
    """P(finding's state | this cause and no other root): `shown`, shape (findings, most states, causes), padded
    with zeros; `sound`: the same with no cause at all, shape (findings, most states). `priors`: P(each cause arises
    of itself) on a machine of which nothing is known."""

    knowledge: Knowledge
    causes: tuple[str, ...]
    findings: tuple[str, ...]
    shown: Array
    sound: Array
    priors: Mapping[str, float]

    def apart(self, cause: int) -> Array:
        """How well each finding tells this cause from every other, shape (findings, causes): the total variation
        of its states, 0 (not at all) .. 1. At even odds the better guess is right in (1 + it) / 2 of cases."""
        distance: Array = np.abs(self.shown - self.shown[:, :, [cause]]).sum(axis=1) / 2
        return distance

    @cached_property
    def complaints(self) -> Array:
        """P(complaint not in its first state | cause), shape (complaints, causes)."""
        rows = [i for i, id in enumerate(self.findings) if self.knowledge.findings[id].other]
        shown: Array = 1 - self.shown[rows, 0, :]
        return shown

    @cached_property
    def together(self) -> NDArray[np.bool_]:
        """Whether one machine can have both causes, shape (causes, causes)."""
        families = self.knowledge.families.values()
        machines = [Machine(family=f.id, facts=f.facts) for f in families] or [Machine()]
        records = [self.knowledge.causes[id] for id in self.causes]
        able = [can_be(self.knowledge, machine) for machine in machines]
        can = np.array([[can(cause) for can in able] for cause in records])
        found: NDArray[np.bool_] = (can[:, None] & can[None]).any(axis=2)
        return found


def signatures(knowledge: Knowledge) -> Signatures:
    """The signatures of all causes, each on a machine of which nothing is known but what the cause itself tells: an
    engine whose raw-water pump failed has one. `sound`: one of which nothing is known."""
    unknown = build(knowledge, Machine())
    ids = {id: position for position, id in enumerate(unknown.causes)}
    shape = len(knowledge.findings), max(len(one.states) for one in knowledge.findings.values())
    shown, sound = np.zeros((*shape, len(ids))), np.zeros(shape)
    for facts, causes in _by_facts(knowledge, unknown.causes).items():
        built = build(knowledge, Machine(facts=dict(facts))) if facts else unknown
        part = _shown(knowledge, built, [id for id in causes if id in built.causes], shape)
        for column, id in enumerate(id for id in causes if id in built.causes):
            shown[..., ids[id]] = part[..., column]
        if not facts:
            sound = part[..., -1]
    return Signatures(knowledge, unknown.causes, tuple(knowledge.findings), shown, sound, unknown.priors)


def _by_facts(knowledge: Knowledge, causes: Iterable[str]) -> dict[frozenset[tuple[str, str]], list[str]]:
    """The causes by the facts that go with them; those of any machine first, even where there are none."""
    found: dict[frozenset[tuple[str, str]], list[str]] = {frozenset(): []}
    for id in causes:
        facts = facts_of(knowledge, knowledge.causes[id], {}) or {}
        found.setdefault(frozenset(facts.items()), []).append(id)
    return found


def _shown(knowledge: Knowledge, built: Built, alone: Iterable[str], shape: tuple[int, int]) -> Array:
    """P(finding's state) with each of these alone, and last with none, shape (findings, most states, rows)."""
    built = untied(built, built.telling)  # the causes are held, so that what ties them says nothing
    causes = [built.variable(id) for id in built.causes]
    findings = [built.variable(id) for id in knowledge.findings]
    engine = Engine(built.network, {}, inside=causes)
    rows = [_alone(built, built.variable(id), causes) for id in alone]
    predicted = predict(engine, [*rows, dict.fromkeys(causes, 0)], findings)
    whole = np.zeros((*shape, len(rows) + 1))
    for position, variable in enumerate(findings):
        whole[position, : built.network.cards[variable]] = predicted[variable]
    return whole


def _alone(built: Built, cause: int, causes: Iterable[int]) -> dict[int, int]:
    """This cause present, and absent whatever it does not bring about itself."""
    free = below(built.network, cause)
    return {v: int(v == cause) for v in causes if v == cause or v not in free}


def machine_for(knowledge: Knowledge, cause: Cause) -> Machine:
    """A machine that has what the cause asks for: of the first family that can, else one of no family."""
    families = (Machine(family=one.id, facts=one.facts) for one in knowledge.families.values())
    for machine in families:
        if (
            can_be(knowledge, machine)(cause)
            and (facts := facts_of(knowledge, cause, machine.facts)) is not None
        ):
            return Machine(family=machine.family, facts=facts)
    return Machine(facts=facts_of(knowledge, cause, {}) or {})


def facts_of(knowledge: Knowledge, cause: Cause, told: Mapping[str, str]) -> dict[str, str] | None:
    """What was told, with a value of every fact that the cause asks for, the most common that fits; None where none
    fits."""
    facts = dict(told)
    for one in cause.only_if:
        if facts.get(one.fact) in one.values:
            continue
        fits = (
            value
            for value in _commonest_first(knowledge, one)
            if _fits(knowledge, {**facts, one.fact: value})
        )
        value = next(fits, None) if one.fact not in facts else None
        if value is None:
            return None
        facts[one.fact] = value
    return facts


def _commonest_first(knowledge: Knowledge, asked: Requirement) -> list[str]:
    fact = knowledge.facts[asked.fact]
    shares = dict(zip(fact.values, (number.value for number in fact.shares), strict=False))
    return sorted(asked.values, key=lambda value: -shares.get(value, 0.0))


def _fits(knowledge: Knowledge, facts: Mapping[str, str]) -> bool:
    try:
        return Facts(knowledge.facts, facts).consistent()
    except ImpossibleFacts:
        return False
