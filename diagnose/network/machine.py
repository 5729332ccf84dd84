"""What is known of the machine itself, as the network needs it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Machine:
    """The machine in front of the technician.

    `facts`: fact id -> value, the family's facts already merged in. `hours`: the machine's running hours.
    `renewed`: cause id -> hours run since the part was last replaced.
    """

    number: str = ""
    family: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    hours: float | None = None
    renewed: Mapping[str, float] = field(default_factory=dict)
