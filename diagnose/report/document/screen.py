"""A report as text on a terminal, wrapped to its width; tables that do not fit become lists."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

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
from diagnose.report.text import QUIET, STRONG, WARN, item, line, titled

NARROW = 16
"""Letters that a column of words needs at least; where it has less the table is told row by row (judgement)."""
GAP = 2  # blanks between columns


def paper_screen(paper: Paper) -> RenderableType:
    """The whole report."""
    return Group(
        Text(clean(paper.title), STRONG),
        line(clean(paper.under), style=QUIET),
        *_block(paper.state),
        *(titled(clean(section.title), *_section(section)) for section in paper.sections),
        Text(""),
        *(line(clean(words), style=QUIET) for words in paper.foot),
    )


def _section(section: Section) -> Iterator[RenderableType]:
    for number, block in enumerate(section.blocks):
        pieces = list(_block(block))
        if pieces and number and not isinstance(block, Points):
            yield Text("")
        yield from pieces


def _block(block: Block) -> Iterator[RenderableType]:
    match block:
        case Para(text=text, quiet=quiet):
            yield line(clean(text), 2, QUIET if quiet else "")
        case Points(items=items):
            yield from (item("-", clean(words), 2) for words in items)
        case DefinitionList(rows=rows):
            yield from (item(f"{clean(label)}:", clean(words), 2, mark_style=QUIET) for label, words in rows)
        case Grid():
            yield Padding(_Fitted(block), (0, 0, 0, 2))
        case Notice(title=title, text=text):
            yield item("!", f"{clean(title)} {clean(text)}".strip(), 2, mark_style=WARN)
        case Figure(title=title, words=words, beside=False):
            yield line(f"{clean(title)}. {clean(words)}", 2)
        case Heading(text=text):
            yield line(clean(text), 2, STRONG)


class _Fitted:
    """A table where every column of words has room, else its rows one below the other."""

    def __init__(self, grid: Grid):
        self.grid = grid

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """What fits the width."""
        yield _table(self.grid) if _fits(self.grid, options.max_width) else Group(*_rows(self.grid))


def _fits(grid: Grid, width: int) -> bool:
    columns = list(zip(grid.columns, *grid.rows, strict=True))
    widest = [max(len(clean(cell)) for cell in column) for column in columns]
    firm = [place in grid.right | grid.tight for place in range(len(columns))]
    words = [size for size, fixed in zip(widest, firm, strict=True) if not fixed]
    left = width - GAP * (len(columns) - 1) - sum(widest) + sum(words)
    return sum(min(size, NARROW) for size in words) <= left


def _table(grid: Grid) -> Table:
    table = Table(box=None, padding=(0, GAP, 0, 0), pad_edge=False, header_style=STRONG)
    for place, name in enumerate(grid.columns):
        right = place in grid.right
        table.add_column(
            clean(name),
            justify="right" if right else "left",
            no_wrap=right or place in grid.tight,
            overflow="fold",
        )
    for place, row in enumerate(grid.rows, 1):
        last = grid.total and place == len(grid.rows)
        table.add_row(*(Text(clean(cell)) for cell in row), style=STRONG if last else "")
    return table


def _rows(grid: Grid) -> Iterator[RenderableType]:
    """The first cell as a mark, the second beside it, the others below with the names of their columns."""
    for row in grid.rows:
        first, second, *others = map(clean, row)
        yield item(first or "-", second, mark_style=STRONG)
        named = zip(grid.columns[2:], others, strict=True)
        if words := "; ".join(f"{clean(name)}: {cell}" for name, cell in named if cell):
            yield line(words, 4, QUIET)
