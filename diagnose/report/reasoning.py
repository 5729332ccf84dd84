"""The screen that explains one cause."""

from __future__ import annotations

import math

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.diagnosis import Diagnosis
from diagnose.explaining.explanation import Explanation
from diagnose.explaining.mistaken import Rival
from diagnose.explaining.reasons import WORTH_SAYING, Reason
from diagnose.explaining.settling import Telling
from diagnose.explaining.turning import FARTHEST, Turn
from diagnose.knowledge.records import Knowledge
from diagnose.report.checklist import how_to_record
from diagnose.report.number_words import basis_words, number_words
from diagnose.report.ranking import conflict_line
from diagnose.report.screen_words import (
    bar,
    between,
    in_decibans,
    listed,
    minutes,
    percent,
    times,
    weight,
    yes_or_no,
)
from diagnose.report.text import QUIET, STRONG, Pieces, cause_name, foot, grid, head, item, line, titled


def why_screen(diagnosis: Diagnosis, told: Explanation) -> RenderableType:
    """The explanation of a cause with the case it belongs to, and what to do next."""
    check = told.tests[0].question.check.id if told.tests else ""
    step = how_to_record(check) if check else "diagnose next"
    return Group(*head(diagnosis.knowledge, diagnosis.case), Text(""), why_body(diagnosis, told), *foot(step))


def why_body(diagnosis: Diagnosis, told: Explanation) -> RenderableType:
    """From before anything was seen to now, by which findings; what would settle, cure and change it."""
    knowledge = diagnosis.knowledge
    return Group(
        item(f"{told.rank}", told.cause.name, style=STRONG),
        line(told.about, 2, QUIET),
        item(bar(told.cause.probability), _then_and_now(told), 2),
        *conflict_line(diagnosis),
        *_story(told),
        *_reasons(told.reasons),
        *_codes(diagnosis, told),
        *_best(knowledge, told),
        *_wrecked(knowledge, told),
        *_rivals(told),
        *_effects(told),
        *_tests(knowledge, told),
        *_repairs(told),
        *_turns(diagnosis, told),
    )


def _then_and_now(told: Explanation) -> str:
    now, before = percent(told.cause.probability), percent(told.before)
    ranges = between(told.doubt.interval) if told.doubt else now
    trust = "" if ranges == now else f" ({ranges}, as far as the numbers can be trusted)"
    return f"{now} now{trust}; {before} before anything was seen on this machine"


def _story(told: Explanation) -> Pieces:
    """How the findings moved it, if they did; of one alone the weight is told below."""
    if len(told.story) < 2 or all(abs(step.decibans) < WORTH_SAYING for step in told.story):
        return
    table = grid("right", "right", "left")
    table.add_row("", percent(told.before), Text("before anything was seen", QUIET))
    for step in told.story:
        table.add_row(in_decibans(step.decibans), percent(step.after), step.words)
    together = sum(step.decibans for step in told.story)
    table.add_row(in_decibans(together), percent(told.cause.probability), Text("all together", QUIET))
    yield titled("How it moved, in the order noted (10 dB = ten times the odds)", table)


def _reasons(reasons: tuple[Reason, ...]) -> Pieces:
    table = grid("left", "left")
    for reason in (r for r in reasons if abs(r.decibans) >= WORTH_SAYING):
        table.add_row(weight(reason.decibans), reason.words)
    silent = sum(abs(r.decibans) < WORTH_SAYING for r in reasons)
    yield titled("What speaks for and against it, given the rest (10 dB = ten times the odds)", table)
    if not reasons:
        yield line("Nothing is noted yet.", 2)
    elif silent:
        yield line(f"{silent} more noted, which say nothing more about it.", 0, QUIET)


def _codes(diagnosis: Diagnosis, told: Explanation) -> Pieces:
    """Which codes it explains; said only where there are several."""
    codes = told.codes
    if len(codes.seen) < 2:
        return
    names = {code.place: diagnosis.evidence[code.place].name for code in codes.seen}
    rest = [names[code.place] for code in codes.seen if not code.explained]
    blocks = [item("-", f"{names[code.place]}: {weight(code.decibans)}", 1) for code in codes.explained]
    if len(blocks) > 1:
        blocks.append(line(f"together: {weight(codes.together)}", 3))
    if rest:
        blocks.append(line(f"Not explained by it: {listed(rest)}", 1))
    title = f"It explains {len(codes.explained)} of {len(codes.seen)} codes (each at least twice as likely with it)"
    yield titled(title, *blocks)


