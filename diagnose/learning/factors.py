"""What the facts and the age of a machine do to all causes at once, and which conditions it cannot have."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.records import Knowledge
from diagnose.network.machine import Machine
from diagnose.network.network import Array
from diagnose.network.priors import AGE_BOUNDS, applies, facts_ratio

BIN = 0.05
"""Width of a bin of log odds; priors that fall into one bin are taken as one."""
LAST_BIN = 200
"""Odds multiplied by more than exp(10), or less than exp(-10), count as that."""
KEPT = 1000


@dataclass(frozen=True, slots=True, eq=False)
class _Facts:
    """What facts alone do: the logarithm of the factor on each cause's odds, and what can be."""

    factor: Array
    possible: NDArray[np.bool_]
    lacking: frozenset[str]


class Factors:
    """For every machine the bin of the factor on each cause's odds, in the order of the knowledge's causes.
    The same as `priors.prior`, for many machines in less time."""

    def __init__(self, knowledge: Knowledge):
        self.causes = tuple(knowledge.causes.values())
        self.conditions = tuple(one for one in knowledge.conditions.values() if one.only_if)
        self.number = {cause.id: number for number, cause in enumerate(self.causes)}
        self.slope = np.array([cause.age.shape.value - 1 if cause.age else 0.0 for cause in self.causes])
        self.reference = np.array([cause.age.reference_hours if cause.age else 1.0 for cause in self.causes])
        self._by_facts: dict[tuple[tuple[str, str], ...], _Facts] = {}

    def bins(self, machine: Machine) -> NDArray[np.int16]:
        """The bin of each cause, shape (causes,)."""
        factor = self._facts(machine.facts).factor + self._ageing(machine)
        return np.clip(np.rint(factor / BIN), -LAST_BIN, LAST_BIN).astype(np.int16)

    def possible(self, machine: Machine) -> NDArray[np.bool_]:
        """Whether each cause can be on the machine at all."""
        return self._facts(machine.facts).possible

    def lacking(self, machine: Machine) -> frozenset[str]:
        """The conditions that the machine cannot have."""
        return self._facts(machine.facts).lacking

    def _ageing(self, machine: Machine) -> Array:
        if machine.hours is None and not machine.renewed:
            return np.zeros(len(self.causes))
        hours = self.reference.copy() if machine.hours is None else np.full(len(self.causes), machine.hours)
        for cause, run in machine.renewed.items():
            if cause in self.number:
                hours[self.number[cause]] = run
        ratio = np.maximum(hours / self.reference, 1e-6) ** self.slope
        logarithm: Array = np.log(np.clip(ratio, *AGE_BOUNDS))
        return logarithm

    def _facts(self, facts: Mapping[str, str]) -> _Facts:
        key = tuple(sorted(facts.items()))
        if key not in self._by_facts:
            if len(self._by_facts) >= KEPT:
                self._by_facts.clear()
            self._by_facts[key] = self._looked_up(Machine(facts=facts))
        return self._by_facts[key]

    def _looked_up(self, machine: Machine) -> _Facts:
        ratio = np.array([facts_ratio(cause, machine) for cause in self.causes])
        possible = np.array([applies(cause, machine) for cause in self.causes], dtype=bool)
        lacking = frozenset(one.id for one in self.conditions if not applies(one, machine))
        return _Facts(np.log(ratio), possible, lacking)
