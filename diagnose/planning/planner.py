"""Look-ahead in belief space: the cheapest expected way to a proven repair.

`Planner.plan` searches conditional plans (check, repair, hand over) ever deeper until the time is out; at the
horizon it falls back on the best sequence of repairs without further checks (`repair_only`), which is a policy
that can always be carried out, so every value is the true expected cost of the plan shown with it, never a guess.
Searching every action one step above a policy never makes it worse (policy improvement: Bertsekas & Castanon,
Journal of Heuristics 5, 1999; cited from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from time import monotonic

import numpy as np
from numpy.typing import NDArray

from diagnose.network.network import Array
from diagnose.planning.problem import DecisionProblem

NEGLIGIBLE = 1e-9  # of a probability or of money: below it is rounding
LONGEST_SEQUENCE = 12  # repairs one after another: more than any fault set has


@dataclass(frozen=True, slots=True)
class Plan:
    """A conditional plan. `kind`: test, fix, hand over. `cost`: expected from here to the end.

    `branches`: (result number, probability, what then); a fix has branch 0 = still broken.
    """

    kind: str
    number: int
    cost: float
    action_cost: float = 0.0
    branches: tuple[tuple[int, float, Plan], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Normalised belief over hypotheses, what is open, which tests and fixes were done (bits, tests first).

    Nothing is done twice: a check's noise and a repair's failure would repeat.
    """

    belief: Array
    open: int = 0
    done: int = 0

    @property
    def key(self) -> tuple[bytes, int, int]:
        """Equal for equal states."""
        return np.round(self.belief, 9).tobytes(), self.open, self.done


@dataclass(frozen=True, slots=True, eq=False)
class Glance:
    """One action from a state: what it costs now, what can follow, and a first estimate of the whole."""

    kind: str
    number: int
    cost: float
    after: tuple[tuple[int, float, State], ...]
    estimate: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """One repair for each state of a batch: which, its expected cost, P(still broken after it), and what handing
    over would cost instead."""

    action: NDArray[np.intp]
    cost: Array
    left: Array
    handed_over: Array


