"""Stretches of a text."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the text."""

    start: int
    end: int

    def meets(self, start: int, end: int) -> bool:
        """Whether it has any of that stretch."""
        return self.start < end and start < self.end


def masked(text: str, spans: list[Span], mark: str = " ") -> str:
    """The text with some stretches blanked, so that places stay the same."""
    letters = list(text)
    for span in spans:
        for i in range(span.start, span.end):
            letters[i] = mark
    return "".join(letters)
