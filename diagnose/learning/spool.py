"""What is known of the cases of a chunk on the disk, so that memory stays the same however many cases there are."""

from __future__ import annotations

import pickle
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from diagnose.learning.groups import Group
from diagnose.network.network import Array


def write(path: Path, groups: Sequence[Group], trials: Array) -> None:
    """Keep the groups and trials of a chunk."""
    np.save(_beside(path), trials)
    with path.open("wb") as file:
        pickle.dump(list(groups), file, pickle.HIGHEST_PROTOCOL)


def read(path: Path) -> list[Group]:
    """The groups of a chunk. The file is one that this run wrote itself, in a folder of its own."""
    with path.open("rb") as file:
        groups: list[Group] = pickle.load(file)
    return groups


def trials(path: Path) -> Array:
    """The trials of a chunk."""
    found: Array = np.load(_beside(path))
    return found


def _beside(path: Path) -> Path:
    return path.with_suffix(".npy")
