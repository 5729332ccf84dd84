"""How near the planner comes to the exact optimum: `python -m tests.benchmarks.bench_planner [problems]`.

300 seeded random problems (tests/planning/random_problems.py), each solved exactly by plain dynamic programming
(tests/planning/optimum.py), against the planner and three simple rules. Prints the table of docs/benchmarks.md.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from time import perf_counter

import numpy as np

from diagnose.planning.planner import Glance, Planner, State
from diagnose.planning.problem import DecisionProblem
from tests.planning.optimum import optimum
from tests.planning.random_problems import random_problem

PROBLEMS = 300
SURE = 0.9
SECONDS = 2.0

Choose = Callable[[Planner, State], Glance | None]
"""A rule: the next action of a state; None for handing over."""


def expected_cost(planner: Planner, state: State, choose: Choose) -> float:
    """Exact expected cost of a rule from a state."""
    glance = choose(planner, state)
    if glance is None:
        return planner.hand_over(state)
    return glance.cost + sum(p * expected_cost(planner, then, choose) for _, p, then in glance.after)


def probability_per_cost(planner: Planner, state: State) -> Glance | None:
    """No checks: the repair with the most P(cured) for its cost, until handing over is cheaper."""
    plan = planner.repair_only(state)
    return next((g for g in planner.fixes(state) if plan.kind == "fix" and g.number == plan.number), None)


def information_per_cost(planner: Planner, state: State) -> Glance | None:
    """Check by bits about the fault set for the money, until one is likelier than 90 % or nothing tells; then
    repair by probability per cost."""
    tests = planner.tests(state)
    if state.belief.max() < SURE and tests:
        best = max(tests, key=lambda glance: told(state, glance) / max(glance.cost, 1e-9))
        if told(state, best) > 1e-6:
            return best
    return probability_per_cost(planner, state)


def told(state: State, glance: Glance) -> float:
    """Expected drop of the entropy of the fault set, in bits."""
    return entropy(state.belief) - sum(p * entropy(then.belief) for _, p, then in glance.after)


def entropy(belief: np.ndarray) -> float:
    """Entropy in bits."""
    positive = belief[belief > 0]
    return float(-(positive * np.log2(positive)).sum())


def anything(seed: int) -> Choose:
    """One rule drawn by chance: in each state any sensible action, or handing over."""
    rng = np.random.default_rng(seed)

    def choose(planner: Planner, state: State) -> Glance | None:
        actions = [*planner.tests(state), *planner.fixes(state), None]
        return actions[int(rng.integers(len(actions)))]

    return choose


def planned(problem: DecisionProblem) -> float:
    """Expected cost of the plan found within the seconds."""
    return Planner(problem).plan(SECONDS).cost


def costs(seed: int) -> dict[str, float]:
    """The optimum of one problem, and what each way costs."""
    problem = random_problem(seed)
    planner = Planner(problem)
    start = planner.start()
    return {
        "optimum": optimum(problem),
        "planner": planned(problem),
        "information per cost": expected_cost(planner, start, information_per_cost),
        "probability per cost, no checks": expected_cost(planner, start, probability_per_cost),
        "by chance": expected_cost(planner, start, anything(seed)),
    }


def table(found: list[dict[str, float]]) -> str:
    """Mean, 95th percentile and largest gap to the optimum of each way, in per cent; a Markdown table."""
    lines = ["| way | mean gap | 95 % of problems below | largest | optimal |", "|---|---|---|---|---|"]
    for way in [name for name in found[0] if name != "optimum"]:
        gaps = np.array([100 * (one[way] / one["optimum"] - 1) for one in found])
        hit = float((gaps < 1e-6).mean())
        lines.append(
            f"| {way} | {gaps.mean():.1f} % | {np.percentile(gaps, 95):.1f} % | {gaps.max():.1f} % | {hit:.0%} |"
        )
    return "\n".join(lines)


def main(count: int = PROBLEMS) -> None:
    """Run and print."""
    begun = perf_counter()
    found = [costs(seed) for seed in range(count)]
    print(table(found))
    print(
        f"{count} problems, {SECONDS:g} s each at most for the planner; {perf_counter() - begun:.0f} s in all"
    )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
