"""Where cases come from: the case store or files, always a chunk at a time, as often as asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Protocol, TypeVar

from diagnose.cases.case import Case
from diagnose.cases.renamed import with_present_ids
from diagnose.cases.store import Store
from diagnose.cases.understood import understood, without_places
from diagnose.errors import CallError, DataError, Place, Problem
from diagnose.knowledge.records import Knowledge
from diagnose.learning.jsonl import read_lines
from diagnose.learning.lesson import Lesson, lesson_of, under_present_ids

ENDINGS = (".jsonl", ".csv", ".parquet")
LARGEST = 5_000
"""Cases of a chunk at most."""
SMALLEST = 2_000
"""Cases of a chunk at least, where there are as many."""
CHUNKS = 8
"""Chunks wanted, so that every processor has its share."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class CaseChunk:
    """Some cases, as lines still to be read (numbered) or read already."""

    file: str
    lines: tuple[tuple[int, str], ...] = ()
    lessons: tuple[Lesson, ...] = ()

    def read(self, knowledge: Knowledge | None = None) -> list[Lesson]:
        """The cases; with a knowledge, under the ids that this has now. Raises DataError."""
        lessons = [*self.lessons, *read_lines(self.file, self.lines)]
        return under_present_ids(knowledge, lessons) if knowledge else lessons


class CaseSource(Protocol):
    """Cases that can be read again and again."""

    def count(self) -> int:
        """How many cases there are, about."""

    def chunks(self, size: int) -> Iterator[CaseChunk]:
        """All cases in chunks of this size, always the same."""


@dataclass(frozen=True, slots=True)
class StoreSource:
    """The cases of the store, in order of number; with a knowledge, their readings read anew by it. A case that
    cannot be read is passed over, and `passed_over` hears of it each time."""

    store: Store
    knowledge: Knowledge | None = None
    passed_over: Callable[[DataError], None] = lambda error: None

    def count(self) -> int:
        """How many cases were ever opened."""
        return self.store.last_case() or 0

    def chunks(self, size: int) -> Iterator[CaseChunk]:
        """A case is folded from its events when it comes up."""
        for some in _batches(map(lesson_of, self._cases()), size):
            yield CaseChunk(str(self.store.path), lessons=tuple(some))

    def _cases(self) -> Iterator[Case]:
        for number in range(1, self.count() + 1):
            try:
                case = self.store.case(number)
            except DataError as error:
                self.passed_over(error)
                continue
            yield case if self.knowledge is None else _anew(self.knowledge, case)


def _anew(knowledge: Knowledge, case: Case) -> Case:
    return without_places(knowledge, understood(knowledge, with_present_ids(knowledge, case)).case)


@dataclass(frozen=True, slots=True)
class FileSource:
    """The cases of one or more files, one after the other."""

    paths: Sequence[Path]

    def count(self) -> int:
        """Lines of JSON; a table is gone through once for it."""
        return sum(_count(path) for path in self.paths)

    def chunks(self, size: int) -> Iterator[CaseChunk]:
        """Lines of JSON stay lines: who works on them reads them."""
        for path in self.paths:
            if path.suffix == ".jsonl":
                for lines in _batches(_lines(path), size):
                    yield CaseChunk(str(path), lines=tuple(lines))
            else:
                from diagnose.learning.tables import read_table

                for lessons in _batches(read_table(path), size):
                    yield CaseChunk(str(path), lessons=tuple(lessons))


def from_files(paths: Sequence[Path]) -> FileSource:
    """The cases of files. Raises CallError for an ending that is not known."""
    for path in paths:
        if path.suffix not in ENDINGS:
            raise CallError(f"{path}: a file of cases ends in {', '.join(ENDINGS[:-1])} or {ENDINGS[-1]}.")
    return FileSource(paths)


def chunk_size(count: int) -> int:
    """How many of so many cases make a chunk: the same for the same cases, on any machine."""
    return min(max(-(-count // CHUNKS), SMALLEST), LARGEST)


def _count(path: Path) -> int:
    if path.suffix == ".jsonl":
        return sum(1 for _ in _lines(path))
    from diagnose.learning.tables import read_table

    return sum(1 for _ in read_table(path))


def _lines(path: Path) -> Iterator[tuple[int, str]]:
    try:
        with path.open(encoding="utf-8-sig") as file:
            yield from enumerate(file, 1)
    except UnicodeDecodeError as error:
        raise DataError(
            [Problem("L002", Place(str(path)), f"is no text in UTF-8: {error.reason}")]
        ) from error
    except OSError as error:
        raise DataError([Problem("L002", Place(str(path)), f"cannot be read: {error.strerror}")]) from error


def _batches(items: Iterator[T], size: int) -> Iterator[list[T]]:
    while batch := list(islice(items, size)):
        yield batch
