"""Plans for problems too large to search to the end: a quick policy, and its improvement while time lasts.

The quick policy takes, in every state, the action that looks best with repairs alone after it. `improved` tries
other first actions with the quick policy after them, at the start, then further down where the plan most often
comes, and keeps what is cheaper: a rollout of the quick policy, which is never worse than the policy itself
(Bertsekas & Castanon, Journal of Heuristics 5, 1999; Tu & Pattipati, IEEE SMC-A 33, 2003; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from time import monotonic

from diagnose.planning.planner import NEGLIGIBLE, Glance, Plan, Planner, State

RARE = 0.004
"""Probability of a state below which the plan goes no deeper: what it could save there is as rare."""


@dataclass(slots=True)
class Rollout:
    """Quick plans and their improvement for one problem. `width`: actions tried at a step."""

    planner: Planner
    width: int = 10
    deadline: float = float("inf")
    _glances: dict[tuple[bytes, int, int], list[Glance]] = field(default_factory=dict)
    _quick: dict[tuple[bytes, int, int], tuple[float, Plan]] = field(default_factory=dict)

    def quick(self, state: State, reached: float = 1.0) -> Plan:
        """The quick policy's plan from a state that is reached with this probability.

        States reached too rarely to matter are left to repairs alone; that is a policy too, so the cost is true.
        """
        if reached < RARE or monotonic() > self.deadline:
            return self.planner.repair_only(state)
        known = self._quick.get(state.key)
        if known is not None and known[0] >= reached:
            return known[1]
        alone = self.planner.repair_only(state)
        best = next(iter(self.glances(state)), None)
        plan = alone
        if best is not None and best.estimate < alone.cost - NEGLIGIBLE:
            plan = min(alone, self._carried_on(best, reached), key=lambda found: found.cost)
        self._quick[state.key] = reached, plan
        return plan

    def glances(self, state: State) -> list[Glance]:
        """The sensible actions of a state, the best at a first glance first."""
        if state.key not in self._glances:
            self._glances[state.key] = self.planner.glances(state)
        return self._glances[state.key]

    def _carried_on(self, glance: Glance, reached: float) -> Plan:
        branches = tuple((r, p, self.quick(state, reached * p)) for r, p, state in glance.after)
        total = glance.cost + sum(p * plan.cost for _, p, plan in branches)
        return Plan(glance.kind, glance.number, total, glance.cost, branches)

    def improved(self, state: State, seconds: float, first: tuple[str, int] | None = None) -> Plan:
        """The quick plan, improved from the start downwards until the time is out; with this action first (kind and
        number), where one is given and can be done."""
        self.deadline = monotonic() + seconds
        for glance in self.glances(state) if first else ():
            if (glance.kind, glance.number) == first:
                return self._improved_below(state, 1.0, self._carried_on(glance, 1.0))
        return self._improved(state, 1.0, self.quick(state))

    def _improved(self, state: State, reached: float, plan: Plan) -> Plan:
        if reached < RARE * 10:
            return plan
        for glance in self.glances(state)[: self.width]:
            if monotonic() > self.deadline:
                return plan
            plan = min(plan, self._carried_on(glance, reached), key=lambda found: found.cost)
        return self._improved_below(state, reached, plan)

    def _improved_below(self, state: State, reached: float, plan: Plan) -> Plan:
        """The same action with better plans after it, the likeliest results first."""
        taken = [g for g in self.glances(state) if (g.kind, g.number) == (plan.kind, plan.number)]
        if not taken or not plan.branches:
            return plan
        states = {result: after for result, _, after in taken[0].after}
        better = dict[int, Plan]()
        for result, p, below in sorted(plan.branches, key=lambda branch: -branch[1]):
            better[result] = self._improved(states[result], reached * p, below)
        branches = tuple((result, p, better[result]) for result, p, _ in plan.branches)
        cost = plan.action_cost + sum(p * below.cost for _, p, below in branches)
        return replace(plan, cost=cost, branches=branches)
