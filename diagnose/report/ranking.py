"""The screen of the likely causes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from diagnose.cases.case import Epoch
from diagnose.diagnosis import LEADING, Diagnosis, LikelySet, RankedCause
from diagnose.explaining.reasons import WORTH_SAYING, reasons
from diagnose.knowledge.located import with_place
from diagnose.knowledge.records import Knowledge
from diagnose.moves.advice import Advice
from diagnose.report.move import move_lines
from diagnose.report.screen_words import bar, between, listed, percent
from diagnose.report.text import (
    NOT_LISTED,
    QUIET,
    STRONG,
    WARN,
    Pieces,
    cause_name,
    foot,
    grid,
    head,
    item,
    line,
    titled,
)

if TYPE_CHECKING:
    from diagnose.explaining.intervals import Interval

SUSPICIOUS_BITS = 3.0
"""Conflict above which findings are said not to fit: together 8 times rarer than by chance (judgement)."""
LEFT_OVER = 0.05
"""What no listed cause explains is told from this probability on (judgement)."""
LIKELY_SETS = 3  # sets of faults that are named
MOST_UNUSED = 8
"""Observations that were not used named on the screen: a longer list hides the ranking above it."""
FAR_BEHIND = 0.05
"""So many times as likely as the first, a cause is not worth a line beside it (judgement)."""
WRECKED_BY = "likely wrecked by:"


def causes_screen(
    advice: Advice,
    limit: int | None,
    opinion: tuple[int, float] | None = None,
    intervals: Mapping[str, Interval] | None = None,
) -> RenderableType:
    """The ranking with its reasons, the combinations, what does not fit, and what to do next."""
    diagnosis = advice.diagnosis
    return Group(
        *head(diagnosis.knowledge, diagnosis.case),
        *move_lines(advice, limit is None),
        *conflict_line(diagnosis),
        *no_complaint(diagnosis),
        Text(""),
        ranking(diagnosis, limit, intervals),
        *unexplained_lines(diagnosis),
        *_trust(intervals),
        *_rest(diagnosis, limit),
        *averaged_line(diagnosis, limit is None),
        *thinned_line(diagnosis),
        *_combinations(diagnosis),
        *_for_and_against(diagnosis),
        *_repairs(diagnosis),
        *_unused(diagnosis.unused),
        *_opinion(opinion),
        *foot(_next_step(diagnosis)),
    )


def no_complaint(diagnosis: Diagnosis) -> Pieces:
    """That nothing the machine came in for was understood: the ranking is then that of any machine in service."""
    states = diagnosis.built.network.states
    wrong = any(one.observation.state != states[one.variable][0] for one in diagnosis.evidence)
    if not wrong and not diagnosis.case.inspection:
        words = "Nothing wrong is noted yet, so these are the chances of any machine in service."
        yield line(f"{words} What did it come in for? diagnose note WORDS", style=WARN)


def leading_causes(diagnosis: Diagnosis, most: int) -> RenderableType:
    """Up to so many causes, as far down as they are worth a look beside the first."""
    shown = worth_a_look(diagnosis, most)
    return ranking(diagnosis, len(shown), least=FAR_BEHIND * shown[0].probability)


def worth_a_look(diagnosis: Diagnosis, most: int) -> tuple[RankedCause, ...]:
    """The leading causes, but those that are `FAR_BEHIND` the first."""
    first, *others = listed_causes(diagnosis)[:most]
    return first, *(one for one in others if one.probability >= FAR_BEHIND * first.probability)


def ranking(
    diagnosis: Diagnosis,
    limit: int | None,
    intervals: Mapping[str, Interval] | None = None,
    least: float = 0.0,
) -> RenderableType:
    """The leading causes; the unlisted one, without a number, where its probability puts it, if it has `least`."""
    ranges = intervals or {}
    table = grid("right", "right", "left", *(["right"] if ranges else []), "left")
    other = diagnosis.other_cause or None  # 0 where no complaint was seen
    other = other if other and other >= least else None
    for rank, cause in enumerate(_shown(diagnosis, limit), 1):
        if other is not None and other > cause.probability:
            _add(table, "", other, Text(NOT_LISTED))
            other = None
        _add(
            table,
            f"{rank}",
            cause.probability,
            Text(with_place(cause.name, cause.place)),
            ranges.get(cause.id),
        )
        if _wrecked_by_this(diagnosis, cause):
            by = cause_name(diagnosis.knowledge, cause.wrecked_by)
            table.add_row(*[""] * (len(table.columns) - 1), Text(f"{WRECKED_BY} {by}", QUIET))
    if other is not None:
        _add(table, "", other, Text(NOT_LISTED))
    return table


def _wrecked_by_this(diagnosis: Diagnosis, cause: RankedCause) -> bool:
    """Whether one cause alone most likely brought it about: not the first of many, less than half as likely."""
    by = diagnosis.cause(cause.wrecked_by) if cause.wrecked_by else None
    return by is not None and 2 * by.probability >= cause.probability


def unexplained_lines(diagnosis: Diagnosis, most: int = 3) -> Pieces:
    """What is left over of the findings, where it is worth a word."""
    for one in [one for one in diagnosis.unexplained if one.probability >= LEFT_OVER][:most]:
        name = diagnosis.knowledge.findings[one.finding].in_words(one.state)
        why = (
            f"{percent(one.misleads)} that it misleads, {percent(one.probability - one.misleads)} not listed"
        )
        yield line(f"Nothing listed explains “{name}”: {percent(one.probability)} ({why})", style=QUIET)


def averaged_line(diagnosis: Diagnosis, named: bool) -> Pieces:
    """Facts that nobody told and that count on average, `named` or how many; those that matter are asked for."""
    names = [diagnosis.knowledge.facts[id].name.lower() for id in diagnosis.averaged]
    if not names:
        return
    if named:
        yield line(f"Not told, so counted on average: {listed(names)}.", style=QUIET)
    else:
        facts = "One fact" if len(names) == 1 else f"{len(names)} facts"
        words = f"{facts} of the machine, not told, count on average (diagnose causes --all names them)"
        yield line(words, style=QUIET)


def thinned_line(diagnosis: Diagnosis) -> Pieces:
    """That the case was too wide to be exact, what stands on average, and how far that can be off."""
    if diagnosis.thinned:
        links = f"{len(diagnosis.thinned.links)} links between causes and their effects count on average"
        points = round(100 * diagnosis.error)
        off = f"right to about {points} points in 100" if points > 1 else "right to about a point in 100"
        yield line(
            f"Too much is tied together to be exact: {links}, those that matter least; {off}.", style=QUIET
        )


def listed_causes(diagnosis: Diagnosis) -> tuple[RankedCause, ...]:
    """Those that can be behind what was found; all while nothing unusual was found."""
    found = diagnosis.causes
    return tuple(cause for cause in found if cause.relevant) or found


def _shown(diagnosis: Diagnosis, limit: int | None) -> tuple[RankedCause, ...]:
    """The first of them, or really all."""
    return diagnosis.causes if limit is None else listed_causes(diagnosis)[:limit]


def _rest(diagnosis: Diagnosis, limit: int | None) -> Pieces:
    """How many are not shown."""
    shown, known = _shown(diagnosis, limit), listed_causes(diagnosis)
    left = len(diagnosis.causes) - len(shown)
    if left:
        behind = len(known) - len(shown)
        can = [f"{behind} more can be behind it"] if behind else []
        cannot = [f"{left - behind} cannot"] if left > behind else []
        yield line(f"{listed(can + cannot)} (diagnose causes --all shows them)", style=QUIET)


def _add(table: Table, rank: str, p: float, words: Text, interval: Interval | None = None) -> None:
    ranges = [between(interval) if interval else ""] if len(table.columns) > 4 else []
    table.add_row(rank, Text(percent(p), STRONG), bar(p), *ranges, words)


def _trust(intervals: Mapping[str, Interval] | None) -> Pieces:
    if intervals:
        words = "Ranges: nine times in ten, as far as the knowledge's numbers can be trusted."
        yield line(words, style=QUIET)


def conflict_line(diagnosis: Diagnosis) -> Pieces:
    """The findings that do not fit with the rest, if they do not."""
    strange = [name for name, _ in diagnosis.conflict.strange[:3]]
    if diagnosis.conflict.bits >= SUSPICIOUS_BITS and strange:
        yield line(f"These do not fit well with the rest; look at them again: {listed(strange)}.", style=WARN)


def _combinations(diagnosis: Diagnosis) -> Pieces:
    """Fault sets, where more than the ranking can be learnt from them."""
    sets = [chosen for chosen in diagnosis.fault_sets[:LIKELY_SETS] if chosen.probability >= 0.01]
    if any(len(chosen.causes) > 1 for chosen in sets):
        table = grid("right", "left")
        for chosen in sets:
            table.add_row(percent(chosen.probability), _together(diagnosis.knowledge, chosen))
        yield titled("Alone or together", table)


def _together(knowledge: Knowledge, chosen: LikelySet) -> str:
    names = [cause_name(knowledge, id) for id in chosen.causes]
    if not names:
        return "none of the leading causes"
    return f"only: {names[0]}" if len(names) == 1 else f"together: {listed(names)}"


def _for_and_against(diagnosis: Diagnosis) -> Pieces:
    """What speaks for and against the leading causes, in decibans."""
    blocks = [block for cause in listed_causes(diagnosis)[:LEADING] for block in _sides(diagnosis, cause)]
    if blocks:
        yield titled("What speaks for and against them (+10 dB = ten times the odds)", *blocks)


def _sides(diagnosis: Diagnosis, cause: RankedCause) -> Pieces:
    told = [reason for reason in reasons(diagnosis, cause) if abs(reason.decibans) >= WORTH_SAYING]
    sides = {
        "for": [f"{r.words} ({r.decibans:+.0f})" for r in told if r.decibans > 0],
        "against": [f"{r.words} ({r.decibans:+.0f})" for r in told if r.decibans < 0],
    }
    if told:
        yield item(str(diagnosis.causes.index(cause) + 1), cause.name)
    for side, words in sides.items():
        if words:
            yield item(f"{side:7}", "; ".join(words[:4]), 2, mark_style=QUIET)


def _repairs(diagnosis: Diagnosis) -> Pieces:
    done = [_repair_words(diagnosis.knowledge, epoch) for epoch in diagnosis.case.epochs[1:]]
    if done:
        yield titled("Repaired so far", *(item(f"{i}", words, 1) for i, words in enumerate(done, 1)))


def _repair_words(knowledge: Knowledge, epoch: Epoch) -> str:
    repairs = [knowledge.repairs[id].name if id in knowledge.repairs else id for id in epoch.repairs]
    return listed(repairs or [cause_name(knowledge, id) for id in epoch.causes])


def _unused(unused: Sequence[str]) -> Pieces:
    if unused:
        more = (
            [f"{len(unused) - MOST_UNUSED} more (diagnose causes --json names all)"]
            if len(unused) > MOST_UNUSED
            else []
        )
        lines = [*unused[:MOST_UNUSED], *more]
        yield titled("Recorded, but not used", *(item("-", words, 1) for words in lines))


def _next_step(diagnosis: Diagnosis) -> str:
    if not diagnosis.evidence:
        return "diagnose note WORDS (nothing is noted yet: what was seen, heard, read?)"
    return "diagnose next (what to check); diagnose why 1 (the reasons for number 1)"


def _opinion(opinion: tuple[int, float] | None) -> Pieces:
    """The second opinion in words: how many causes were asked about, and the largest difference."""
    if opinion:
        words = (
            f"Second opinion by pgmpy on the first {opinion[0]} causes: largest difference {opinion[1]:.1e}."
        )
        yield from (Text(""), line(words))
