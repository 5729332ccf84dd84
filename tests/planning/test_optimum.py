"""The planner against the exact optimum of small random problems.

Outside check: tests/planning/optimum.py, plain dynamic programming over beliefs, written apart from the
planner. All 300 problems are run by tests/benchmarks/bench_planner.py; here are those that both solve within a
moment.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.planning.planner import Planner
from tests.planning.optimum import optimum
from tests.planning.random_problems import random_problem

SEEDS = range(1000, 1025)
SHUTTING = (1033, 1053, 1056, 1067, 1099, 1116, 1119, 1134, 1155, 1273)
"""Problems in which it costs money that opening something rules checks out: all such of the first 300."""


@pytest.mark.parametrize("seed", SEEDS)
def test_the_plan_is_the_optimum(seed: int) -> None:
    problem = random_problem(seed, actions=6)
    planner = Planner(problem)
    plan, is_solved = planner.search(planner.start(), 50)
    assert is_solved
    assert plan.cost == pytest.approx(optimum(problem), rel=1e-6)


@pytest.mark.parametrize("seed", SHUTTING)
def test_the_plan_is_the_optimum_where_opening_shuts_checks_out(seed: int) -> None:
    """Checks that need the machine whole cannot be done once something is open; a plan that forgets it is too
    cheap."""
    plain = random_problem(seed, actions=6)
    every = (1 << len(plain.opening)) - 1
    tests = tuple(replace(test, shut=every & ~plain.closure(test.access)) for test in plain.tests)
    problem = replace(plain, tests=tests)
    planner = Planner(problem)
    plan, is_solved = planner.search(planner.start(), 50)
    assert is_solved
    assert plan.cost == pytest.approx(optimum(problem), rel=1e-6)
    assert plan.cost > optimum(plain) + 0.01


@pytest.mark.parametrize("seed", SEEDS)
def test_bounds_hold(seed: int) -> None:
    """No plan is cheaper than the lower bound; looking ahead never makes the fallback worse."""
    planner = Planner(random_problem(seed, actions=6))
    start = planner.start()
    costs = [planner.search(start, horizon)[0].cost for horizon in (0, 1, 2)]
    assert planner.lower_bound(start) <= costs[-1] + 1e-9
    assert costs == sorted(costs, reverse=True)
    assert costs[0] == pytest.approx(float(planner.values([start])[0]))
