"""What was made once, kept as JSON for the next call, so that an everyday command neither parses YAML nor cuts
names into words.

A cache that is missing, unreadable, unwritable or damaged is never an error: what it would hold is made anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from diagnose.saving import replace

CACHE_VARIABLE = "DIAGNOSE_CACHE"
KEPT = 8  # files; older ones are deleted
PROGRAM = (".py", ".txt", ".yaml")
"""Endings of what makes the program do otherwise."""


def folder() -> Path:
    """Where the cache lies: DIAGNOSE_CACHE, else the user's cache folder."""
    if named := os.environ.get(CACHE_VARIABLE):
        return Path(named)
    from platformdirs import user_cache_dir

    return Path(user_cache_dir("diesel-diagnose"))


def kept(kind: str, key: str, make: Callable[[], Any]) -> Any:
    """Plain data made by the program, under a key that changes whenever it would be made differently; made anew
    where it was not kept whole."""
    path = folder() / f"{kind}-{key}.json"
    try:
        return json.loads(whole(path))
    except (OSError, ValueError):
        made = make()
    with contextlib.suppress(OSError):
        write(path, kind, json.dumps(made, ensure_ascii=False, separators=(",", ":")).encode())
    return made


def stamp(*folders: Path) -> str:
    """Changes with every change of the program, or of what it reads, in these folders."""
    return " ".join(map(_stamp, folders))


@cache
def _stamp(folder: Path) -> str:
    files = sorted(one.path for one in os.scandir(folder) if one.name.endswith(PROGRAM))
    return " ".join(f"{(stat := os.stat(path)).st_mtime_ns}:{stat.st_size}" for path in files)


def whole(path: Path) -> bytes:
    """What was kept in a file. Raises OSError; ValueError where it is not whole."""
    digest, _, body = path.read_bytes().partition(b"\n")
    if digest.decode() != hashlib.sha256(body).hexdigest():
        raise ValueError("not as it was written")
    return body


def write(path: Path, kind: str, body: bytes) -> None:
    """Keep it with its hash, and drop the oldest of the kind. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with_hash = hashlib.sha256(body).hexdigest().encode() + b"\n" + body
    replace(path, lambda new: new.write_bytes(with_hash), private=True)
    _drop_old(path.parent, kind)


def _drop_old(where: Path, kind: str) -> None:
    files = sorted(where.glob(f"{kind}-*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in files[KEPT:]:
        path.unlink(missing_ok=True)
