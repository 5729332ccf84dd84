"""Which repairs are done as one: what belongs together, and no part of something else on suspicion.

A part is renewed beside another where it is itself likely to be bad, where the knowledge names both together, or
where the dismantling that both share is worth more than the part and its work (common practice; the figure is
judgement). What is merely possible is looked at first: a sensor that is sure makes no pressure cap bad.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.knowledge.records import Repair
from diagnose.planning.options import NEARLY, redundant
from diagnose.planning.problem import Problem

LIKELY = 0.2
"""P(a repair cures what none of the others cures) from which it is done beside them (judgement)."""


def belong(problem: Problem, numbers: Sequence[int], repairs: Sequence[Repair]) -> bool:
    """Whether these repairs, the fixes of the problem by number, are sensibly done as one."""
    if len(numbers) == 1:
        return True
    return not redundant(repairs) and all(
        _adds(problem, n, numbers) >= LIKELY or _goes_along(problem, n, numbers, repairs) for n in numbers
    )


def _adds(problem: Problem, number: int, numbers: Sequence[int]) -> float:
    """P(there is a fault that this one cures and no other of them cures nearly as surely)."""
    cures = problem.fixes[number].cures
    others = [problem.fixes[n].cures for n in numbers if n != number]
    surest = np.max([np.zeros_like(cures), *others], axis=0)
    own = (cures > 0) & (surest < cures - NEARLY)
    there = (problem.faults[:, None] >> np.arange(len(cures))) & 1
    return float(problem.probabilities @ (there @ own > 0))


def _goes_along(problem: Problem, number: int, numbers: Sequence[int], repairs: Sequence[Repair]) -> bool:
    """Whether it is named with one of the others, or what it shares with one is worth more than itself."""
    mine = repairs[numbers.index(number)]
    others = [(n, one) for n, one in zip(numbers, repairs, strict=True) if n != number]
    return any(
        one.id in mine.together
        or mine.id in one.together
        or _shared(problem, number, n) > problem.fixes[number].cost
        for n, one in others
    )


def _shared(problem: Problem, one: int, other: int) -> float:
    """The money that the dismantling of both done as one saves."""
    first, second = problem.fixes[one].access, problem.fixes[other].access
    alone = problem.reach(first, 0)[0] + problem.reach(second, 0)[0]
    return float(alone - problem.reach(first | second, 0)[0])
