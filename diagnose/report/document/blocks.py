"""What a written report is made of, whatever the paper. Texts are plain; each kind of paper escapes its own way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

Tone = Literal["good", "open", "warn"]


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph; `quiet`: in the small print."""

    kind: ClassVar[str] = "para"
    text: str
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Points:
    """A list."""

    kind: ClassVar[str] = "points"
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DefinitionList:
    """Labels with what belongs to them."""

    kind: ClassVar[str] = "facts"
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table. `right`: columns with numbers; `tight`: columns that do not wrap; `total`: whether the last row sums
    up."""

    kind: ClassVar[str] = "grid"
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = frozenset()
    tight: frozenset[int] = frozenset()
    total: bool = False


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to be seen first: a caution, or how far the case is."""

    kind: ClassVar[str] = "notice"
    tone: Tone
    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing as SVG, whose texts are escaped already; `words` say the same where nothing can be drawn. `beside`:
    a table or list beside it says it better than these words."""

    kind: ClassVar[str] = "figure"
    title: str
    svg: str
    words: str
    beside: bool = False


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading within a section."""

    kind: ClassVar[str] = "heading"
    text: str


Block = Para | Points | DefinitionList | Grid | Notice | Figure | Heading


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with its blocks."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Paper:
    """A whole report; `state` says how far the case is, `foot` is the small print at the end."""

    title: str
    under: str
    state: Notice
    sections: tuple[Section, ...]
    foot: tuple[str, ...]
