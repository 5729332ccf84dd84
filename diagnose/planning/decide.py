"""The conditional plan of a case: from now to a proven repair, with its cost, time and worst path."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Access, Hazard, Repair
from diagnose.planning.cautions import of_step
from diagnose.planning.options import CheckOption
from diagnose.planning.planner import NEGLIGIBLE, Plan, Planner
from diagnose.planning.rollout import Rollout
from diagnose.planning.situation import Situation

TO_A_SPECIALIST = "Hand over to a specialist"
SMALL = 200  # actions times faults that are solved in a moment; larger ones are improved while there is time
WORST = 0.01  # share of the ends that cost still more than what is told as the worst


@dataclass(frozen=True, slots=True)
class Branch:
    """One result of a step and what to do then. `when`: finding -> state; empty for "still broken"."""

    when: tuple[Mapping[str, str], ...]
    probability: float
    then: PlanStep


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step of the plan. `kind`: check, repair, hand over. `cost`: expected from here to the end, in money;
    `minutes`: expected work from here (without waiting for a hand-over). `hazards`: cautions before the step."""

    kind: str
    name: str
    cost: float
    own_cost: float
    minutes: float
    check: CheckOption | None
    repairs: tuple[Repair, ...]
    hazards: tuple[Hazard, ...]
    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True)
class Decision:
    """The whole plan. `worst`: cost of the dearest path, when the dearest one in a hundred cases are left out."""

    first: PlanStep
    cost: float
    hours: float
    worst: float
    repair_only: float


def decide(
    diagnosis: Diagnosis, now: Situation, seconds: float = 2.0, first: tuple[str, int] | None = None
) -> Decision:
    """The best plan found in this time: small problems are solved, larger ones improved while it lasts. `first`:
    the kind and number of the action that it must begin with."""
    planner = Planner(now.problem)
    start = planner.start(now.open_now)
    actions = len(now.problem.tests) + len(now.problem.fixes)
    if actions * len(now.problem.faults) <= SMALL and first is None:
        plan = planner.plan(seconds, open_now=now.open_now)
    else:
        plan = Rollout(planner).improved(start, seconds, first)
    step = _step(diagnosis, now, plan, now.open_now)
    alone = float(planner.values([start])[0])
    ends = tuple(ends_of(step, now.problem.comeback))
    return Decision(step, plan.cost, step.minutes / 60, exceeded_by(ends, WORST), alone)


def _step(diagnosis: Diagnosis, now: Situation, plan: Plan, opened: int) -> PlanStep:
    if plan.kind == "hand over":
        return PlanStep("hand over", TO_A_SPECIALIST, plan.cost, plan.cost, 0.0, None, (), (), ())
    check = now.checks[plan.number] if plan.kind == "test" else None
    repairs = now.repairs[plan.number] if plan.kind == "fix" else ()
    action = now.problem.tests[plan.number] if check else now.problem.fixes[plan.number]
    reach, open_then = now.problem.reach(action.access, opened)
    work = check.minutes if check else sum(repair.minutes.value for repair in repairs)
    minutes = work + reach / now.shop.time(1.0) if now.shop.time(1.0) else work
    branches = _branches(diagnosis, now, plan, 0 if repairs else open_then)
    return PlanStep(
        "check" if check else "repair",
        check.name if check else " + ".join(repair.name for repair in repairs),
        plan.cost,
        plan.action_cost,
        minutes + sum(branch.probability * branch.then.minutes for branch in branches),
        check,
        repairs,
        _hazards(diagnosis, check, repairs, _to_open(diagnosis, now, action.access, opened)),
        branches,
    )


def _to_open(diagnosis: Diagnosis, now: Situation, wanted: int, opened: int) -> tuple[Access, ...]:
    """The states still to be opened for an action."""
    left = now.problem.closure(wanted) & ~opened
    return tuple(diagnosis.knowledge.access[id] for bit, id in enumerate(now.access) if left >> bit & 1)


def _branches(diagnosis: Diagnosis, now: Situation, plan: Plan, opened: int) -> tuple[Branch, ...]:
    """The results with the same way on stand together, the likeliest first."""
    joined: dict[tuple[str, int], list[tuple[int, float, Plan]]] = {}
    for result, p, below in plan.branches:
        joined.setdefault((below.kind, below.number), []).append((result, p, below))
    found = []
    for group in joined.values():
        for part in _same_way(group):
            when = tuple(now.results[plan.number][r] for r, _, _ in part) if plan.kind == "test" else ()
            total = sum(p for _, p, _ in part)
            found.append(Branch(when, total, _step(diagnosis, now, _on_average(part), opened)))
    return tuple(sorted(found, key=lambda branch: -branch.probability))


def _on_average(part: list[tuple[int, float, Plan]]) -> Plan:
    """One plan for all the results: the same ends may cost differently."""
    if len(part) == 1:
        return part[0][2]
    total = sum(p for _, p, _ in part)
    return replace(
        part[0][2],
        cost=sum(p * below.cost for _, p, below in part) / total,
        action_cost=sum(p * below.action_cost for _, p, below in part) / total,
    )


def _same_way(group: list[tuple[int, float, Plan]]) -> Iterator[list[tuple[int, float, Plan]]]:
    """Only where nothing follows (handing over, a last repair) is the way on the same whatever was seen."""
    if all(not below.branches for _, _, below in group):
        yield group
    else:
        yield from ([one] for one in group)


def _hazards(
    diagnosis: Diagnosis, check: CheckOption | None, repairs: tuple[Repair, ...], path: tuple[Access, ...]
) -> tuple[Hazard, ...]:
    if check:
        return of_step(diagnosis, check.own_hazards, path, check.wants)
    return of_step(diagnosis, (id for repair in repairs for id in repair.hazards), path)


def ends_of(
    step: PlanStep, comeback: float, spent: float = 0.0, reached: float = 1.0
) -> Iterator[tuple[float, float]]:
    """Every end of the plan: how likely it is, and what was spent on the way there. A step's own cost holds the
    expected comeback; here it is paid where it comes."""
    on = sum(branch.probability for branch in step.branches)
    again = comeback if step.kind == "repair" else 0.0
    spent += step.own_cost - on * again
    if on < 1 - NEGLIGIBLE:
        yield reached * (1 - on), spent
    for branch in step.branches:
        yield from ends_of(branch.then, comeback, spent + again, reached * branch.probability)


def exceeded_by(ends: Sequence[tuple[float, float]], share: float) -> float:
    """The least cost that at most this share of the cases exceed."""
    dearer = 0.0
    for p, cost in sorted(ends, key=lambda end: -end[1]):
        dearer += p
        if dearer > share:
            return cost
    return 0.0
