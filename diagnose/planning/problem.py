"""A troubleshooting problem in the open: a few hypotheses, what can be checked, what can be done, what it costs.

The planner works on this, not on the network: a hypothesis is a set of faults (0 = none left), a check tells
hypotheses apart, a repair removes faults, dismantling is paid once while it stays open. All costs are in money.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from diagnose.network.network import Array

FaultSets = NDArray[np.int64]
"""Sets of faults as bits, one number each."""


@dataclass(frozen=True, slots=True, eq=False)
class Test:
    """A check: cost, the access it needs (a set of bits), P(result | hypothesis), shape (hypotheses, results).

    `shut`: access states (bits) with any of which open it cannot be done.
    """

    name: str
    cost: float
    access: int
    results: Array
    shut: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Fix:
    """A repair or a set of repairs: cost of parts and work, access, and P(fault removed) for each fault."""

    name: str
    cost: float
    access: int
    cures: Array


@dataclass(frozen=True, eq=False)
class Problem:
    """Hypotheses as fault sets with their probabilities, tests, fixes and the prices of everything.

    `faults`: fault sets as bits, shape (hypotheses,), the empty one first; closed under removal, see `closed`.
    `opening`: cost of each access state (reach and restore), by bit; `needs`: bits to open before it.
    `comeback`: cost of finding the complaint still there after a repair. `last_resort`: cost of handing the
    machine to someone who surely cures it, one for all hypotheses or one each. `reassembled`: whether a repair
    closes everything before the trial.
    `shows`: P(complaint | fault set), all 1 where not given; a repair is done when the complaint is gone, even if
    faults are left that did not bring it about.
    """

    faults: FaultSets
    probabilities: Array
    tests: tuple[Test, ...]
    fixes: tuple[Fix, ...]
    last_resort: float | Array
    opening: Array
    needs: tuple[int, ...] = ()
    comeback: float = 0.0
    reassembled: bool = False
    shows: Array | None = None

    @cached_property
    def handing_over(self) -> Array:
        """The cost of handing over under each hypothesis, shape (hypotheses,)."""
        return np.full(len(self.faults), self.last_resort, dtype=float)

    @cached_property
    def moves(self) -> Array:
        """P(hypothesis after | hypothesis before) of each fix, shape (fixes, before, after)."""
        place = {int(fault_set): number for number, fault_set in enumerate(self.faults)}
        found = np.zeros((len(self.fixes), len(self.faults), len(self.faults)))
        sets = [int(fault_set) for fault_set in self.faults]
        for number, fix in enumerate(self.fixes):
            acts_on = sum(1 << int(fault) for fault in np.flatnonzero(fix.cures))
            for before, fault_set in enumerate(sets):
                if not fault_set & acts_on:
                    found[number, before, before] = 1.0
                    continue
                for left, p in _removals(fault_set, fix.cures):
                    persists = self._persists(before, place[left])
                    found[number, before, place[left]] += p * persists
                    found[number, before, 0] += p * (1 - persists)
        return found

    def _persists(self, before: int, after: int) -> float:
        """P(the complaint stays | it was there): what is left alone brings it about, its noise unchanged."""
        if self.faults[after] == 0:
            return 0.0
        if self.shows is None or before == after or self.shows[before] <= 0:
            return 1.0
        return float(min(1.0, self.shows[after] / self.shows[before]))

    @cached_property
    def cured(self) -> Array:
        """P(no fault left | hypothesis) after each fix, shape (hypotheses, fixes)."""
        return np.ascontiguousarray(self.moves[:, :, 0].T)

    @cached_property
    def cheapest(self) -> Array:
        """For each hypothesis a cost below which it cannot be cured, even known for sure with all open."""
        cured = np.array([self._cheapest(int(fault_set)) for fault_set in self.faults])
        return np.asarray(np.minimum(cured, self.handing_over))

    def _cheapest(self, fault_set: int) -> float:
        needed = [
            min((fix.cost for fix in self.fixes if fix.cures[fault] > 0), default=np.inf)
            for fault in range(fault_set.bit_length())
            if fault_set >> fault & 1
        ]
        return float(max(needed, default=0.0))

    def reach(self, access: int, open_now: int) -> tuple[float, int]:
        """What it costs to open these states from what is open, and what is open then."""
        missing = self.closure(access) & ~open_now
        bits = [bit for bit in range(len(self.opening)) if missing >> bit & 1]
        return float(sum(self.opening[bit] for bit in bits)), open_now | missing

    def closure(self, access: int) -> int:
        """The states with all that must be opened before them."""
        before = 0
        while access != before:
            before = access
            for bit, needed in enumerate(self.needs):
                if access >> bit & 1:
                    access |= needed
        return access


def _removals(fault_set: int, cures: Array) -> list[tuple[int, float]]:
    """What is left of the fault set, with probabilities; each fault goes independently."""
    acted = [f for f in range(len(cures)) if fault_set >> f & 1 and cures[f] > 0]
    found = []
    for gone in product((True, False), repeat=len(acted)):
        p, left = 1.0, fault_set
        for fault, removed in zip(acted, gone, strict=True):
            p *= cures[fault] if removed else 1 - cures[fault]
            left &= ~(1 << fault) if removed else -1
        if p > 0:
            found.append((left, p))
    return found


def closed(fault_sets: Sequence[int]) -> FaultSets:
    """The fault sets with all their subsets, the empty one first."""
    found = {0}
    for fault_set in fault_sets:
        subset = fault_set
        while subset:
            found.add(subset)
            subset = (subset - 1) & fault_set
    return np.array(sorted(found))


def together(problem: Problem, fixes: Sequence[int], visit: float = 0.0) -> Fix:
    """Several fixes done as one: costs add up (less `visit` for each after the first), access is shared."""
    chosen = [problem.fixes[number] for number in fixes]
    left = np.prod([1 - fix.cures for fix in chosen], axis=0)
    access = 0
    for fix in chosen:
        access |= fix.access
    cost = sum(fix.cost for fix in chosen) - visit * (len(chosen) - 1)
    return Fix(" + ".join(fix.name for fix in chosen), cost, access, 1 - left)
