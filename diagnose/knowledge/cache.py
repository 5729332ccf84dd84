"""Checked knowledge kept as JSON under the hash of its files, so that an everyday command neither parses
YAML nor runs the rules.

A cache that is missing, unreadable, unwritable or damaged is never an error: the knowledge is made anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from diagnose.knowledge.files import Text, version
from diagnose.knowledge.freeze import Freezer
from diagnose.knowledge.records import Knowledge

CACHE_VARIABLE = "DIAGNOSE_CACHE"
KEPT = 8  # files; older ones are deleted


def folder() -> Path:
    """Where the cache lies: DIAGNOSE_CACHE, else the user's cache folder."""
    if named := os.environ.get(CACHE_VARIABLE):
        return Path(named)
    from platformdirs import user_cache_dir

    return Path(user_cache_dir("diesel-diagnose"))


def get(texts: Sequence[Text]) -> Knowledge | None:
    """The knowledge of these files, if it was kept whole."""
    try:
        digest, _, body = _path(texts).read_bytes().partition(b"\n")
        if digest.decode() != hashlib.sha256(body).hexdigest():
            return None
        return _freezer(texts).thaw(json.loads(body))
    except (OSError, ValueError, LookupError, TypeError, RuntimeError):
        return None


def put(knowledge: Knowledge, texts: Sequence[Text]) -> Knowledge:
    """Keeps the knowledge if that can be done; returns it as `get` will."""
    freezer = _freezer(texts)
    frozen = freezer.freeze(knowledge)
    with contextlib.suppress(OSError, RuntimeError):
        _write(_path(texts), json.dumps(frozen, ensure_ascii=False, separators=(",", ":")).encode())
    return freezer.thaw(frozen)


def kept(kind: str, key: str, make: Callable[[], Any]) -> Any:
    """Plain data made from the knowledge, under a key that changes whenever it would be made differently; made anew
    where it was not kept whole."""
    path = folder() / f"{kind}-{key}.json"
    try:
        return json.loads(path.read_bytes())
    except (OSError, ValueError):
        made = make()
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(f".{os.getpid()}.part")
        part.write_text(json.dumps(made, separators=(",", ":")), encoding="utf-8")
        part.replace(path)
        _drop_old(path.parent, kind)
    return made


def _path(texts: Sequence[Text]) -> Path:
    key = hashlib.sha256(f"{version(texts)} {_program()}".encode()).hexdigest()
    return folder() / f"knowledge-{key[:32]}.json"


def _program() -> str:
    """Changes with every change of the reader or the rules, so that new rules see old files."""
    here = Path(__file__).parent
    sources = (path for pattern in ("*.py", "rules/*.py") for path in sorted(here.glob(pattern)))
    return " ".join(f"{(stat := path.stat()).st_mtime_ns}:{stat.st_size}" for path in sources)


def _freezer(texts: Sequence[Text]) -> Freezer:
    return Freezer([text.name for text in texts])


def _write(path: Path, body: bytes) -> None:
    """Writes beside the file, then renames: a reader sees the old file or the whole new one."""
    import tempfile  # only when the knowledge has changed

    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix="knowledge-", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
        os.replace(name, path)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
    _drop_old(path.parent, "knowledge")


def _drop_old(where: Path, kind: str) -> None:
    files = sorted(where.glob(f"{kind}-*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in files[KEPT:]:
        path.unlink(missing_ok=True)
