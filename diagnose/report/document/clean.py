"""Text as it may stand on paper: no control characters, no letters that turn the reading direction around."""

from __future__ import annotations

import unicodedata

_TURNING = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def clean(text: str) -> str:
    """The text on one line; what a terminal would obey or a page cannot hold is left out."""
    kept = "".join(letter if _printable(letter) else " " if letter.isspace() else "" for letter in text)
    return " ".join(kept.split())


def _printable(letter: str) -> bool:
    return unicodedata.category(letter) not in ("Cc", "Cs", "Cn", "Zl", "Zp") and letter not in _TURNING