def _best(knowledge: Knowledge, told: Explanation) -> Pieces:
    blocks = [
        item(
            "-",
            f"{_together(knowledge, one.causes)}: {times(one.factor)} as likely to find all this with it",
            1,
        )
        for one in told.best
    ]
    if blocks:
        yield titled("What explains everything found best", *blocks)


def _together(knowledge: Knowledge, causes: tuple[str, ...]) -> str:
    names = listed(cause_name(knowledge, id) for id in causes)
    return f"{names} together" if len(causes) > 1 else names


def _wrecked(knowledge: Knowledge, told: Explanation) -> Pieces:
    by = told.cause.wrecked_by
    if by:
        yield titled("Most likely wrecked by", line(cause_name(knowledge, by), 2))
    others = [cause_name(knowledge, id) for id in told.brought_about_by if id != by]
    if others:
        yield titled(
            "Could also have been brought about by" if by else "Can be brought about by",
            line(listed(others, "or"), 2),
        )


def _rivals(told: Explanation) -> Pieces:
    """What looks like it at first, and what tells them apart."""
    blocks = [
        item("-", f"{one.cause.name} ({percent(one.cause.probability)}){_apart(one)}", 1)
        for one in told.rivals
    ]
    if blocks:
        yield titled("What it is often mistaken for", *blocks)


def _apart(rival: Rival) -> str:
    return f"; told apart by {rival.apart.check.name}, id {rival.apart.check.id}" if rival.apart else ""


def _effects(told: Explanation) -> Pieces:
    table = grid("right", "left")
    for effect in sorted(told.effects, key=lambda effect: -effect.strength):
        table.add_row(percent(effect.strength), effect.name)
    if told.effects:
        yield titled("What it leads to, and how often", table)


def _tests(knowledge: Knowledge, told: Explanation) -> Pieces:
    if told.tests:
        blocks = (piece for test in told.tests for piece in _test(knowledge, test))
        yield titled("What would confirm it or rule it out", *blocks)


def _test(knowledge: Knowledge, test: Telling) -> Pieces:
    check, finding = test.question.check, knowledge.findings[test.question.finding]
    yield item("-", f"{check.name} ({minutes(test.question.minutes)}), id {check.id}")
    answers = ", ".join(f"{yes_or_no(finding, a.state)} -> {percent(a.after)}" for a in test.answers)
    yield item("  ", f"{finding.name}? {answers}")


def _repairs(told: Explanation) -> Pieces:
    blocks: list[RenderableType] = []
    for repair, cures in told.repairs:
        blocks.append(item("-", f"{repair.name} (cures it in {percent(cures)}), id {repair.id}"))
        blocks += [item("prove it:", step, 3, mark_style=QUIET) for step in repair.verify]
    if blocks:
        yield titled("What cures it", *blocks)


def _turns(diagnosis: Diagnosis, told: Explanation) -> Pieces:
    """The numbers of the knowledge that, a little different, would change whether it is first."""
    if told.doubt is None:
        return
    lead = "take the first place from it" if told.rank == 1 else "put it first"
    blocks = [piece for turn in told.doubt.turns for piece in _turn(diagnosis, told, turn)]
    if blocks:
        yield titled(f"What would {lead}: one number of the knowledge, changed", *blocks)
    elif told.cause.relevant:
        most = f"{math.exp(FARTHEST):.0f}"
        words = f"No number of the knowledge alone would {lead}, its odds changed up to {most} times."
        yield from (Text(""), line(words, style=QUIET))


def _turn(diagnosis: Diagnosis, told: Explanation, turn: Turn) -> Pieces:
    number = turn.number
    yield item(
        "-",
        f"{number_words(diagnosis, turn.row, turn.item)}: {turn.value:.3g} instead of {number.value:g}",
        1,
    )
    if turn.first != told.cause.id:
        yield line(f"then first: {cause_name(diagnosis.knowledge, turn.first)}", 3)
    doubt = "it may well be so" if turn.within_doubt else "more than it is thought to be off"
    yield line(f"{doubt} ({basis_words(number)})", 3, QUIET)
