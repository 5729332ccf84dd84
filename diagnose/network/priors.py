"""How likely each cause is to have arisen on this machine before anything is seen.

A cause that happens is there on arrival with 1 - exp(-H), H the integral of its hazard over the hours since
the machine was last right: its rate in ordinary care, times what is known of the machine. Where the age of
the part is known the hazard is Weibull. Where nobody knows when it was replaced it has its rate, the steady
one of a part that is replaced again and again, 1 / mean life (elementary renewal theorem; Cox, Renewal
Theory, 1962, from memory): wear parts do not climb for ever. What is seldom replaced (`as_machine`) is the
original part with the probability that this survived so long, and ages with the machine; else a later one
at the steady rate.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import expm1, gamma

import numpy as np

from diagnose.knowledge.machine_facts import Fact
from diagnose.knowledge.records import Cause, Knowledge
from diagnose.network.machine import Machine
from diagnose.network.network import Array

STARTS_PER_HOUR, NIGHTS_PER_HOUR = 0.4, 0.1
"""Where no fact of the knowledge tells them (common practice: a start every two to three running hours, ten running
hours a standing night)."""
SHARE_BOUNDS = (0.1, 10.0)
"""How far age can raise or lower the odds of what builds up unnoticed."""


@dataclass(frozen=True, slots=True)
class Weibull:
    """A life with the cumulative hazard (hours / life)^shape."""

    shape: float
    life: float

    @property
    def mean(self) -> float:
        """Mean life, life x Gamma(1 + 1 / shape)."""
        return self.life * gamma(1 + 1 / self.shape)

    def hazard(self, start: float, end: float) -> float:
        """The integral of the hazard between two ages."""
        return float((end / self.life) ** self.shape - (start / self.life) ** self.shape)

    def failed(self, age: float) -> float:
        """P(failed by this age)."""
        return -expm1(-((age / self.life) ** self.shape))


def life(rate: float, shape: float, reference: float | None) -> Weibull:
    """The life of a part that fails at `rate` per hour: on average over parts replaced at failure for ever
    (rate = 1 / mean life); or, with a reference, at that age (rate = shape / life x (reference /
    life)^(shape - 1)).
    """
    if reference is None:
        return Weibull(shape, 1 / (rate * gamma(1 + 1 / shape)))
    return Weibull(shape, float((shape * reference ** (shape - 1) / rate) ** (1 / shape)))


def expected(cause: Cause, machine: Machine, per_hour: float) -> float:
    """How many occurrences to expect in the machine's window with every multiplier at 1 (of a share: its odds).

    `per_hour`: what the cause's frequency counts, per running hour: see `Exposures`.
    """
    if cause.per == "share":
        p = cause.frequency.value
        return p / max(1 - p, 1e-300) * _share_ageing(cause, machine)
    rate, window = cause.frequency.value * per_hour, machine.window
    if cause.age is None or cause.age.shape.value == 1.0 or rate == 0.0:
        return rate * min(window, machine.renewed.get(cause.id, window))
    part = life(rate, cause.age.shape.value, cause.age.reference_hours)
    if (age := machine.renewed.get(cause.id)) is not None:
        return part.hazard(max(0.0, age - window), age)
    if machine.hours is None or not cause.age.as_machine:
        return rate * window
    return _perhaps_original(part, machine.hours - window, machine.hours)


def _perhaps_original(part: Weibull, start: float, end: float) -> float:
    """Failures to expect between two ages of the machine: of the original part, and of a later one at the steady
    rate where the original one has failed."""
    later = part.failed((start + end) / 2) * (end - start) / part.mean
    return part.failed(end) - part.failed(start) + later


def _share_ageing(cause: Cause, machine: Machine) -> float:
    """(age / reference)^(shape - 1), bounded: what builds up does so with the hours."""
    age = machine.renewed.get(cause.id, machine.hours)
    if cause.age is None or cause.age.reference_hours is None or age is None:
        return 1.0
    low, high = SHARE_BOUNDS
    ratio: float = max(age / cause.age.reference_hours, 1e-6) ** (cause.age.shape.value - 1)
    return min(max(ratio, low), high)


def presence(cause: Cause, expected: Array) -> Array:
    """P(present) with so many occurrences to expect, or these odds of a share; elementwise."""
    return expected / (1 + expected) if cause.per == "share" else -np.expm1(-expected)


@dataclass(frozen=True, slots=True)
class Exposures:
    """What frequencies count, per running hour: where a fact tells it, by that fact's value."""

    starts: Fact | None
    nights: Fact | None

    def fact(self, per: str) -> str:
        """The fact on which it depends; none: empty."""
        found = {"per_start": self.starts, "per_night": self.nights}.get(per)
        return found.id if found else ""

    def per_hour(self, per: str, value: str = "") -> float:
        """How many per running hour, where that fact has this value."""
        if per == "per_start":
            return self.starts.starts[value].value if self.starts and value else STARTS_PER_HOUR
        if per == "per_night":
            return self.nights.nights[value].value if self.nights and value else NIGHTS_PER_HOUR
        return 1e-3


def exposures(knowledge: Knowledge) -> Exposures:
    """From the facts that tell starts and standing nights."""
    facts = knowledge.facts.values()
    starts = next((fact for fact in facts if fact.starts), None)
    return Exposures(starts, next((fact for fact in facts if fact.nights), None))


def multiplier(cause: Cause, facts: Mapping[str, str]) -> float:
    """By how much these facts multiply the hazard."""
    ratio = 1.0
    for modifier in cause.modifiers:
        if facts.get(modifier.fact) == modifier.value:
            ratio *= modifier.odds.value
    return ratio
