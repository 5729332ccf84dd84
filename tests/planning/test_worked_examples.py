"""Small troubleshooting problems worked by hand: the planner finds each optimum, and the simple rules their price.

None of the examples E1 to E6 is published; they are constructed after the formulas named below. Each says how its
answer was derived: two ways (formula or dynamic programming, and enumeration) or one way.

- Expected cost of a sequence of repairs: sum over i of (1 - sum_{j<i} p_j) c_i; in order of p/c it is least if
  there is exactly one fault, each repair cures only its own, and costs do not depend on the order (Kadane &
  Simon, Annals of Statistics 5, 1977; Heckerman, Breese & Rommelse, CACM 38(3), 1995; from memory).
- Test sequencing: J(S) = 0 for one state, else min over t of c_t P(S) + J(S0) + J(S1) (Pattipati & Alexandridis,
  IEEE SMC 20, 1990; from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np
import pytest

from diagnose.network.network import Array
from diagnose.planning.planner import Plan, Planner, State
from diagnose.planning.problem import DecisionProblem, Fix, closed
from diagnose.planning.problem import Test as Check
from tests.planning.optimum import optimum

NEVER = 1e6
"""A last resort that nobody takes."""


def single_faults(
    p: Sequence[float],
    fixes: Sequence[Fix],
    tests: Sequence[Check] = (),
    last_resort: float = NEVER,
    opening: Sequence[float] = (),
    comeback: float = 0.0,
) -> DecisionProblem:
    """Exactly one fault is there; its number is its bit."""
    faults = closed([1 << bit for bit in range(len(p))])
    chances = np.array([0.0, *p])
    needs = (0,) * len(opening)
    return DecisionProblem(
        faults, chances, tuple(tests), tuple(fixes), last_resort, np.array(opening), needs, comeback
    )


def fix(name: str, cost: float, *cures: int, access: int = 0, faults: int = 3) -> Fix:
    return Fix(name, cost, access, np.array([float(fault in cures) for fault in range(faults)]))


def check(name: str, cost: float, positive: Sequence[float], access: int = 0) -> Check:
    """A test with P(positive | fault); the row of no fault is never used."""
    shown = np.array([0.0, *positive])
    return Check(name, cost, access, np.stack([1 - shown, shown], axis=1))


def order(problem: DecisionProblem, plan: Plan) -> list[str]:
    """The names on the path on which nothing helps and every test is negative."""
    names = []
    while plan.kind != "hand over":
        actions = problem.tests if plan.kind == "test" else problem.fixes
        names.append(actions[plan.number].name)
        if not plan.branches:
            return names
        plan = plan.branches[0][2]
    return [*names, "hand over"]


def sequence_cost(problem: DecisionProblem, fixes: Sequence[int]) -> float:
    """Expected cost of these repairs in this order, each tried out before the next."""
    planner, state = Planner(problem), Planner(problem).start()
    total, reached = 0.0, 1.0
    for number in fixes:
        glance = next((g for g in planner.fixes(state) if g.number == number), None)
        if glance is None:
            continue
        total += reached * glance.cost
        if not glance.after:
            return total
        _, left, state = glance.after[0]
        reached *= left
    return total + reached * planner.hand_over(state)


def solved(problem: DecisionProblem) -> Plan:
    return Planner(problem).plan(float("inf"))


E1 = [fix("A", 100, 0), fix("B", 20, 1), fix("C", 50, 2)]


def test_e1_three_repairs_by_probability_per_cost() -> None:
    """Constructed, derived two ways: the p/c rule, and all 6 orders (the worst is C, A, B with 136)."""
    problem = single_faults([0.5, 0.3, 0.2], E1)
    plan = solved(problem)
    assert plan.cost == pytest.approx(100)
    assert order(problem, plan) == ["B", "A", "C"]
    costs = {chosen: sequence_cost(problem, chosen) for chosen in permutations(range(3))}
    assert min(costs.values()) == pytest.approx(100)
    assert costs[2, 0, 1] == pytest.approx(max(costs.values())) == pytest.approx(136)
    assert Planner(problem).repair_only(Planner(problem).start()).cost == pytest.approx(100)


def test_e1b_inspect_then_repair() -> None:
    """Constructed, derived two ways: sum of [(1 - sum_{j<i} p_j) inspection_i + p_i repair_i], and enumeration over
    the true fault. A repair is never done without its inspection, so the inspection is the way to the part."""
    opening = [30.0, 10.0, 5.0]
    tests = [check(name, 0, np.eye(3)[i], access=1 << i) for i, name in enumerate("abc")]
    fixes = [
        fix(name, cost, i, access=1 << i)
        for i, (name, cost) in enumerate(zip("ABC", (400, 150, 900), strict=True))
    ]
    problem = single_faults([0.5, 0.3, 0.2], fixes, tests, opening=opening)
    plan = solved(problem)
    assert plan.cost == pytest.approx(453)
    assert [name.upper() for name in order(problem, plan)][:2] == ["C", "B"]


@pytest.mark.parametrize(
    ("third", "cost", "names"), [(60, 66, ["A", "B", "hand over"]), (40, 63, ["A", "B", "C", "hand over"])]
)
def test_e2_when_to_call_service(third: float, cost: float, names: list[str]) -> None:
    """E2 and E2b, constructed, derived one way: all subsets and orders. With 40 the third is worth trying only
    by its conditional probability, .10/.30 x 150 = 50 > 40; the unconditional .10 x 150 = 15 would wrongly stop."""
    fixes = [fix("A", 10, 0, faults=4), fix("B", 20, 1, faults=4), fix("C", third, 2, faults=4)]
    problem = single_faults([0.45, 0.25, 0.10, 0.20], fixes, last_resort=150)
    plan = solved(problem)
    assert plan.cost == pytest.approx(cost)
    assert order(problem, plan) == names


def test_e3_a_repair_that_cures_two() -> None:
    """Constructed, derived two ways: optimum Y, Z 5.2; greedy by updated p/c takes X first and pays 5.7."""
    fixes = [fix("X", 1.9, 0), fix("Y", 4, 0, 1), fix("Z", 4, 0, 2)]
    problem = single_faults([7 / 20, 7 / 20, 6 / 20], fixes)
    plan = solved(problem)
    assert plan.cost == pytest.approx(5.2)
    assert order(problem, plan) == ["Y", "Z"]
    greedy = Planner(problem).repair_only(Planner(problem).start())
    assert greedy.cost == pytest.approx(5.7)
    assert order(problem, greedy) == ["X", "Y", "Z"]


def test_e4_a_cluster_that_is_opened_once() -> None:
    """Constructed, derived one way (24 orders); the bottom-up P-over-C rule for clusters (Ottosen & Jensen
    2010, cited by title) gives the same order. Plain p/c, a1 a2 a4 a3, pays 50.1."""
    fixes = [
        fix("a1", 10, 0, access=1, faults=4),
        fix("a2", 10, 1, access=1, faults=4),
        fix("a3", 10, 2, faults=4),
        fix("a4", 6, 3, faults=4),
    ]
    problem = single_faults([0.40, 0.25, 0.20, 0.15], fixes, opening=[30])
    plan = solved(problem)
    assert plan.cost == pytest.approx(43.0)
    assert order(problem, plan) == ["a4", "a3", "a1", "a2"]
    assert sequence_cost(problem, (0, 1, 3, 2)) == pytest.approx(50.1)


def test_e5_the_value_of_a_test() -> None:
    """Constructed, derived two ways: closed form with all 36 policies, and dynamic programming with the test at any
    point (85.5, the test first). Value of the test 19.5, less its cost of 5: 14.5."""
    problem = single_faults([0.5, 0.3, 0.2], E1, [check("T", 5, (0.9, 0.1, 0.2))])
    planner = Planner(problem)
    (glance,) = planner.tests(planner.start())
    assert {result: p for result, p, _ in glance.after} == pytest.approx({0: 0.48, 1: 0.52})
    after = {result: planner.search(state, 5)[0].cost for result, _, state in glance.after}
    assert after == pytest.approx({0: 52.291667, 1: 106.538462})
    alone = planner.repair_only(planner.start()).cost
    first = next(g for g in planner.glances(planner.start()) if g.kind == "test")
    assert alone - first.estimate == pytest.approx(14.5)
    assert solved(problem).cost == pytest.approx(85.5)
    assert solved(problem).kind == "test"


def test_e6_several_faults_at_once() -> None:
    """Constructed, derived one way (6 orders x 7 fault sets). With several faults the order by marginal p/c, B
    C A, is 2.45 % dearer than the optimum."""
    prior = np.array([0.3, 0.2, 0.1])
    faults = closed([0b111])
    chances = np.array([_product(prior, int(fault_set)) for fault_set in faults])
    chances[0] = 0.0
    fixes = (fix("A", 10, 0), fix("B", 1, 1), fix("C", 3, 2))
    problem = DecisionProblem(faults, chances / chances.sum(), (), fixes, NEVER, np.zeros(0))
    marginals = [problem.probabilities[(faults >> bit & 1) == 1].sum() for bit in range(3)]
    assert marginals == pytest.approx([0.604839, 0.403226, 0.201613], abs=1e-6)
    plan = solved(problem)
    assert plan.cost == pytest.approx(9.064516, abs=1e-6)
    assert order(problem, plan) == ["B", "A", "C"]
    assert sequence_cost(problem, (1, 2, 0)) == pytest.approx(9.286290, abs=1e-6)


def _product(prior: Array, fault_set: int) -> float:
    return float(np.prod([p if fault_set >> bit & 1 else 1 - p for bit, p in enumerate(prior)]))


PRIORS = (0.70, 0.01, 0.02, 0.10, 0.05, 0.12)
MATRIX = ("00000", "01001", "00110", "10011", "11000", "11110")
"""Test results t1..t5 of the states s0..s5; the classic example of the test sequencing literature, from memory."""


def sequencing() -> DecisionProblem:
    """Wrong repairs are so dear, right ones free, that the state must be known first: the cost is that of the
    tests."""
    fixes = [fix(f"s{i}", 0, i, faults=6) for i in range(6)]
    tests = [check(f"t{t + 1}", 1, [float(row[t]) for row in MATRIX]) for t in range(5)]
    return single_faults(PRIORS, fixes, tests, comeback=10_000)


def test_six_states_five_tests() -> None:
    """2.18 is the exact optimum of this matrix, derived two ways (dynamic programming, and listing all 316
    trees); the matrix itself is from memory. The first test is t2 or t4."""
    problem = sequencing()
    plan = solved(problem)
    assert plan.cost == pytest.approx(2.18)
    assert problem.tests[plan.number].name in ("t2", "t4")
    assert optimum(problem) == pytest.approx(2.18)


def test_greedy_information_gain_is_not_optimal() -> None:
    """Greedy takes t1 first (.8415 bit) and pays 2.86, 31 % more than the optimum; derived one way."""
    planner = Planner(sequencing())
    start = planner.start()
    gains = {planner.problem.tests[number].name: bits for bits, number in _gains(planner, start)}
    assert gains == pytest.approx(
        {"t1": 0.8415, "t4": 0.7950, "t2": 0.6801, "t3": 0.5842, "t5": 0.4999}, abs=5e-5
    )
    assert _greedy(planner, start) == pytest.approx(2.86)


def _greedy(planner: Planner, state: State) -> float:
    """Cost of testing by most information until the state is known."""
    if state.belief.max() > 1 - 1e-9:
        return 0.0
    _, number = max(_gains(planner, state))
    chosen = next(glance for glance in planner.tests(state) if glance.number == number)
    return chosen.cost + sum(p * _greedy(planner, then) for _, p, then in chosen.after)


def _gains(planner: Planner, state: State) -> Iterator[tuple[float, int]]:
    for glance in planner.tests(state):
        after = sum(p * _entropy(then.belief) for _, p, then in glance.after)
        yield _entropy(state.belief) - after, glance.number


def _entropy(belief: Array) -> float:
    positive = belief[belief > 0]
    return float(-(positive * np.log2(positive)).sum())
