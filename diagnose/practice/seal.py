"""The hidden truth of an exercise, kept so that a glance at the file does not tell it.

Honest limit: the key lies beside what it locks, so this stops a glance and a search for words, not somebody who
writes a program to open it. Every seal has the same length up to a step, whatever is inside.
"""

from __future__ import annotations

import base64
import json
import secrets
import zlib
from hashlib import sha256
from typing import Any

STEP = 2048
"""Sealed texts are filled up to a multiple of so many bytes: a short one looks like a long one."""


def new_key() -> str:
    """A key of its own for one exercise."""
    return secrets.token_hex(16)


def seal(values: dict[str, Any], key: str) -> str:
    """The values as text that shows nothing of them."""
    packed = zlib.compress(json.dumps(values, sort_keys=True).encode())
    framed = len(packed).to_bytes(4, "big") + packed
    filled = framed + bytes(-len(framed) % STEP)
    return base64.b64encode(_mixed(filled, key)).decode()


def unseal(text: str, key: str) -> dict[str, Any]:
    """What was sealed with this key. Raises ValueError where it was not."""
    try:
        filled = _mixed(base64.b64decode(text), key)
        packed = filled[4 : 4 + int.from_bytes(filled[:4], "big")]
        values: dict[str, Any] = json.loads(zlib.decompress(packed))
    except (zlib.error, UnicodeDecodeError) as error:
        raise ValueError("this seal does not open with this key") from error
    return values


def _mixed(data: bytes, key: str) -> bytes:
    """The bytes mixed with a stream made from the key; mixing twice gives them back."""
    blocks = (sha256(f"{key}/{i}".encode()).digest() for i in range(len(data) // 32 + 1))
    stream = b"".join(blocks)[: len(data)]
    return bytes(a ^ b for a, b in zip(data, stream, strict=True))
