"""Which repairs are done as one: what belongs together, and no part of something else on suspicion.

A part is renewed beside another where both are of one system, where it is itself likely to be bad, where the
knowledge names both together, or where the dismantling that both share is worth more than the part and its work
(common practice). What is merely possible is looked at first: a sensor that is sure makes no pressure cap bad. What
takes no part, such as tightening, can be done beside anything.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.knowledge.records import Repair
from diagnose.planning.options import NEARLY, redundant
from diagnose.planning.problem import DecisionProblem

LIKELY = 0.1
"""P(a repair cures what none of the others cures) from which a part is renewed beside them (judgement)."""
INSTEAD = 0.2
"""A repair that cures beside the others less than this share of what it cures alone is done instead of them, not
with them (judgement): two kinds of one turbocharger."""


def belong(problem: DecisionProblem, numbers: Sequence[int], repairs: Sequence[Repair]) -> bool:
    """Whether these repairs, the fixes of the problem by number, are sensibly done as one."""
    if len(numbers) == 1:
        return True
    return not redundant(repairs) and all(_belongs(problem, n, numbers, repairs) for n in numbers)


def _belongs(
    problem: DecisionProblem, number: int, numbers: Sequence[int], repairs: Sequence[Repair]
) -> bool:
    mine = repairs[numbers.index(number)]
    others = [(n, one) for n, one in zip(numbers, repairs, strict=True) if n != number]
    if not mine.parts or any(one.id in mine.together or mine.id in one.together for _, one in others):
        return True
    adds = _mass(problem, number, [n for n, _ in others])
    if adds < INSTEAD * _mass(problem, number, []):
        return False
    near = any(
        one.system == mine.system or _shared(problem, number, n) > problem.fixes[number].cost
        for n, one in others
    )
    return near or adds >= LIKELY


def _mass(problem: DecisionProblem, number: int, beside: Sequence[int]) -> float:
    """P(there is a fault that this one cures and none of those beside it cures nearly as surely)."""
    cures = problem.fixes[number].cures
    surest = np.max([np.zeros_like(cures), *(problem.fixes[n].cures for n in beside)], axis=0)
    own = (cures > 0) & (surest < cures - NEARLY)
    there = (problem.faults[:, None] >> np.arange(len(cures))) & 1
    return float(problem.probabilities @ (there @ own > 0))


def _shared(problem: DecisionProblem, one: int, other: int) -> float:
    """The money that the dismantling of both done as one saves."""
    first, second = problem.fixes[one].access, problem.fixes[other].access
    alone = problem.reach(first, 0)[0] + problem.reach(second, 0)[0]
    return float(alone - problem.reach(first | second, 0)[0])
