"""Cases chunk by chunk, with word of how far the work is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from diagnose.learning.case_sources import CaseChunk, CaseSource

Told = Callable[[str, int, int], None]
"""Progress: what is being done, done so far, of how many."""


def silent(what: str, done: int, of: int) -> None:
    """Tells nobody."""


@dataclass(frozen=True, slots=True)
class Chunks:
    """The cases of a source, `count` in all, in chunks of this size."""

    source: CaseSource
    size: int
    count: int
    told: Told

    def each(self, what: str) -> Iterator[CaseChunk]:
        """Every chunk; `what` is being done with them."""
        for number, chunk in enumerate(self.source.chunks(self.size)):
            self.told(what, min(number * self.size, self.count), self.count)
            yield chunk
        self.told(what, self.count, self.count)
