"""What was recorded, for the screens that tell it."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.cases.events import (
    Event,
)
from diagnose.hearing import Question


@dataclass(frozen=True)
class Kept:
    """What was recorded: the events with their numbers, and words on them."""

    number: int
    sequences: tuple[int, ...]
    events: tuple[Event, ...]
    words: tuple[str, ...]
    open: tuple[Question, ...] = ()
    not_understood: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Noting:
    """What went into the case, and words on what did not."""

    kept: Kept
    left_out: tuple[str, ...] = ()
