"""A network with the way back to the knowledge: which variable stands for what, and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from diagnose.network.network import Array, Network
from diagnose.network.variables import Variable


@dataclass(frozen=True, eq=False)
class Built:
    """The network with the way back to the knowledge: `variables`, what each of its variables stands for.

    `others`: of each complaint the variable of a cause that is not listed. `versions`: of each id the version in
    each epoch. `priors`: P(the cause arose of itself). `facts`: the machine's facts that are variables, each with
    its variables (one, or one a value where several values can hold). `telling`: of each variable of
    a fact on which something hangs, how much it tells of one cause at most (`Arising.telling`), more where it
    gates something; `shares`: its distribution before anything is seen; `averaged`: those of them whose ties
    were let go (ties.py). `away`: of each test by taking away that was done, by epoch, the variable that says
    what the finding did with the part out. `places`: of what is written out by cylinder or bank (places.py),
    the ids of its copies; `strikes`: of each id of where a link strikes (strikes.py), what it strikes.
    """

    network: Network
    variables: tuple[Variable, ...]
    causes: tuple[str, ...]
    others: Mapping[str, int]
    versions: Mapping[str, tuple[int, ...]]
    priors: Mapping[str, float]
    facts: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    telling: Mapping[int, float] = field(default_factory=dict)
    shares: Mapping[int, Array] = field(default_factory=dict)
    averaged: frozenset[int] = frozenset()
    away: Mapping[str, Mapping[int, int]] = field(default_factory=dict)
    places: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    strikes: Mapping[str, str] = field(default_factory=dict)

    def variable(self, id: str, epoch: int | None = None) -> int:
        """The variable that stands for a cause, condition, finding, test by taking away or fact in an epoch
        (default: the present; of a test its latest)."""
        if id in self.away:
            return self.away[id][max(self.away[id]) if epoch is None else epoch]
        return self._numbers[id, self.versions[id][-1 if epoch is None else epoch]]

    @cached_property
    def _numbers(self) -> dict[tuple[str, int], int]:
        known = enumerate(self.variables)
        return {(one.asked, one.version): v for v, one in known if one.kind in ("record", "fact")}

    def ties(self, fact: int) -> bool:
        """Whether something but facts hangs on this variable of a fact, rather than on what it does on average."""
        return not self.network.children[fact] <= self.shares.keys()

    def is_current(self, id: str, epoch: int) -> bool:
        """Whether what was found in an epoch stands for the present: no repair since can have changed it (of
        a test by taking away, the finding that it looks at)."""
        return self.versions[id][epoch] == self.versions[id][-1]


def unlisted(complaint: str) -> str:
    """What a cause of the complaint that is not listed is called."""
    return f"other:{complaint}"
