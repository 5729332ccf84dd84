"""What a measured value means: the bands of a reading, and what they depend on."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.errors import Place
from diagnose.knowledge.machine_facts import Requirement


@dataclass(frozen=True, slots=True)
class Band:
    """The state that a value stands for: `below` and/or `above` in the reading's unit."""

    state: str
    below: float | None
    above: float | None


@dataclass(frozen=True, slots=True)
class Scale:
    """Where the machine fact has this value, the limits of a reading are multiplied by `factor`."""

    fact: str
    value: str
    factor: float
    place: Place


@dataclass(frozen=True, slots=True)
class Fits:
    """On a machine where the fact has this value, the quantity lies below `below` and above `above` (None: no
    limit; in the reading's unit, never scaled). A value outside tells that the fact is another one."""

    fact: str
    value: str
    below: float | None
    above: float | None
    place: Place


@dataclass(frozen=True, slots=True)
class Given:
    """Another quantity, measured in the same case, lies below `below` and above `above` (in `unit`)."""

    quantity: str
    aliases: tuple[str, ...]
    unit: str
    below: float | None
    above: float | None
    place: Place


@dataclass(frozen=True, slots=True)
class ConditionalBands:
    """Other bands, where the machine has one of the values of each fact and the other quantity is as `given`."""

    facts: tuple[Requirement, ...]
    given: Given | None
    bands: tuple[Band, ...]
    basis: str
    place: Place


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured quantity. Findings that share `quantity` are all set from one value.

    Bands are tried in order; a value in none of them means the finding's first state. The first alternative of
    `where` that holds puts its bands in the place of `bands`; `scale` multiplies the limits of either.
    `fits`: what the value tells of the machine.
    """

    quantity: str
    unit: str
    bands: tuple[Band, ...]
    basis: str
    place: Place
    scale: tuple[Scale, ...] = ()
    where: tuple[ConditionalBands, ...] = ()
    fits: tuple[Fits, ...] = ()

    @property
    def all_bands(self) -> tuple[tuple[Band, ...], ...]:
        """The plain bands, then those of each alternative."""
        return self.bands, *(one.bands for one in self.where)
