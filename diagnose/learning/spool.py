"""Groups of cases on the disk, a file a chunk, so that memory stays the same however many cases there are."""

from __future__ import annotations

import pickle
from collections.abc import Sequence
from pathlib import Path

from diagnose.learning.groups import Group


def write(path: Path, groups: Sequence[Group]) -> None:
    """Keep the groups of a chunk."""
    with path.open("wb") as file:
        pickle.dump(list(groups), file, pickle.HIGHEST_PROTOCOL)


def read(path: Path) -> list[Group]:
    """The groups of a chunk. The file is one that this run wrote itself, in a folder of its own."""
    with path.open("rb") as file:
        groups: list[Group] = pickle.load(file)
    return groups
