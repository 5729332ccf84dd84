"""What a store declares of itself: its words, its table, and how an entry becomes a text and a text an entry."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from diagnose.errors import DiagnoseError, Place, Problem

Entry = TypeVar("Entry")
Migration = Callable[[Any, "Format[Any]"], str]
"""A step to the schema of today, given the connection and run once; it tells in words what became of what was
there, if anything."""
LOST = "this entry was damaged and could not be saved"


class EntryError(DiagnoseError):
    """An entry that cannot be written or read."""


class NewerEntry(EntryError):
    """An entry of a kind or version that only a newer program knows."""


@dataclass(frozen=True, slots=True)
class Format(Generic[Entry]):
    """What tells one store from another. Entries are kept in streams (a case, an exercise), each numbered from 1.

    `file`, `stream`, `entry`, `entries`: what they are called in words; `entry` is the table's name too, `column`
    that of its column of streams. `letter`: the first of the codes of its problems; `mark`: marks the file itself;
    `migrations`: by name, in order.
    `encode`: an entry, its number and the time now -> its canonical JSON, an object with its number as `sequence`
    (raises EntryError); `decode`: the reverse (raises EntryError, NewerEntry). `misplaced`: what is wrong with an
    entry at this number, empty where nothing is; `stand_in`: what keeps this number of an entry that was lost.
    """

    file: str
    stream: str
    entry: str
    entries: str
    letter: str
    mark: int
    column: str
    migrations: Mapping[str, Migration]
    encode: Callable[[Entry, int, str], str]
    decode: Callable[[str], Entry]
    stand_in: Callable[[int], Entry]
    misplaced: Callable[[Entry, int], str] = lambda entry, sequence: ""

    def at(self, stream: int, sequence: int) -> str:
        """The place of an entry in words: `case 1, event 2`."""
        return f"{self.stream} {stream}, {self.entry} {sequence}"

    def problem(self, path: Path, number: str, message: str, hint: str = "") -> Problem:
        """A problem of a file as a whole: its code is the letter and this number."""
        return Problem(f"{self.letter}{number}", Place(str(path)), message, hint)


def canonical(values: dict[str, Any]) -> str:
    """The values as JSON with sorted keys, no blanks, in ASCII. Raises ValueError on what is no JSON."""
    return json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def sequence_of(body: str) -> int | None:
    """The number that the text of an entry gives itself; None where it gives none."""
    try:
        sequence = json.loads(body)["sequence"]
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    return sequence if type(sequence) is int and sequence > 0 else None
