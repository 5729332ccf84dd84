"""The pieces that every screen is made of, and the head and foot that most of them share."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from diagnose.cases.case import Case
from diagnose.knowledge.records import Hazard, Knowledge
from diagnose.moves.ending import complaint_to_note
from diagnose.plain import small
from diagnose.report.screen_words import CAUTION

QUIET, STRONG, WARN = "dim", "bold", "bold yellow"
MOST_CAUTIONS = 3  # cautions told in full; of the rest the names
NOT_LISTED = "Something that is not listed here"

Pieces = Iterable[RenderableType]


def line(text: str, indent: int = 0, style: str = "") -> RenderableType:
    """A paragraph; what does not fit wraps under its own beginning."""
    return Padding(Text(text, style), (0, 0, 0, indent))


def item(mark: str, text: str, indent: int = 0, style: str = "", mark_style: str = "") -> RenderableType:
    """A paragraph behind a mark (a number, a word), wrapped beside it."""
    table = grid("left", "left")
    table.add_row(Text(mark, mark_style), Text(text, style))
    return Padding(table, (0, 0, 0, indent))


def grid(*justify: str) -> Table:
    """A table without lines: all columns but the last keep their width, the last wraps."""
    table = Table.grid(padding=(0, 1))
    *first, _ = justify
    for side in first:
        table.add_column(justify="right" if side == "right" else "left", no_wrap=True)
    table.add_column(overflow="fold")
    return table


def titled(title: str, *pieces: RenderableType) -> RenderableType:
    """A heading with an empty line before it."""
    return Group(Text(""), Text(title, STRONG), *pieces)


def head(knowledge: Knowledge, case: Case, kind: bool = True) -> Pieces:
    """Which machine this is, what it came in for, and under which other knowledge it was recorded. `kind`: with the
    kind of machine."""
    machine = case.machine
    family = knowledge.families.get(machine.family)
    parts = [
        f"Case {case.number}" if case.number else "Scenario",
        machine.number or "no machine number",
        (family.name if family else machine.family or "family not known") if kind else "",
        f"{machine.hours:g} h" if machine.hours is not None else "",
    ]
    yield Text(" / ".join(part for part in parts if part), STRONG)
    if case.complaint:
        yield line(f"Came in for: {case.complaint}", style=QUIET)
    yield from notices(knowledge, case)


def notices(knowledge: Knowledge, case: Case) -> Pieces:
    """One line each: recorded under other knowledge, opened by mistake, closed."""
    if any(event.knowledge not in ("", knowledge.version) for event in case.history):
        yield line("Part of this case was recorded under another version of the knowledge.", style=QUIET)
    if case.number and case.opened is None:
        yield line("The opening of this case was withdrawn.", style=WARN)
    if complaint_to_note(knowledge, case):
        yield line(
            "The complaint is not noted since the repair: try it and note it, or that it is gone.", style=WARN
        )
    if case.closed:
        yield line("This case is closed (reopen takes it up again).", style=QUIET)


def foot(next_step: str) -> Pieces:
    """What to do next, and the standing caution."""
    return (Text(""), line(f"Next: {next_step}", style=STRONG), line(CAUTION, style=QUIET))


def cautions(hazards: Iterable[Hazard]) -> Pieces:
    """Cautions in full, to stand before any step."""
    for hazard in hazards:
        mark = "STOP FIRST" if hazard.stop else "CAUTION"
        yield item(mark, f"{hazard.name}. {hazard.caution}", 2, mark_style=WARN)


def care(hazards: Iterable[Hazard]) -> Pieces:
    """The worst cautions in one line each, the others by name: nobody reads eleven."""
    hazards = tuple(hazards)
    for hazard in hazards[:MOST_CAUTIONS]:
        yield item("STOP FIRST" if hazard.stop else "CAUTION", hazard.in_short, 2, mark_style=WARN)
    if rest := [hazard.name for hazard in hazards[MOST_CAUTIONS:]]:
        yield line(f"also mind: {'; '.join(small(one) for one in rest)}", 2, QUIET)


def cause_name(knowledge: Knowledge, id: str) -> str:
    """A cause's name; what stands for the unlisted cause of a complaint has its own words."""
    cause = knowledge.causes.get(id)
    return cause.name if cause else small(NOT_LISTED)


def numbered(labels: Iterable[str]) -> RenderableType:
    """Choices, numbered from 1."""
    table = grid("right", "left")
    for number, label in enumerate(labels, 1):
        table.add_row(Text(f"{number}", STRONG), label)
    return table
