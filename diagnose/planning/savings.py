"""What each check saves in money, and in which order those that save are best done."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from diagnose.planning.planner import NEGLIGIBLE, Glance, Planner, State
from diagnose.planning.situation import Situation

SHORT = 15.0
"""A check of at most so many minutes waits for none that is quicker still (judgement)."""
LOOKED_INTO = 8
"""How many checks are tried before the one that saves the most."""
WORTH_IT = 0.1
"""What they must add to what that one saves, as a share of it (judgement)."""
QUICKER, TRIED = 0.5, 4
"""A check that takes at most this share of the minutes of the one that saves most may come before it; so many of
them, those that save the most for their minutes, are tried there."""


@dataclass(frozen=True, slots=True, eq=False)
class Saving:
    """What a check saves, net of its own cost, with repairs alone after it; and the check as a step of the plan."""

    money: float
    step: Glance


def savings(now: Situation) -> dict[int, Saving]:
    """By number of the check, for those that can still tell something."""
    planner = Planner(now.problem)
    start = planner.start(now.open_now)
    base = float(planner.values([start])[0])
    steps = planner.estimated(planner.tests(start))
    return {step.number: Saving(base - step.estimate, step) for step in steps}


def in_order(now: Situation, saved: Mapping[int, Saving]) -> tuple[list[int], list[int]]:
    """The checks that save money, the most first; and, apart from them, those to do before the first: what its
    dismantling would prevent, where both one after the other save more than it does alone, and where closing up
    again for the one prevented would cost more than that itself."""
    order = sorted((n for n, one in saved.items() if one.money > 0), key=lambda n: (-saved[n].money, n))
    if not order:
        return [], []
    problem, first = now.problem, order[0]
    _, opened = problem.reach(problem.tests[first].access, now.open_now)
    prevented = [n for n in order if _closing(now, n, opened) > saved[n].step.cost + NEGLIGIBLE]
    prevented = prevented[:LOOKED_INTO]
    alone = saved[first].step.estimate
    costs = dict(_followed(Planner(problem), [saved[n].step for n in prevented], first))
    least = WORTH_IT * saved[first].money
    before = sorted((n for n, cost in costs.items() if alone - cost >= least), key=lambda n: costs[n])
    return before, [n for n in order if n not in before]


def _closing(now: Situation, number: int, opened: int) -> float:
    """What it costs to close again and open anew what of the states opened prevents a check; 0 if none does."""
    shutting = now.problem.tests[number].shut & opened & ~now.open_now
    return float(sum(cost for bit, cost in enumerate(now.problem.opening) if shutting >> bit & 1))


def quick_first(now: Situation, saved: Mapping[int, Saving], first: int, but: Collection[int] = ()) -> int:
    """The check `first`, or a much quicker one, none of `but`, after which it need often not be done, where that is
    worth its price once more and a tenth of what `first` saves: else one small thing after the other comes before
    it."""
    minutes = {n: now.minutes(n) for n in saved}
    if minutes[first] <= SHORT:
        return first
    quick = [n for n, one in saved.items() if one.money > 0 and minutes[n] <= QUICKER * minutes[first]]
    quick = [n for n in quick if n not in but]
    quick = sorted(quick, key=lambda n: -saved[n].money / max(minutes[n], 0.5))[:TRIED]
    costs = dict(_followed(Planner(now.problem), [saved[n].step for n in quick], first))
    best = min(costs, key=lambda n: (costs[n], n), default=first)
    if best == first:
        return first
    least = max(saved[best].step.cost, WORTH_IT * saved[first].money)
    return best if saved[first].step.estimate - costs[best] >= least else first


def _followed(planner: Planner, steps: list[Glance], then: int) -> Iterator[tuple[int, float]]:
    """For each first check the expected cost with the check `then` after it wherever that pays, and repairs alone
    after both."""
    second = [[planner.test(state, then) for _, _, state in step.after] for step in steps]
    states: list[State] = []
    for step, nexts in zip(steps, second, strict=True):
        states += [state for _, _, state in step.after]
        states += [state for one in nexts if one for _, _, state in one.after]
    values = iter(planner.values(states).tolist())
    for step, nexts in zip(steps, second, strict=True):
        stopping = [next(values) for _ in step.after]
        going_on = [
            one.cost + sum(p * next(values) for _, p, _ in one.after) if one else float("inf")
            for one in nexts
        ]
        yield (
            step.number,
            step.cost
            + sum(p * min(a, b) for (_, p, _), a, b in zip(step.after, stopping, going_on, strict=True)),
        )
