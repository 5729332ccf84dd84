"""Parts that are not broken yet: renew them while it is open, or leave them in?

Over the shop's horizon of running hours a renewed part keeps what is left of its life as worth; a part left in
fails with the Weibull probability of its age and is then renewed at a second dismantling with a comeback, or it
survives and keeps what little life is left. Age replacement with shared set-up: Barlow & Hunter, Operations
Research 8 (1960); the opportunistic reading is common practice. Citation from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from diagnose.cases.case import Case
from diagnose.knowledge.dismantling import both_ways
from diagnose.knowledge.records import Knowledge, Repair
from diagnose.planning.options import access_path
from diagnose.planning.shop import Shop


@dataclass(frozen=True, slots=True)
class Wear:
    """One part's outlook. Costs are net of the worth left in the part at the horizon."""

    repair: Repair
    age: float
    life: float
    fails: float
    renewed: float
    left_in: float

    @property
    def behind(self) -> float:
        """What leaving the part in costs beyond renewing it, its price not counted."""
        return self.left_in - self.renewed


def outlook(knowledge: Knowledge, case: Case, repair: Repair, shop: Shop) -> Wear | None:
    """What renewing the part now, or leaving it in, means over the horizon; None where life or age is unknown."""
    age = part_age(case, repair)
    if repair.life is None or age is None:
        return None
    life, horizon = repair.life.hours.value, shop.horizon
    price = shop.parts(repair.parts)
    fails = failure_probability(age, horizon, life, repair.life.shape)
    again = shop.time(repair.minutes.value + _access_minutes(knowledge, repair)) + shop.comeback
    failed = price + again - price * _left(horizon / 2, life)
    survived = -price * _left(age + horizon, life)
    left_in = fails * failed + (1 - fails) * survived
    return Wear(repair, age, life, fails, -price * _left(horizon, life), left_in)


def failure_probability(age: float, horizon: float, life: float, shape: float) -> float:
    """P(fails within the horizon | good at this age), Weibull: 1 - exp((a/n)^b - ((a + h)/n)^b)."""
    return 1 - math.exp((age / life) ** shape - ((age + horizon) / life) ** shape)


def part_age(case: Case, repair: Repair) -> float | None:
    """Running hours of the part that the repair renews: since it was replaced, else the machine's."""
    cured = {cure.cause for cure in repair.cures}
    if any(repair.id in epoch.repairs or cured & set(epoch.causes) for epoch in case.epochs[1:]):
        return 0.0
    known = [hours for cause, hours in case.machine.renewed.items() if cause in cured]
    return min(known) if known else case.machine.hours


def _left(age: float, life: float) -> float:
    """Share of a part's worth that is left at an age, written off evenly over its life."""
    return max(0.0, 1 - age / life)


def _access_minutes(knowledge: Knowledge, repair: Repair) -> float:
    path = access_path(knowledge, repair.access, ())
    return both_ways(path)
