"""A network with the way back to the knowledge: which variable stands for what, and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from diagnose.network.network import Array, Network

OTHER = "other:"


@dataclass(frozen=True, eq=False)
class Built:
    """The network with the names that lead back to the knowledge.

    `priors`: P(the cause arose of itself). `facts`: the machine's facts that are variables, each with the
    names of its variables (one, or one a value where several values can hold). `telling`: of each variable of
    a fact on which something hangs, how much it tells of one cause at most (`Arising.telling`), more where it
    gates something; `shares`: its distribution before anything is seen; `averaged`: those of them whose ties
    were let go (ties.py). `away`: of each test by taking away that was done, by epoch, the variable that says
    what the finding did with the part out. `places`: of what is written out by cylinder or bank (places.py),
    the ids of its copies.
    """

    network: Network
    causes: tuple[str, ...]
    others: Mapping[str, str]
    versions: Mapping[str, tuple[int, ...]]
    priors: Mapping[str, float]
    facts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    telling: Mapping[int, float] = field(default_factory=dict)
    shares: Mapping[int, Array] = field(default_factory=dict)
    averaged: frozenset[int] = frozenset()
    away: Mapping[str, Mapping[int, str]] = field(default_factory=dict)
    places: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def variable(self, id: str, epoch: int | None = None) -> int:
        """The variable that stands for a cause, condition, finding or test by taking away in an epoch
        (default: the present; of a test its latest)."""
        return self.network.index[self.name(id, epoch)]

    def ties(self, fact: str) -> bool:
        """Whether something hangs on the fact's variable of this name, rather than on what it does on
        average."""
        variable = self.network.index[fact]
        return any(variable in family.parents for family in self.network.families)

    def is_current(self, id: str, epoch: int) -> bool:
        """Whether what was found in an epoch stands for the present: no repair since can have changed it (of
        a test by taking away, the finding that it looks at)."""
        return self.versions[id][epoch] == self.versions[id][-1]

    def name(self, id: str, epoch: int | None = None) -> str:
        """The variable's name."""
        if id in self.away:
            return self.away[id][max(self.away[id]) if epoch is None else epoch]
        versions = self.versions[id]
        return versioned(id, versions[-1 if epoch is None else epoch], versions[-1])


def versioned(id: str, version: int, present: int) -> str:
    """The name of a variable in one of its versions; of the present one the plain id."""
    return id if version == present else f"{id}@{version}"
