"""The screen that explains one cause."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Knowledge
from diagnose.report.explain import WORTH_SAYING, Explanation, Reason, Test
from diagnose.report.text import QUIET, STRONG, Pieces, cause_name, foot, grid, head, item, line, titled
from diagnose.report.words import bar, listed, minutes, percent, weight


def why_screen(diagnosis: Diagnosis, told: Explanation) -> RenderableType:
    """The explanation of a cause with the case it belongs to, and what to do next."""
    step = f"diagnose note WORDS --check {told.tests[0].check}" if told.tests else "diagnose next"
    return Group(
        *head(diagnosis.knowledge, diagnosis.case), Text(""), why_body(diagnosis.knowledge, told), *foot(step)
    )


def why_body(knowledge: Knowledge, told: Explanation) -> RenderableType:
    """From before anything was seen to now, by which findings; and what would settle and cure it."""
    return Group(
        item(f"{told.rank}", told.cause.name, style=STRONG),
        line(told.about, 2, QUIET),
        item(bar(told.cause.probability), _then_and_now(told), 2),
        *_reasons(told.reasons),
        *_wrecked(knowledge, told),
        *_effects(told),
        *_tests(told),
        *_repairs(told),
    )


def _then_and_now(told: Explanation) -> str:
    now, before = percent(told.cause.probability), percent(told.before)
    return f"{now} now; {before} before anything was seen on this machine"


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


def _effects(told: Explanation) -> Pieces:
    table = grid("right", "left")
    for effect in sorted(told.effects, key=lambda effect: -effect.strength):
        table.add_row(percent(effect.strength), effect.name)
    if told.effects:
        yield titled("What it leads to, and how often", table)


def _tests(told: Explanation) -> Pieces:
    if told.tests:
        blocks = (piece for test in told.tests for piece in _test(test))
        yield titled("What would confirm it or rule it out", *blocks)


def _test(test: Test) -> Pieces:
    yield item("-", f"{test.name} ({minutes(test.minutes)}), id {test.check}")
    answers = ", ".join(f"{a.words} -> {percent(a.after)}" for a in test.answers)
    yield item("  ", f"{test.asks}? {answers}")


def _repairs(told: Explanation) -> Pieces:
    blocks: list[RenderableType] = []
    for repair, cures in told.repairs:
        blocks.append(item("-", f"{repair.name} (cures it in {percent(cures)}), id {repair.id}"))
        blocks += [item("prove it:", step, 3, mark_style=QUIET) for step in repair.verify]
    if blocks:
        yield titled("What cures it", *blocks)
