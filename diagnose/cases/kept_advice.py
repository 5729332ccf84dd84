"""What was last told of each case, its leading cause and next move, kept in a file of its own beside the store: a
list of a thousand cases then works nothing out.

The file can be lost, and is not written where it cannot be: then the list says that nobody looked yet.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from diagnose.saving import PRIVATE

WAIT = 0.2
"""Seconds to wait for another program that writes to it."""


@dataclass(frozen=True, slots=True)
class KeptAdvice:
    """What was told of a case when it had so many `entries`; `opened`: the time of its opening, by which another
    case of the same number in another store is told from it. `kind`, `verb`, `move`: the next move; `cause`,
    `name`, `probability`: what leads, empty where nothing was noted; `stop`: the worst of what must not be done, or
    empty.
    """

    number: int
    opened: str
    entries: int
    cause: str = ""
    name: str = ""
    probability: float = 0.0
    kind: str = ""
    verb: str = ""
    move: str = ""
    stop: str = ""


def remember(store: Path, told: KeptAdvice) -> None:
    """Keep what was told of a case in the place of what was told before."""
    with contextlib.suppress(sqlite3.Error, OSError), _opened(store) as file:
        file.execute("create table if not exists told (number integer primary key, body text not null)")
        file.execute("insert or replace into told values (?, ?)", (told.number, json.dumps(asdict(told))))


def recall(store: Path) -> Mapping[int, KeptAdvice]:
    """What was told last, by number of the case; nothing of what cannot be read."""
    found: dict[int, KeptAdvice] = {}
    if not _file(store).exists():
        return found
    with contextlib.suppress(sqlite3.Error, OSError), _opened(store) as file:
        for number, body in file.execute("select number, body from told"):
            with contextlib.suppress(ValueError, TypeError):
                found[number] = _read(body)
    return found


def _read(body: str) -> KeptAdvice:
    values = json.loads(body)
    kinds = {part.name: type(part.default) for part in fields(KeptAdvice)}
    kinds |= {"number": int, "opened": str, "entries": int}
    if not all(isinstance(values.get(name), kind) for name, kind in kinds.items()):
        raise TypeError
    return KeptAdvice(**values)


@contextmanager
def _opened(store: Path) -> Iterator[sqlite3.Connection]:
    path = _file(store)
    with contextlib.suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE))
    connection = sqlite3.connect(path, timeout=WAIT, isolation_level=None)
    try:
        connection.execute("pragma synchronous = off")  # it can be lost
        yield connection
    finally:
        connection.close()


def _file(store: Path) -> Path:
    return store.with_name(f"{store.name}.told")
