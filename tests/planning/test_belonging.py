"""Which repairs are done as one, on sums made by hand (common practice of the trade; no outside source)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnose.knowledge.records import Part, Repair
from diagnose.planning.belonging import INSTEAD, LIKELY, belong
from diagnose.planning.problem import DecisionProblem, Fix
from tests.planning.test_repairs_by_hand import repair

PART = Part("part", 1, 50, False)


def problem(likely: float, shared: float, second: tuple[float, float] = (0.0, 1.0)) -> DecisionProblem:
    """Fault 0 is there with 0.8, fault 1 with `likely`, each alone; the first fix cures fault 0, the second as
    told. Both open the same state, which costs `shared`; each costs 100."""
    faults = np.array([0, 1, 2])
    fixes = (Fix("one", 100, 1, np.array([1.0, 0.0, 0.0])), Fix("other", 100, 1, np.array([*second, 0.0])))
    chances = np.array([0.2 - likely, 0.8, likely])
    return DecisionProblem(faults, chances, (), fixes, 1000, np.array([shared]), (0,))


def repairs(**other: object) -> tuple[Repair, Repair]:
    first = replace(repair("one", PART), system="exhaust")
    return first, replace(repair("other", PART, cures="cap"), **{"system": "cooling", **other})  # type: ignore[arg-type]


def test_no_part_of_another_system_on_suspicion() -> None:
    assert not belong(problem(LIKELY / 2, 0), (0, 1), repairs())


@pytest.mark.parametrize("other", [{"system": "exhaust"}, {"together": ("one",)}, {"parts": ()}], ids=str)
def test_one_of_the_same_system_or_named_together_or_without_a_part_goes_along(
    other: dict[str, object],
) -> None:
    assert belong(problem(LIKELY / 2, 0), (0, 1), repairs(**other))


def test_what_is_likely_or_lies_behind_the_same_dear_dismantling_goes_along() -> None:
    assert belong(problem(LIKELY * 1.5, 0), (0, 1), repairs())
    assert belong(problem(LIKELY / 2, 150), (0, 1), repairs())
    assert not belong(problem(LIKELY / 2, 50), (0, 1), repairs())


def test_two_kinds_of_one_part_are_not_renewed_together() -> None:
    """The other turbocharger of the same maker's list cures the same, and a little that the first does not."""
    both = problem(0.8 * INSTEAD / 2, 0, second=(1.0, 1.0))
    assert not belong(both, (0, 1), repairs(system="exhaust"))
