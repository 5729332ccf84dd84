"""What a repair leaves: which faults are there after it, and whether what was complained of is.

As in the network (network/build.py): a repaired fault stays where the repair fails, comes at once with the new
part, or is brought about again by what is left in; what is not repaired stays, whatever had wrecked it. The
complaint stays where what is left brings it about, the noise of every mechanism unchanged, and that may be none of
the faults looked at.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import prod

import numpy as np

from diagnose.network.network import Array

NEGLIGIBLE = 1e-4  # probability below which the less likely outcome of a repair is not followed
Outcome = tuple[int, float]
"""A set of faults, as bits, with its probability."""


@dataclass(frozen=True, eq=False)
class Aftermath:
    """How faults come back and what is left of the complaint. `beyond`: the set of "something else" alone.

    `left`: (faults before, faults after) -> P(the complaint stays), for the likely sets and all their parts; of the
    others it is taken as if each fault brought it about by itself, and `usual` were P(something else does).
    `alone`: P(a fault, come anew, brings the complaint about), shape (faults,); `brings[i, j]`: P(fault i brings
    fault j about, once that was repaired), shape (faults, faults).
    """

    beyond: int
    left: Mapping[tuple[int, int], float]
    alone: Array
    brings: Array
    usual: float = 0.0

    @cached_property
    def order(self) -> tuple[int, ...]:
        """The faults, each after those that bring it about."""
        above = (self.brings > 0).astype(int)
        for _ in range(len(above)):
            above = above | (above @ above > 0)
        return tuple(int(fault) for fault in np.argsort(above.sum(axis=0), kind="stable"))

    def again(self, fault: int, there: int) -> float:
        """P(what is there brings the fault about at once)."""
        return 1 - prod(1 - p for i, p in self._above[fault] if there >> i & 1)

    @cached_property
    def _above(self) -> tuple[tuple[tuple[int, float], ...], ...]:
        """Of each fault those that bring it about, with the probability."""
        return tuple(
            tuple((int(i), float(column[i])) for i in np.flatnonzero(column) if i != fault)
            for fault, column in enumerate(self.brings.T)
        )

    @cached_property
    def _known(self) -> dict[tuple[int, int], tuple[float, float]]:
        return {}

    def stays(self, before: int, after: int) -> tuple[float, float]:
        """P(the complaint stays), and P(it would even with none of these faults left); `after` may hold faults that
        have come anew."""
        if (before, after) not in self._known:
            self._known[before, after] = self._stays(before, after & before, after & ~before)
        return self._known[before, after]

    def _stays(self, before: int, kept: int, new: int) -> tuple[float, float]:
        if kept & self.beyond or kept == before:
            return 1.0, (1.0 if kept & self.beyond else 0.0)
        beyond = self._left(before, 0)
        stays = max(self._left(before, kept), beyond)
        return 1 - (1 - stays) * self._silent(new), beyond

    def _left(self, before: int, after: int) -> float:
        known = self.left.get((before, after))
        if known is not None:
            return known
        whole = 1 - (1 - self.usual) * self._silent(before)
        return (1 - (1 - self.usual) * self._silent(after)) / whole if whole else 1.0

    def _silent(self, there: int) -> float:
        """P(none of these faults brings the complaint about)."""
        return prod(1 - float(p) for fault, p in enumerate(self.alone) if there >> fault & 1)


def outcomes(before: int, cures: Array, infant: Array, aftermath: Aftermath | None) -> list[Outcome]:
    """The sets of faults after a repair; very unlikely ones count as the likelier way of the same fault."""
    found = {before: 1.0}
    for fault in aftermath.order if aftermath else range(len(cures)):
        if cures[fault] > 0:
            found = _renewed(found, fault, before, (float(cures[fault]), float(infant[fault])), aftermath)
    return list(found.items())


def _renewed(
    found: Mapping[int, float],
    fault: int,
    before: int,
    renewal: tuple[float, float],
    aftermath: Aftermath | None,
) -> dict[int, float]:
    """The sets once the one fault was repaired."""
    cure, infant = renewal
    bit, after = 1 << fault, dict[int, float]()
    for one, p in found.items():
        sound = (1 - infant) * (1 - (aftermath.again(fault, one) if aftermath else 0.0))
        gone = sound * (cure if before & bit else 1.0)
        if aftermath and p * min(gone, 1 - gone) < NEGLIGIBLE:
            gone = round(gone)
        for state, share in ((one & ~bit, p * gone), (one | bit, p * (1 - gone))):
            if share:
                after[state] = after.get(state, 0.0) + share
    return after
