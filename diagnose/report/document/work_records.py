"""What was done, could be done and must be heeded, with what it costs. Sums are in the shop's money."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Tried = Literal["nothing repaired", "not tried", "still there", "there again", "gone"]
"""What is known of the complaint since a repair; `there again`: it was gone for a while."""


@dataclass(frozen=True, slots=True)
class Money:
    """Labour and parts, which are paid for, and what the machine's standing still costs meanwhile."""

    labour: float = 0.0
    parts: float = 0.0
    standing: float = 0.0

    def __add__(self, other: Money) -> Money:
        return Money(self.labour + other.labour, self.parts + other.parts, self.standing + other.standing)

    @property
    def bill(self) -> float:
        """Labour and parts."""
        return self.labour + self.parts


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt a person or wreck an engine; `stop`: rule out first."""

    name: str
    words: str
    stop: bool


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part with its price each. `single_use`: never put back; `as_set`: renewed together."""

    name: str
    quantity: float
    price: float
    single_use: bool
    as_set: bool


@dataclass(frozen=True, slots=True)
class Option:
    """A set of repairs that was weighed: what it costs now, what it is expected to cost in all, how often the
    machine is still broken after it, and why."""

    repairs: tuple[str, ...]
    names: tuple[str, ...]
    cash: float
    expected: float
    still_broken: float
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Work:
    """Repairs done at one step, or proposed (`step` 0). `option`: how they were weighed beforehand, None where
    they were not among what was weighed. `others`: what else was weighed, cheapest in all first. `against`:
    against the best single repair, in a sentence. `left_out`: what belongs together with it and was left.
    `since`: what was known of the complaint when the next repair was done, else what is known now."""

    step: int
    names: tuple[str, ...]
    minutes: float
    access: tuple[str, ...]
    parts: tuple[PartLine, ...]
    money: Money
    option: Option | None
    others: tuple[Option, ...]
    against: str
    left_out: tuple[str, ...]
    cautions: tuple[Caution, ...]
    held_back: str
    verify: tuple[str, ...]
    since: Tried = "nothing repaired"

    @property
    def done(self) -> bool:
        """Whether it was done, or is only proposed."""
        return self.step > 0

    @property
    def in_vain(self) -> str:
        """That the complaint was there afterwards; empty where it was not."""
        said = {"still there": "the complaint stayed", "there again": "the complaint came back"}
        return said.get(self.since, "")


@dataclass(frozen=True, slots=True)
class Spent:
    """What one step cost, reckoned from usual times and prices; `words`: what was reckoned. Not `recorded`: the
    cheapest way to what was noted, though nobody recorded that it was gone; it counts in no sum."""

    step: int
    words: str
    minutes: float
    money: Money
    recorded: bool


@dataclass(frozen=True, slots=True)
class NextCheck:
    """A check worth doing next: `worth` in words of money; `held_back`: the hazard to rule out before."""

    name: str
    minutes: float
    worth: str
    cautions: tuple[Caution, ...]
    held_back: str


@dataclass(frozen=True, slots=True)
class NextMove:
    """The one thing to do now: what kind of thing, which, why; `words`: it within a sentence."""

    verb: str
    name: str
    reason: str
    words: str


@dataclass(frozen=True, slots=True)
class RunOn:
    """Advice against running on: `advice` (stop now, move only), the cause behind it, what it would wreck."""

    advice: str
    name: str
    probability: float
    what: str
    words: str
