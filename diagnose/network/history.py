"""What was done to a machine over time: repairs, and stretches in which a part was taken out for a try."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Renewal:
    """What a repair does to one cause."""

    effectiveness: float
    infant: float = 0.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of time within an epoch with a part out, which ends when it is put back.

    `carried`: cause or condition -> P(it is away with the part). `brings`: condition or finding -> P(each of its
    states but the first), brought about by the part being out. `watched`: the findings seen in it.
    """

    part: str
    epoch: int
    carried: Mapping[str, float]
    watched: tuple[str, ...]
    brings: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class History:
    """The repairs so far and where in time findings were seen.

    `repairs[t]`: cause id -> renewal, between epoch t and t + 1. `observed`: (finding id, epoch). `away`: the
    stretches with a part out, one a part and epoch at most. `visits`: the epochs in which the machine came in.
    """

    repairs: tuple[Mapping[str, Renewal], ...] = ()
    observed: frozenset[tuple[str, int]] = frozenset()
    away: tuple[Stretch, ...] = ()
    visits: tuple[int, ...] = (0,)

    @property
    def now(self) -> int:
        """The present epoch."""
        return len(self.repairs)

    def came_in(self, epoch: int) -> int:
        """The epoch in which the visit of this one began."""
        return max(visit for visit in self.visits if visit <= epoch)
