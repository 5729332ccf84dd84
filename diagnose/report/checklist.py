"""The screen of the next checks: cautions first, then what to do, then what each result would say."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.diagnosis import Diagnosis
from diagnose.intake import in_words
from diagnose.knowledge.records import Hazard, Knowledge
from diagnose.planning.checks import CheckValue, Result
from diagnose.report.stops import Proposal, stops
from diagnose.report.text import (
    QUIET,
    STRONG,
    WARN,
    Pieces,
    cause_name,
    caution_names,
    cautions,
    foot,
    grid,
    head,
    item,
    line,
)
from diagnose.report.words import listed, minutes, percent


def checks_screen(diagnosis: Diagnosis, checks: Sequence[Proposal], limit: int) -> RenderableType:
    """The first check in full, those after it in short."""
    if not checks:
        return Group(
            *head(diagnosis.knowledge, diagnosis.case),
            line("No check of the knowledge can tell more in this case."),
            *foot("diagnose causes (the ranking), or diagnose note WORDS for what else was seen"),
        )
    blocks = [_block(diagnosis, rank, one) for rank, one in enumerate(checks[:limit], 1)]
    left = len(checks) - len(blocks)
    return Group(
        *head(diagnosis.knowledge, diagnosis.case),
        *stops(diagnosis),
        line("Checks that tell the most for their minutes, best first", style=QUIET),
        *blocks,
        *((Text(""), line(f"{left} more: diagnose next --all", style=QUIET)) if left else ()),
        *foot(next_step(checks[0].check)),
    )


def next_step(check: CheckValue) -> str:
    """How to record what a check shows."""
    if _is_look(check):
        return f"diagnose note {check.findings[0]}, or with --not if it is not so"
    return f'diagnose note "WHAT IT SHOWED" --check {check.id}'


def _is_look(check: CheckValue) -> bool:
    """Whether this is no procedure of the knowledge, only one finding to look or ask for."""
    return check.id.startswith("look:")


def _block(diagnosis: Diagnosis, rank: int, one: Proposal) -> RenderableType:
    check = one.check
    return Group(
        Text(""),
        item(f"{rank}", check.name, style=STRONG, mark_style=STRONG),
        line(takes(check), 2),
        *(held_words(one.held) if one.held else ()),
        *(_in_full(check) if rank == 1 and not one.held else caution_names(check.hazards)),
        *results(diagnosis.knowledge, check, 4 if rank == 1 else 2),
        *(() if _is_look(check) else (line(f"id: {check.id}", 2, QUIET),)),
    )


def held_words(hazard: Hazard) -> Pieces:
    """That a check is not to be done before something is ruled out."""
    yield item("NOT NOW", f"first rule out: {hazard.name}", 2, mark_style=WARN)


def takes(check: CheckValue) -> str:
    """Minutes, dismantling and bits."""
    access = f", {minutes(check.access_minutes)} to open and close" if check.access_minutes else ""
    opening = f" ({listed(access.name for access in check.access)})" if check.access else ""
    return f"{minutes(check.minutes)}{access}{opening}; tells {check.bits:.2f} bit"


def _in_full(check: CheckValue) -> Pieces:
    """Cautions, then tools, then steps."""
    yield from cautions(check.hazards)
    if check.tools:
        yield line(f"Tools: {', '.join(check.tools)}", 2)
    yield from (item(f"{i}.", step, 2) for i, step in enumerate(check.steps, 1) if step)


def results(knowledge: Knowledge, check: CheckValue, most: int) -> Pieces:
    """What the likeliest results would lead to."""
    table = grid("left", "left")
    for result in check.results[:most]:
        leading = cause_name(knowledge, result.leading)
        after = f"{percent(result.leading_probability)} {leading}"
        words = f"{result_words(knowledge, result)} -> {after}"
        table.add_row(Text(f"  {percent(result.probability):>6}", QUIET), words)
    if check.results:
        yield line("May show -> then first:", 2, QUIET)
        yield table


def result_words(knowledge: Knowledge, result: Result) -> str:
    """A joint result by what is not normal in it."""
    findings = [(knowledge.findings[id], state) for id, state in result.states.items()]
    shown = [in_words(finding, state) for finding, state in findings if state != finding.states[0]]
    if shown:
        return listed(shown)
    return in_words(*findings[0]) if len(findings) == 1 else "nothing unusual"
