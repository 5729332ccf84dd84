"""What is known of the machine itself, as the network needs it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from diagnose.knowledge.machine_facts import Requirement

LAST_RIGHT = 500.0
"""Running hours since the machine was last known right, where nobody says: about one service interval
(common practice)."""


@dataclass(frozen=True, slots=True)
class Machine:
    """The machine in front of the technician.

    `facts`: fact id -> value, the family's facts already merged in. `hours`: the machine's running hours.
    `renewed`: cause id -> hours run since the part was last replaced. `last_right`: running hours since the machine
    was last known right: what is wrong now happened since then.
    """

    number: str = ""
    family: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    hours: float | None = None
    renewed: Mapping[str, float] = field(default_factory=dict)
    last_right: float | None = None

    @property
    def window(self) -> float:
        """The hours in which what is wrong now has happened: since it was last right, never more than it
        has run."""
        since = LAST_RIGHT if self.last_right is None else self.last_right
        return since if self.hours is None else min(since, self.hours)

    def fits(self, requirements: Iterable[Requirement]) -> bool:
        """Whether it can be a machine of this kind: an unknown fact does not exclude it."""
        return all(self.facts.get(one.fact, one.values[0]) in one.values for one in requirements)
