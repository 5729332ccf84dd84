"""What can be taken out of a machine for a try, and what that takes away and brings about."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.errors import Place
from diagnose.knowledge.machine_facts import Requirement
from diagnose.knowledge.number import Number


@dataclass(frozen=True, slots=True)
class Carried:
    """What goes when a part is taken out: a cause or condition, taken away with this probability."""

    id: str
    effectiveness: Number
    place: Place


@dataclass(frozen=True, slots=True)
class Brought:
    """What taking a part out itself brings about: `strengths[t - 1]` is the probability of the effect's state t."""

    effect: str
    strengths: tuple[Number, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class RemovalTest:
    """A test by taking away with an id, a name and aliases of its own; `present` says that the finding is gone.

    `of`: the findings that it can be said of; that one is meant which was seen, the first where none was.
    """

    id: str
    of: tuple[str, ...]
    name: str
    aliases: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Removable:
    """What can be taken out of the machine for a try, and put back: unplugged, bypassed, cut out, loosened, or
    replaced by a known good one.

    `ways`: how it is said that it is out (`off`, `unplugged`), the first is shown: "with `name` `way`". `watched`:
    the findings that are looked at with it out; none given: all that what it carries can bring about.
    `mistaken`: P(what is still there is told as gone), because it went by itself. `by`: the checks in which it is
    taken out; where there are none, it takes `minutes` (out, tried, and back) and what stands with them.
    """

    id: str
    name: str
    system: str
    ways: tuple[str, ...]
    aliases: tuple[str, ...]
    carries: tuple[Carried, ...]
    brings: tuple[Brought, ...]
    watched: tuple[str, ...]
    told: tuple[RemovalTest, ...]
    mistaken: Number | None
    by: tuple[str, ...]
    minutes: Number | None
    access: tuple[str, ...]
    tools: tuple[str, ...]
    hazards: tuple[str, ...]
    steps: tuple[str, ...]
    only_if: tuple[Requirement, ...]
    place: Place
    wants: tuple[str, ...] = ()

    @property
    def out(self) -> str:
        """The state of being taken out, in words: `the drive belt off`."""
        return f"{self.name} {self.ways[0]}"

    @property
    def mistakes(self) -> float:
        """P(what is still there is told as gone), 0 where none is given."""
        return self.mistaken.value if self.mistaken else 0.0
