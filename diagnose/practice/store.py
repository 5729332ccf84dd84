"""The file of exercises: a log of their entries beside the case store.

An entry is kept before the screen goes on, so a lost line or a killed program loses at most what was being typed.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.append_only.audit import Audit
from diagnose.append_only.format import EntryError, Format, canonical
from diagnose.append_only.log import Log
from diagnose.append_only.sqlite import chained
from diagnose.cases.store import default_path
from diagnose.errors import CallError

LOST_KIND = "lost"


@dataclass(frozen=True, slots=True)
class ExerciseEntry:
    """One thing that happened in an exercise: its kind and plain JSON values."""

    kind: str
    values: dict[str, Any]
    time: str = ""


def practice_path(cases: Path | None) -> Path:
    """The file of exercises beside this case store: `cases.practice.sqlite` beside `cases.sqlite`."""
    path = default_path() if cases is None else cases
    return path.with_name(f"{path.stem}.practice.sqlite")


def _encoded(entry: ExerciseEntry, sequence: int, now: str) -> str:
    head = {"kind": entry.kind, "sequence": sequence, "time": entry.time or now}
    return canonical(head | {"values": entry.values})


def _earlier(sequence: int, kind: str, time: str, values: str) -> str:
    """The text of an entry of which an earlier version kept three columns; its values stay as they stood."""
    head = canonical({"kind": kind, "sequence": sequence, "time": time})
    return f'{head[:-1]},"values":{values}}}'


def _decoded(body: str) -> ExerciseEntry:
    with suppress(ValueError, RecursionError):
        match json.loads(body):
            case {"kind": str(kind), "time": str(time), "values": dict(values)}:
                return ExerciseEntry(kind, values, time)
    raise EntryError("this is no entry of an exercise")


EXERCISES: Format[ExerciseEntry] = Format(
    file="file of exercises",
    stream="exercise",
    entry="entry",
    entries="entries",
    letter="P",
    mark=0x44507261,
    column="exercise",
    migrations={"m001_entry_table": chained("kind, time, body", _earlier)},
    encode=_encoded,
    decode=_decoded,
    stand_in=lambda sequence: ExerciseEntry(LOST_KIND, {}),
)


class Exercises(Log[ExerciseEntry, Audit]):
    """The exercises in one file. Raises DataError as every log does."""

    format = EXERCISES

    def entries(self, stream: int) -> tuple[ExerciseEntry, ...]:
        """All entries of an exercise, in order. CallError: no such exercise, or its beginning was lost."""
        found = super().entries(stream)
        if found[0].kind == LOST_KIND:
            raise CallError(f"The beginning of exercise {stream} was damaged and could not be saved.")
        return found

    def numbers(self) -> tuple[int, ...]:
        """The numbers of all exercises; not of those that lost their beginning and only keep their number."""
        lost = f'{{"kind":"{LOST_KIND}"'
        return tuple(n for n in super().numbers() if not self._audit().first[n].startswith(lost))
