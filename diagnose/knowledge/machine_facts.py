"""What can be known of a machine: facts with their values, families of machines; what holds for some only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from diagnose.errors import Place
from diagnose.knowledge.number import Number


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that can be known of the machine, with the values it can take.

    `shares`: how common each value is among machines in service (empty: all alike); `shares_by`: the same by the
    value of one other fact, `given`, where it depends on it. `several`: the values but the first are true or not
    each for itself (`shares[0]` is not used), the first says that none is. `starts`, `nights`: starts and standing
    nights per running hour by value, where this fact tells them.
    """

    id: str
    name: str
    question: str
    values: tuple[str, ...]
    place: Place
    shares: tuple[Number, ...] = ()
    given: str = ""
    shares_by: Mapping[str, tuple[Number, ...]] = field(default_factory=dict)
    several: bool = False
    starts: Mapping[str, Number] = field(default_factory=dict)
    nights: Mapping[str, Number] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Family:
    """A kind of machine: the facts that come with it."""

    id: str
    name: str
    facts: Mapping[str, str]
    place: Place


@dataclass(frozen=True, slots=True)
class Requirement:
    """Applies only where the machine fact is one of these values."""

    fact: str
    values: tuple[str, ...]
    place: Place
