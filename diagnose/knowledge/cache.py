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

import msgspec

from diagnose.knowledge.files import FileText, version
from diagnose.knowledge.records import Knowledge
from diagnose.saving import replace

CACHE_VARIABLE = "DIAGNOSE_CACHE"
KEPT = 8  # files; older ones are deleted


def folder() -> Path:
    """Where the cache lies: DIAGNOSE_CACHE, else the user's cache folder."""
    if named := os.environ.get(CACHE_VARIABLE):
        return Path(named)
    from platformdirs import user_cache_dir

    return Path(user_cache_dir("diesel-diagnose"))


def get(texts: Sequence[FileText]) -> Knowledge | None:
    """The knowledge of these files, if it was kept whole; its places name these files, wherever they lay then."""
    try:
        names, _, body = _whole(_path(texts)).partition(b"\n")
        for old, text in zip(json.loads(names), texts, strict=True):
            if old != text.name:
                body = body.replace(_as_file(old), _as_file(text.name))
        return msgspec.json.decode(body, type=Knowledge)
    except (OSError, ValueError, TypeError, RuntimeError, msgspec.MsgspecError):
        return None


def put(knowledge: Knowledge, texts: Sequence[FileText]) -> Knowledge:
    """Keeps the knowledge if that can be done; returns it as `get` will."""
    try:
        names = msgspec.json.encode([text.name for text in texts])
        body = msgspec.json.encode(knowledge, enc_hook=_bare)
    except ValueError:  # a folder whose name is no text
        return knowledge
    with contextlib.suppress(OSError, RuntimeError):
        _write(_path(texts), "knowledge", names + b"\n" + body)
    return msgspec.json.decode(body, type=Knowledge)


def _as_file(name: str) -> bytes:
    return b'"file":' + msgspec.json.encode(name) + b","


def _bare(text: object) -> str:
    """A text that remembers its place, without that."""
    return str.__str__(text)


def kept(kind: str, key: str, make: Callable[[], Any]) -> Any:
    """Plain data made from the knowledge, under a key that changes whenever it would be made differently; made anew
    where it was not kept whole."""
    path = folder() / f"{kind}-{key}.json"
    try:
        return json.loads(_whole(path))
    except (OSError, ValueError):
        made = make()
    with contextlib.suppress(OSError):
        _write(path, kind, json.dumps(made, ensure_ascii=False, separators=(",", ":")).encode())
    return made


def _path(texts: Sequence[FileText]) -> Path:
    key = hashlib.sha256(f"{version(texts)} {_program()}".encode()).hexdigest()
    return folder() / f"knowledge-{key[:32]}.json"


def _program() -> str:
    """Changes with every change of the reader or the rules, so that new rules see old files."""
    here = Path(__file__).parent
    sources = (path for pattern in ("*.py", "rules/*.py") for path in sorted(here.glob(pattern)))
    return " ".join(f"{(stat := path.stat()).st_mtime_ns}:{stat.st_size}" for path in sources)


def _whole(path: Path) -> bytes:
    """What was kept in a file. Raises OSError; ValueError where it is not whole."""
    digest, _, body = path.read_bytes().partition(b"\n")
    if digest.decode() != hashlib.sha256(body).hexdigest():
        raise ValueError("not as it was written")
    return body


def _write(path: Path, kind: str, body: bytes) -> None:
    """Keep it with its hash, and drop the oldest of the kind. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    whole = hashlib.sha256(body).hexdigest().encode() + b"\n" + body
    replace(path, lambda new: new.write_bytes(whole), private=True)
    _drop_old(path.parent, kind)


def _drop_old(where: Path, kind: str) -> None:
    files = sorted(where.glob(f"{kind}-*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in files[KEPT:]:
        path.unlink(missing_ok=True)
