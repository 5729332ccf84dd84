"""The exact optimum of a small troubleshooting problem by plain dynamic programming over beliefs.

Written apart from the planner: beliefs are dictionaries of fault sets, nothing is pruned or cut off. Each check
and each repair is done at most once.
"""

from __future__ import annotations

import numpy as np

from diagnose.planning.problem import DecisionProblem, Fix, Test

Belief = tuple[tuple[int, float], ...]


def optimum(problem: DecisionProblem) -> float:
    """Least expected cost from the start, everything closed."""
    start = {int(f): float(p) for f, p in zip(problem.faults, problem.probabilities, strict=True) if p > 0}
    return _Search(problem).cost(_frozen(start), frozenset(), frozenset())


def _frozen(belief: dict[int, float]) -> Belief:
    total = sum(belief.values())
    return tuple(sorted((f, round(p / total, 12)) for f, p in belief.items() if p / total > 1e-12))


class _Search:
    def __init__(self, problem: DecisionProblem):
        self.problem = problem
        self.row = {int(f): i for i, f in enumerate(problem.faults)}
        self.elsewhere = np.zeros(len(problem.faults)) + problem.last_resort
        self.known: dict[tuple[Belief, frozenset[int], frozenset[int]], float] = {}

    def cost(self, belief: Belief, opened: frozenset[int], done: frozenset[int]) -> float:
        key = (belief, opened, done)
        if key not in self.known:
            options = [sum(p * float(self.elsewhere[self.row[f]]) for f, p in belief)]
            options += [
                self.test(belief, opened, done, i, test)
                for i, test in enumerate(self.problem.tests)
                if i not in done and not any(test.shut >> bit & 1 for bit in opened)
            ]
            options += [
                self.fix(belief, opened, done, ~i, fix)
                for i, fix in enumerate(self.problem.fixes)
                if ~i not in done and self.helps(belief, fix)
            ]
            self.known[key] = min(options)
        return self.known[key]

    @staticmethod
    def helps(belief: Belief, fix: Fix) -> bool:
        return any(f >> i & 1 and fix.cures[i] > 0 for f, _ in belief for i in range(len(fix.cures)))

    def opening(self, access: int, opened: frozenset[int]) -> tuple[float, frozenset[int]]:
        wanted = {bit for bit in range(len(self.problem.opening)) if access >> bit & 1}
        grown = True
        while grown:
            below = {
                low
                for bit in wanted
                if self.problem.needs
                for low in range(len(self.problem.opening))
                if self.problem.needs[bit] >> low & 1
            }
            grown = not below <= wanted
            wanted |= below
        missing = wanted - opened
        return sum(float(self.problem.opening[bit]) for bit in missing), opened | missing

    def test(
        self, belief: Belief, opened: frozenset[int], done: frozenset[int], number: int, test: Test
    ) -> float:
        paid, opened = self.opening(test.access, opened)
        total = test.cost + paid
        for result in range(test.results.shape[1]):
            joint = {f: p * float(test.results[self.row[f], result]) for f, p in belief}
            chance = sum(joint.values())
            if chance > 1e-12:
                total += chance * self.cost(_frozen(joint), opened, done | {number})
        return total

    def fix(
        self, belief: Belief, opened: frozenset[int], done: frozenset[int], number: int, fix: Fix
    ) -> float:
        paid, opened = self.opening(fix.access, opened)
        left: dict[int, float] = {}
        for fault_set, p in belief:
            parts = {fault_set: p}
            for fault, cure in enumerate(fix.cures):
                if fault_set >> fault & 1 and cure > 0:
                    split: dict[int, float] = {}
                    for f, q in parts.items():
                        split[f & ~(1 << fault)] = split.get(f & ~(1 << fault), 0.0) + q * float(cure)
                        split[f] = split.get(f, 0.0) + q * (1 - float(cure))
                    parts = split
            for f, q in parts.items():
                if f and q > 0:
                    left[f] = left.get(f, 0.0) + q
        chance = sum(left.values())
        total = fix.cost + paid
        if chance > 1e-12:
            opened = frozenset() if self.problem.reassembled else opened
            total += chance * (self.problem.comeback + self.cost(_frozen(left), opened, done | {number}))
        return total
