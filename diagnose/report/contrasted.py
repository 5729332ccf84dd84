"""The screen that sets one cause against another."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.diagnosis import Diagnosis
from diagnose.explaining.contrast import Contrast, Settles
from diagnose.explaining.reasons import WORTH_SAYING, seen_words
from diagnose.knowledge.records import Knowledge
from diagnose.report.checklist import how_to_record
from diagnose.report.screen_words import minutes, odds, percent, weight, yes_or_no
from diagnose.report.text import QUIET, STRONG, Pieces, foot, grid, head, item, line, titled


def contrast_screen(diagnosis: Diagnosis, found: Contrast, everything: bool = False) -> RenderableType:
    """Which findings decide between two causes, and which checks would; `everything`: with weights in figures."""
    step = how_to_record(found.checks[0].question.check.id) if found.checks else "diagnose next"
    return Group(
        *head(diagnosis.knowledge, diagnosis.case),
        Text(""),
        *_pair(diagnosis, found),
        *_standing(found),
        *_deciding(diagnosis, found, everything),
        *_settling(diagnosis.knowledge, found),
        *foot(step),
    )


def _pair(diagnosis: Diagnosis, found: Contrast) -> Pieces:
    ranks = {cause.id: rank for rank, cause in enumerate(diagnosis.causes, 1)}
    for cause, words in ((found.one, "rather than"), (found.other, "")):
        yield item(f"{ranks[cause.id]}", f"{cause.name} ({percent(cause.probability)})", style=STRONG)
        if words:
            yield line(words, 2, QUIET)


def _standing(found: Contrast) -> Pieces:
    names = (found.one.name, found.other.name)
    yield line(f"One without the other: {odds(found.now, *names)}.", 2)
    yield line(f"Before anything was seen: {odds(found.before, *names)}.", 2)
    yield line(f"Both together {percent(found.both)}, neither {percent(found.neither)}.", 2)


def _deciding(diagnosis: Diagnosis, found: Contrast, everything: bool) -> Pieces:
    table = grid("left", "left")
    decides = [one for one in found.evidence if abs(one.given_rest) >= WORTH_SAYING]
    for one in sorted(decides, key=lambda one: -abs(one.given_rest)):
        table.add_row(
            weight(one.given_rest, everything), seen_words(diagnosis, diagnosis.evidence[one.place])
        )
    yield titled("What decides between them: for or against the first, given the rest", table)
    silent = len(found.evidence) - len(decides)
    if not decides:
        yield line("Nothing that is noted.", 2)
    elif silent:
        yield line(f"{silent} more noted, which do not decide between them.", 0, QUIET)


def _settling(knowledge: Knowledge, found: Contrast) -> Pieces:
    blocks = [piece for one in found.checks for piece in _check(knowledge, found, one)]
    if blocks:
        yield titled("What would settle it, the most for its minutes first", *blocks)
    else:
        yield titled("What would settle it", line("No check of the knowledge tells them apart.", 2))


def _check(knowledge: Knowledge, found: Contrast, one: Settles) -> Pieces:
    check, finding = one.question.check, knowledge.findings[one.question.finding]
    yield item("-", f"{check.name} ({minutes(one.question.minutes)}), id {check.id}")
    yield line(f"{finding.name}?", 2)
    for outcome in one.outcomes:
        words = odds(outcome.odds, found.one.name, found.other.name)
        yield item(f"{yes_or_no(finding, outcome.state)} ->", words, 3, mark_style=QUIET)
