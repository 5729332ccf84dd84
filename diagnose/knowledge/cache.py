"""Checked knowledge kept under the hash of its files, so that an everyday command does not run the rules."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

import msgspec

from diagnose.caching import folder, stamp, whole, write
from diagnose.knowledge.files import FileText, version
from diagnose.knowledge.records import Knowledge


def get(texts: Sequence[FileText]) -> Knowledge | None:
    """The knowledge of these files, if it was kept whole; its places name these files, wherever they lay then."""
    try:
        names, _, body = whole(_path(texts)).partition(b"\n")
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
        write(_path(texts), "knowledge", names + b"\n" + body)
    return msgspec.json.decode(body, type=Knowledge)


def _as_file(name: str) -> bytes:
    return b'"file":' + msgspec.json.encode(name) + b","


def _bare(text: object) -> str:
    """A text that remembers its place, without that."""
    return str.__str__(text)


def _path(texts: Sequence[FileText]) -> Path:
    key = hashlib.sha256(f"{version(texts)} {_program()}".encode()).hexdigest()
    return folder() / f"knowledge-{key[:32]}.json"


def _program() -> str:
    """Changes with every change of the reader or the rules, so that new rules see old files."""
    here = Path(__file__).parent
    parts = (here, here / "sections", here / "rules", here.parent / "forms", here.parent / "words")
    return stamp(*parts)
