"""What a text comes to: parts, each with the words that it stands in."""

from __future__ import annotations

from dataclasses import dataclass, field

FINDING, READING, CODE, NO_CODES = "finding", "reading", "code", "no codes"
FACT, HOURS, HISTORY, GUESS, SOUND = "fact", "hours", "history", "guess", "sound"
CIRCUMSTANCE, PLACE = "circumstance", "place"


@dataclass(frozen=True, slots=True)
class Alternative:
    """One thing that a part may be: a finding with its state, or a quantity. `likelihood`: 0 to 1. `unit`: of a
    value of which no unit was said, the one that it may be in."""

    id: str
    state: str
    likelihood: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class TextPart:
    """One thing said. `start` and `end`: its place in the text. `sure`: it can be kept as it is; else
    `alternatives` holds what it may be. `confidence`: how sure the speaker was."""

    kind: str
    start: int
    end: int
    text: str
    id: str = ""
    state: str = ""
    value: float | None = None
    unit: str = ""
    confidence: str = "sure"
    sure: bool = True
    alternatives: tuple[Alternative, ...] = ()
    also: tuple[str, ...] = field(default=())
    """Further findings in the same state: "no smoke" denies smoke of every colour."""


@dataclass(frozen=True, slots=True)
class Understanding:
    """A text understood: its parts in their order, and word for word what was not."""

    text: str
    parts: tuple[TextPart, ...]
    not_understood: tuple[str, ...] = ()

    @property
    def doubtful(self) -> tuple[TextPart, ...]:
        """The parts that a question must settle."""
        return tuple(part for part in self.parts if not part.sure)
