"""How likely each cause is on this machine before anything is seen."""

from __future__ import annotations

from diagnose.knowledge.records import Cause, Condition
from diagnose.network.machine import Machine

AGE_BOUNDS = (0.1, 10.0)


def prior(cause: Cause, machine: Machine) -> float:
    """P(present) on this machine: the reference prior, its odds multiplied by facts and by ageing."""
    odds = (
        cause.prior.value / (1 - cause.prior.value) * age_ratio(cause, machine) * facts_ratio(cause, machine)
    )
    return odds / (1 + odds)


def facts_ratio(cause: Cause, machine: Machine) -> float:
    """By how much what is known of the machine multiplies the odds."""
    ratio = 1.0
    for modifier in cause.modifiers:
        if machine.facts.get(modifier.fact) == modifier.value:
            ratio *= modifier.odds.value
    return ratio


def age_ratio(cause: Cause, machine: Machine) -> float:
    """Hazard now over hazard at the reference age, (age / reference)^(shape - 1), bounded to 0.1 .. 10."""
    age = machine.renewed.get(cause.id, machine.hours)
    if cause.age is None or age is None:
        return 1.0
    low, high = AGE_BOUNDS
    ratio: float = max(age / cause.age.reference_hours, 1e-6) ** (cause.age.shape.value - 1)
    return min(max(ratio, low), high)


def applies(record: Cause | Condition, machine: Machine) -> bool:
    """Whether the cause or condition can be on this machine at all (an unknown fact does not exclude it)."""
    return all(machine.facts.get(r.fact, r.values[0]) in r.values for r in record.only_if)
