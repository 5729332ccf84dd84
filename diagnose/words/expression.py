"""An expression of the trade: what people say, and the plain words that it stands for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnose.errors import Place

Slang = tuple[tuple[str, tuple[str, ...]], ...]
"""What people say, each with the plain words that it stands for."""


@dataclass(frozen=True, slots=True)
class Expression:
    """What people say for something (`said`), and the plain words of names and aliases that it stands for
    (`means`); a word with a minus behind it is lacking: `power-`."""

    id: str
    means: str
    said: tuple[str, ...]
    place: Place


def as_slang(some: Iterable[Expression]) -> Slang:
    """Expression by expression what is said, with its plain words."""
    return tuple((said, tuple(one.means.split())) for one in some for said in one.said)
