"""A report as Markdown: every text that somebody typed stays text."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from diagnose.report.document.blocks import (
    Block,
    DefinitionList,
    Figure,
    Grid,
    Heading,
    Notice,
    Paper,
    Para,
    Points,
    Section,
)
from diagnose.report.document.clean import clean

_SPECIAL = re.compile(r"[\\`*_\[\]|~]")
_AT_START = re.compile(r"^(\d{1,9})([.)])(?=\s|$)|^([#+=-])")


def markdown(paper: Paper) -> str:
    """The whole report, as Markdown with tables."""
    blocks = [f"# {escaped(paper.title)}", escaped(paper.under), *_block(paper.state)]
    blocks += [line for section in paper.sections for line in _section(section)]
    return "\n\n".join([*blocks, "---", *map(escaped, paper.foot)]) + "\n"


def escaped(text: str) -> str:
    """A text that Markdown shows as it is, on one line."""
    plain = clean(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    safe = _SPECIAL.sub(lambda found: f"\\{found[0]}", plain)
    return _AT_START.sub(lambda found: f"{found[1]}\\{found[2]}" if found[1] else f"\\{found[3]}", safe)


def _section(section: Section) -> Iterator[str]:
    yield f"## {escaped(section.title)}"
    for block in section.blocks:
        yield from _block(block)


def _block(block: Block) -> Iterator[str]:
    match block:
        case Para(text=text):
            yield escaped(text)
        case Points(items=items):
            yield "\n".join(f"- {escaped(item)}" for item in items)
        case DefinitionList(rows=rows):
            yield "\n".join(f"- **{escaped(label)}:** {escaped(words)}" for label, words in rows)
        case Grid():
            yield "\n".join(_grid(block))
        case Notice(title=title, text=text):
            yield f"> **{escaped(title)}** {escaped(text)}".rstrip()
        case Figure(title=title, words=words):
            yield f"*{escaped(title)}.* {escaped(words)}"
        case Heading(text=text):
            yield f"### {escaped(text)}"


def _grid(grid: Grid) -> Iterator[str]:
    yield _row(grid.columns)
    yield (
        "|"
        + "|".join(" ---: " if place in grid.right else " --- " for place in range(len(grid.columns)))
        + "|"
    )
    yield from (_row(row) for row in grid.rows)


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(map(escaped, cells))} |"