@dataclass(slots=True)
class Planner:
    """Plans for one problem. `width`: how many actions are looked into at each step (best at a first glance)."""

    problem: DecisionProblem
    width: int = 1_000_000
    deadline: float = float("inf")
    _known: dict[tuple[bytes, int, int, int], tuple[Plan, bool]] = field(default_factory=dict)
    _reach: dict[int, tuple[Array, list[int]]] = field(default_factory=dict)

    def start(self, open_now: int = 0) -> State:
        """The state before anything was done."""
        return State(self.problem.probabilities / self.problem.probabilities.sum(), open_now)

    def plan(self, seconds: float = 2.0, depth: int = 50, open_now: int = 0) -> Plan:
        """The best plan found; deeper look-ahead until solved, `depth` or `seconds` are reached."""
        start = self.start(open_now)
        self.deadline = monotonic() + seconds
        best = self.repair_only(start)
        for horizon in range(1, depth + 1):
            try:
                plan, solved = self.search(start, horizon)
            except TimeoutError:
                break
            best = min(best, plan, key=lambda found: found.cost)
            if solved:
                break
        return best

    def search(self, state: State, horizon: int) -> tuple[Plan, bool]:
        """The best plan that looks at most `horizon` actions ahead, and whether looking further is no use."""
        key = (*state.key, horizon)
        if key in self._known:
            return self._known[key]
        if monotonic() > self.deadline:
            raise TimeoutError
        best = self.repair_only(state)
        solved = self.lower_bound(state) >= best.cost - NEGLIGIBLE
        if horizon > 0 and not solved:
            best, solved = self._best_action(state, horizon, best)
        self._known[key] = best, solved
        return best, solved

    def _best_action(self, state: State, horizon: int, best: Plan) -> tuple[Plan, bool]:
        glances = self.glances(state)
        solved = len(glances) <= self.width
        for glance in glances[: self.width]:
            found = self._look_into(glance, horizon, best.cost)
            if found is not None:
                solved &= found[1]
                best = min(best, found[0], key=lambda plan: plan.cost)
        return best, solved

    def _look_into(self, glance: Glance, horizon: int, limit: float) -> tuple[Plan, bool] | None:
        """The plan that starts with this action; None as soon as it cannot beat `limit`."""
        bounds = [p * self.lower_bound(state) for _, p, state in glance.after]
        total, ahead, solved = glance.cost, sum(bounds), True
        branches = []
        for (result, p, state), bound in zip(glance.after, bounds, strict=True):
            if total + ahead >= limit - NEGLIGIBLE:
                return None
            plan, exact = self.search(state, horizon - 1)
            total, ahead, solved = total + p * plan.cost, ahead - bound, solved and exact
            branches.append((result, p, plan))
        return Plan(glance.kind, glance.number, total, glance.cost, tuple(branches)), solved

    def glances(self, state: State) -> list[Glance]:
        """Every sensible action, the best first by its cost with repairs alone after it."""
        estimated = self.estimated([*self.tests(state), *self.fixes(state)])
        return sorted(estimated, key=lambda glance: glance.estimate)

    def estimated(self, found: Sequence[Glance]) -> list[Glance]:
        """The actions with their cost with repairs alone after them, in one batch."""
        after = [next_state for glance in found for _, _, next_state in glance.after]
        rests = iter(self.values(after))
        return [
            Glance(
                g.kind, g.number, g.cost, g.after, g.cost + sum(p * float(next(rests)) for _, p, _ in g.after)
            )
            for g in found
        ]

    def tests(self, state: State) -> list[Glance]:
        """Every check that can still tell something, without an estimate."""
        found = [self.test(state, number) for number in range(len(self.problem.tests))]
        return [glance for glance in found if glance]

    def test(self, state: State, number: int) -> Glance | None:
        """One check without an estimate; None where it cannot be done (again) or tells nothing."""
        test = self.problem.tests[number]
        if state.done >> number & 1 or state.open & test.shut:
            return None
        reach, opened = self.problem.reach(test.access, state.open)
        joint = state.belief[:, None] * test.results
        done = state.done | 1 << number
        after = tuple(
            (result, float(p), State(joint[:, result] / p, opened, done))
            for result, p in enumerate(joint.sum(axis=0))
            if p > NEGLIGIBLE
        )
        return Glance("test", number, test.cost + reach, after) if len(after) > 1 else None

    def fixes(self, state: State) -> list[Glance]:
        """Every repair that can cure something, without an estimate."""
        if not self.problem.fixes:
            return []
        cured = self._cured(state.belief[None], np.array([self._fixes_done(state)]))[0]
        reach, opened = self._reaches(state.open)
        found = []
        for number in np.flatnonzero(cured > NEGLIGIBLE):
            left, belief = self._left(state.belief, int(number))
            bit = 1 << len(self.problem.tests) + int(number)
            open_then = 0 if self.problem.reassembled else opened[number]
            after = ((0, left, State(belief, open_then, state.done | bit)),) if left > NEGLIGIBLE else ()
            cost = self.problem.fixes[number].cost + reach[number] + left * self.problem.comeback
            found.append(Glance("fix", int(number), float(cost), after))
        return found

    def _left(self, belief: Array, fix: int) -> tuple[float, Array]:
        """P(still broken) after the fix, and the belief if so."""
        moved = belief @ self.problem.moves[fix]
        moved[0] = 0.0
        left = float(moved.sum())
        return left, moved / left if left > 0 else moved

    def _fixes_done(self, state: State) -> NDArray[np.bool_]:
        done = state.done >> len(self.problem.tests)
        return np.array([done >> number & 1 for number in range(len(self.problem.fixes))], dtype=bool)

    def _cured(self, beliefs: Array, done: NDArray[np.bool_]) -> Array:
        return np.where(done, 0.0, beliefs @ self.problem.cured)

    def _reaches(self, open_now: int) -> tuple[Array, list[int]]:
        """For each fix, what reaching it costs from what is open, and what is open then."""
        if open_now not in self._reach:
            reached = [self.problem.reach(fix.access, open_now) for fix in self.problem.fixes]
            self._reach[open_now] = np.array([cost for cost, _ in reached]), [opened for _, opened in reached]
        return self._reach[open_now]

    def lower_bound(self, state: State) -> float:
        """No plan can cost less: each hypothesis known for sure, its cheapest cure with everything open."""
        return float(state.belief @ self.problem.cheapest)

    def values(self, states: Sequence[State]) -> Array:
        """Expected cost of the best sequence of repairs alone, handing over when that is cheaper; a batch."""
        if not states:
            return np.zeros(0)
        steps, value = self._sequences(states)
        for step in reversed(steps):
            value = np.minimum(step.cost + step.left * value, step.handed_over)
        return value

    def repair_only(self, state: State) -> Plan:
        """The plan behind `values` for one state: repairs in order of P(cured) per cost, updated after each
        failure (Kadane & Simon 1977; Heckerman, Breese & Rommelse 1995, cited by title); greedy where the
        classic conditions fail (several faults, shared access).
        """
        steps, last = self._sequences([state])
        plan = _handed_over(float(last[0]))
        for step in reversed(steps):
            cost, left = float(step.cost[0]), float(step.left[0])
            rest = ((0, left, plan),) if left > NEGLIGIBLE else ()
            done = Plan("fix", int(step.action[0]), cost + left * plan.cost, cost, rest)
            plan = min(done, _handed_over(float(step.handed_over[0])), key=lambda found: found.cost)
        return plan

    def hand_over(self, state: State) -> float:
        """Expected cost of handing the machine over now."""
        return float(state.belief @ self.problem.handing_over)

    def _sequences(self, states: Sequence[State]) -> tuple[list[_Step], Array]:
        """Repairs without checks, step by step for a batch of states, and the cost of handing over after all."""
        steps: list[_Step] = []
        beliefs = np.array([state.belief for state in states])
        handed_over = beliefs @ self.problem.handing_over
        if not self.problem.fixes:
            return steps, handed_over
        done = np.array([self._fixes_done(state) for state in states])
        opened = [state.open for state in states]
        costs = np.array([fix.cost for fix in self.problem.fixes])
        rows = np.arange(len(states))
        for _ in range(min(LONGEST_SEQUENCE, len(costs))):
            cured = self._cured(beliefs, done)
            if cured.max() <= NEGLIGIBLE:
                break
            reach = np.array([self._reaches(mask)[0] for mask in opened])
            spent = costs + reach + (1 - cured) * self.problem.comeback
            action = np.argmax(cured / np.maximum(spent, 1e-9), axis=1)
            moved = np.empty_like(beliefs)
            for fix in set(action.tolist()):
                chosen = action == fix
                moved[chosen] = beliefs[chosen] @ self.problem.moves[fix]
            moved[:, 0] = 0.0
            left = moved.sum(axis=1)
            steps.append(_Step(action, spent[rows, action], left, handed_over))
            beliefs = moved / np.where(left > 0, left, 1.0)[:, None]
            handed_over = beliefs @ self.problem.handing_over
            done[rows, action] = True
            opened = self._open_after(opened, action)
        return steps, handed_over

    def _open_after(self, opened: Sequence[int], action: NDArray[np.intp]) -> list[int]:
        if self.problem.reassembled:
            return [0] * len(opened)
        return [self._reaches(mask)[1][a] for mask, a in zip(opened, action, strict=True)]


def _handed_over(cost: float) -> Plan:
    return Plan("hand over", -1, cost, cost)
