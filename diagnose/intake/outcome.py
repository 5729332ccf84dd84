"""What was typed, and what it comes to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from diagnose.cases.events import Confidence, Event
from diagnose.errors import CallError


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that may have been meant: what to note instead, and how to call it. `facts`: what choosing it
    tells of the machine, to be kept before."""

    text: str
    label: str
    facts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Intake:
    """What a text comes to: events to append with `words`, one line each; or a question with its choices.

    A question with events: what can be kept where nobody answers it.
    """

    events: tuple[Event, ...] = ()
    words: tuple[str, ...] = ()
    question: str = ""
    choices: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Typed:
    """A text with the manner in which it was given."""

    text: str
    absent: bool
    state: str
    confidence: Confidence
    as_written: str
    now: str


def unknown(text: str) -> CallError:
    """The error that a text is nothing of the knowledge."""
    return CallError(
        f"“{text}” is nothing that the knowledge knows. Say it in other words, or search with: "
        "diagnose knowledge find WORDS"
    )


def several(text: str) -> str:
    """The question which of several things a text means."""
    return f"“{text}” can mean several things:"


def together(intakes: Iterable[Intake]) -> Intake:
    """What several things come to."""
    intakes = tuple(intakes)
    events = tuple(event for intake in intakes for event in intake.events)
    return Intake(events, tuple(line for intake in intakes for line in intake.words))
