"""What each cause alone would show: the signature by which it is known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.records import Cause, Knowledge
from diagnose.network.arising import can_be
from diagnose.network.build import Built, build
from diagnose.network.engine import Engine
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
    """The signatures of all causes on a machine of which nothing is known."""
    built = build(knowledge, Machine())
    built = untied(built, built.telling)  # signatures hold the causes, so that what ties them says nothing
    causes = [built.variable(id) for id in built.causes]
    findings = [built.variable(id) for id in knowledge.findings]
    engine = Engine(built.network, {}, inside=causes)
    rows = [_alone(built, cause, causes) for cause in causes]
    predicted = predict(engine, [*rows, dict.fromkeys(causes, 0)], findings)
    whole = np.zeros((len(findings), max(built.network.cards[v] for v in findings), len(rows) + 1))
    for position, variable in enumerate(findings):
        whole[position, : built.network.cards[variable]] = predicted[variable]
    return Signatures(
        knowledge, built.causes, tuple(knowledge.findings), whole[..., :-1], whole[..., -1], built.priors
    )


def _alone(built: Built, cause: int, causes: Iterable[int]) -> dict[int, int]:
    """This cause present, and absent whatever it does not bring about itself."""
    free = below(built.network, cause)
    return {v: int(v == cause) for v in causes if v == cause or v not in free}


def machine_for(knowledge: Knowledge, cause: Cause) -> Machine:
    """A machine that can have the cause: of the first family that does, else one of which nothing is known."""
    machines = (Machine(family=f.id, facts=f.facts) for f in knowledge.families.values())
    return next((machine for machine in machines if can_be(knowledge, machine)(cause)), Machine())
