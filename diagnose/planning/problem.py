"""A troubleshooting problem in the open: a few hypotheses, what can be checked, what can be done, what it costs.

The planner works on this, not on the network: a hypothesis is a set of faults (0 = none left), a check tells
hypotheses apart, a repair removes faults, dismantling is paid once while it stays open. All costs are in money.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diagnose.network.network import Array
from diagnose.planning.aftermath import Aftermath, outcomes

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
    """A repair or a set of repairs: cost of parts and work, access, and for each fault P(it is removed) and
    P(the new part has it at once), none where not given. `anew`: P(the new part brings the complaint about by
    something that is none of the faults)."""

    name: str
    cost: float
    access: int
    cures: Array
    infant: Array | None = None
    anew: float = 0.0

    @property
    def infants(self) -> Array:
        """P(the new part has the fault at once) of each fault."""
        return np.zeros(len(self.cures)) if self.infant is None else self.infant


@dataclass(frozen=True, eq=False)
class DecisionProblem:
    """Hypotheses as fault sets with their probabilities, tests, fixes and the prices of everything.

    `faults`: fault sets as bits, shape (hypotheses,), the empty one first; closed under removal, see `closed`.
    `opening`: cost of each access state (reach and restore), by bit; `needs`: bits to open before it.
    `comeback`: cost of finding the complaint still there after a repair. `last_resort`: cost of handing the
    machine to someone who surely cures it, one for all hypotheses or one each. `reassembled`: whether a repair
    closes everything before the trial.
    `aftermath`: what repairs leave of the complaint; where not given, it stays while any fault is left. A repair is
    done when the complaint is gone, even if faults are left that did not bring it about.
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
    aftermath: Aftermath | None = None

    @cached_property
    def handing_over(self) -> Array:
        """The cost of handing over under each hypothesis, shape (hypotheses,)."""
        return np.full(len(self.faults), self.last_resort, dtype=float)

    @cached_property
    def moves(self) -> Array:
        """P(hypothesis after | hypothesis before) of each fix, shape (fixes, before, after)."""
        found = np.zeros((len(self.fixes), len(self.faults), len(self.faults)))
        sets = [int(fault_set) for fault_set in self.faults]
        for number, fix in enumerate(self.fixes):
            acts_on = sum(1 << int(fault) for fault in np.flatnonzero(fix.cures))
            for before, fault_set in enumerate(sets):
                if not fault_set & acts_on:
                    found[number, before, before] = 1.0
                    continue
                for left, p in outcomes(fault_set, fix.cures, fix.infants, self.aftermath):
                    for after, share in self._ends(fault_set, left, fix.anew):
                        found[number, before, after] += p * share
        return found

    @cached_property
    def _place(self) -> dict[int, int]:
        return {int(fault_set): number for number, fault_set in enumerate(self.faults)}

    def _ends(self, before: int, left: int, anew: float) -> Iterator[tuple[int, float]]:
        """The hypotheses after these faults are left, with probabilities; where the complaint stays without any of
        them, something else is behind it."""
        if self.aftermath is None:
            yield self._place[left], 1.0
            return
        stays, beyond = self.aftermath.stays(before, left)
        otherwise = self._place[self.aftermath.beyond]
        gone = (1 - stays) * (1 - anew)
        yield 0, gone
        yield otherwise, beyond + 1 - stays - gone
        yield self._place.get(left, self._place.get(left & before) or otherwise), stays - beyond

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


def closed(fault_sets: Sequence[int]) -> FaultSets:
    """The fault sets with all their subsets, the empty one first."""
    found = {0}
    for fault_set in fault_sets:
        subset = fault_set
        while subset:
            found.add(subset)
            subset = (subset - 1) & fault_set
    return np.array(sorted(found))


def together(problem: DecisionProblem, fixes: Sequence[int], visit: float = 0.0) -> Fix:
    """Several fixes done as one: costs add up (less `visit` for each after the first), access is shared."""
    chosen = [problem.fixes[number] for number in fixes]
    left = np.prod([1 - fix.cures for fix in chosen], axis=0)
    infant = np.max([fix.infants for fix in chosen], axis=0)
    anew = 1 - float(np.prod([1 - fix.anew for fix in chosen]))
    access = 0
    for fix in chosen:
        access |= fix.access
    cost = sum(fix.cost for fix in chosen) - visit * (len(chosen) - 1)
    return Fix(" + ".join(fix.name for fix in chosen), cost, access, 1 - left, infant, anew)
