"""The drawings of a report: how the causes' probabilities moved, the cost so far, evidence for and against."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from diagnose.report import svg
from diagnose.report.document.case_record import Argument, CaseReport, Trace
from diagnose.report.document.record_words import likelihood
from diagnose.report.screen_words import listed, percent

WIDTH = 640.0  # of a drawing, in its own units: the width of the page
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#8B5A9F", "#7A6A00")
"""Told apart by the colour-blind as well (after Okabe and Ito 2008, darkened for print); dashes tell them apart in
grey."""
DASHES = ("", "7 3", "2 3", "9 3 2 3", "4 2")
LABOUR, PARTS = "#4C7EA8", "#E0A458"
FOR, AGAINST = "#3B7A57", "#B5533C"
RANGES = (
    (0.9, 1.0, "very likely"),
    (0.66, 0.9, "likely"),
    (0.33, 0.66, "as likely as not"),
    (0.1, 0.33, "unlikely"),
)
"""The customer's axis: from where to where a word is used (the scale of `likelihood`)."""
_Down = Callable[[float], float]
MOST_REASONS = 6  # bars on a side: legible on half a page
TELLING = 0.5  # decibans below which a reason is no bar: 12 % of the odds
_LEFT, _RIGHT, _TOP, _BOTTOM = 86.0, 196.0, 14.0, 34.0
"""Margins: room for the numbers, for the names at the lines, for words above and below."""


def traces_words(report: CaseReport, plain: bool) -> str:
    """What the traces show, in a sentence each; `plain`: words instead of figures."""
    said = likelihood if plain else percent
    return " ".join(_trace_words(one, report.story.moments, said) for one in report.story.traces)


def _trace_words(one: Trace, moments: Sequence[int], said: Callable[[float], str]) -> str:
    """Its first, its highest where that says more, and its last probability."""
    first, highest, last = one.values[0], max(one.values), one.values[-1]
    step = moments[one.values.index(highest)]
    between = f", {said(highest)} after step {step}" if said(highest) not in (said(first), said(last)) else ""
    done = f", dealt with in step {one.repaired}" if one.repaired else ""
    return f"{one.name}: {said(first)} at first{between}{done}, {said(last)} now."


def traces_picture(report: CaseReport, plain: bool) -> str:
    """Probability of the leading causes after each step; `plain`: words instead of figures at the side."""
    story = report.story
    height = 300.0
    right, bottom = WIDTH - _RIGHT, height - _BOTTOM
    xs = _across(story.moments, _LEFT + 8, right)
    repairs = [work.step for work in report.works]

    def down(p: float) -> float:
        return bottom - p * (bottom - _TOP)

    shapes = [
        *_sides(down, right, plain),
        *_steps(story.moments, xs, bottom, repairs),
        *_lines(story.traces, xs, down, right),
        svg.text((_LEFT + right) / 2, height - 4, "step", "middle", svg.FAINT),
    ]
    title = "How the leading causes' probabilities moved, step by step"
    return svg.drawing(WIDTH, height, title, traces_words(report, plain), shapes)


def _across(moments: Sequence[int], left: float, right: float) -> list[float]:
    gaps = max(len(moments) - 1, 1)
    return [left + (right - left) * i / gaps for i in range(len(moments))]


def _sides(down: _Down, right: float, plain: bool) -> Iterator[str]:
    """Lines across with what they stand for: per cents, or words between them."""
    for p in (0.0, *(low for low, _, _ in RANGES), 1.0) if plain else (0.0, 0.25, 0.5, 0.75, 1.0):
        yield svg.line(_LEFT, down(p), right, down(p))
    named = [((low + high) / 2, words) for low, high, words in RANGES]
    for p, words in named if plain else [(p / 100, f"{p} %") for p in (0, 25, 50, 75, 100)]:
        yield svg.text(_LEFT - 6, down(p) + 4, words, "end", svg.FAINT)


def _steps(
    moments: Sequence[int], xs: Sequence[float], bottom: float, repairs: Sequence[int]
) -> Iterator[str]:
    """The numbers of the steps below, and a line at each repair."""
    every = -(-len(moments) // 24)
    for place, (number, x) in enumerate(zip(moments, xs, strict=True)):
        if number in repairs:
            yield svg.line(x, _TOP, x, bottom, svg.FAINT, "4 3")
            yield svg.text(x, _TOP - 3, "repair", "middle", svg.FAINT)
        if place % every == 0:
            yield svg.text(x, bottom + 15, str(number) if number else "start", "middle", svg.FAINT)


def _lines(traces: Sequence[Trace], xs: Sequence[float], down: _Down, right: float) -> Iterator[str]:
    """Each cause with its name at the end of its line."""
    names = svg.spread([down(one.values[-1]) for one in traces], 27, _TOP + 8, down(0))
    for one, colour, dash, place in zip(traces, COLOURS, DASHES, names, strict=False):
        ys = [down(p) for p in one.values]
        yield svg.path(list(zip(xs, ys, strict=True)), colour, dash)
        yield from (svg.dot(x, y, colour) for x, y in zip(xs, ys, strict=True))
        yield svg.line(right + 4, ys[-1], right + 16, place - 2, colour)
        for row, words in enumerate(svg.wrapped(one.name, 30)):
            yield svg.text(right + 19, place + 12 * row, words, fill=colour)


def costs_words(report: CaseReport) -> str:
    """What the picture of the costs shows."""
    total = report.total
    return (
        f"In all {total.labour:,.0f} {report.currency} labour and {total.parts:,.0f} {report.currency} parts."
    )


def costs_picture(report: CaseReport) -> str:
    """Labour and parts added up over the steps."""
    height, last = 220.0, len(report.story.steps)
    right, bottom = WIDTH - _RIGHT, height - _BOTTOM
    labour, both = _sums(report)
    step = nice(both[-1] / 3)
    top = step * max(math.ceil(both[-1] / step), 1)
    marks = [step * n for n in range(round(top / step) + 1)]

    def across(step: float) -> float:
        return _LEFT + (right - _LEFT) * step / max(last, 1)

    def down(sum: float) -> float:
        return bottom - sum / top * (bottom - _TOP)

    every = -(-last // 24)
    shapes = [
        *(svg.line(_LEFT, down(sum), right, down(sum)) for sum in marks),
        *(svg.text(_LEFT - 6, down(sum) + 4, f"{sum:,.0f}", "end", svg.FAINT) for sum in marks),
        svg.area(_stairs(both, across, down, bottom), PARTS),
        svg.area(_stairs(labour, across, down, bottom), LABOUR),
        *(
            svg.text(across(n), bottom + 15, str(n), "middle", svg.FAINT)
            for n in range(1, last + 1)
            if n % every == 0
        ),
        svg.text((_LEFT + right) / 2, height - 4, "step", "middle", svg.FAINT),
        *_ends(report, labour[-1], both[-1], down, right),
    ]
    return svg.drawing(WIDTH, height, "Cost so far", costs_words(report), shapes)


def nice(amount: float) -> float:
    """The first of 1, 2, 5, 10, 20, ... that is not less; at least 1."""
    power = 10.0 ** math.floor(math.log10(max(amount, 1.0)))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= min(amount, 10 * power))


def _sums(report: CaseReport) -> tuple[list[float], list[float]]:
    """Labour alone, and labour with parts, added up after each step from 0."""
    by_step = {line.step: line.money for line in report.spent if line.recorded}
    labour, both = [0.0], [0.0]
    for step in report.story.steps:
        money = by_step.get(step.number)
        labour.append(labour[-1] + (money.labour if money else 0.0))
        both.append(both[-1] + (money.bill if money else 0.0))
    return labour, both


def _stairs(sums: Sequence[float], across: _Down, down: _Down, bottom: float) -> list[tuple[float, float]]:
    """The outline of a sum that stands until the next step adds to it."""
    points = [(across(0), bottom)]
    for step, (before, after) in enumerate(pairwise(sums), 1):
        points += [(across(step - 0.5), down(before)), (across(step - 0.5), down(after))]
    return [*points, (across(len(sums) - 1), down(sums[-1])), (across(len(sums) - 1), bottom)]


def _ends(report: CaseReport, labour: float, both: float, down: _Down, right: float) -> Iterator[str]:
    sums = [(both, f"in all {both:,.0f} {report.currency}", svg.INK)]
    sums += (
        [((both + labour) / 2, f"parts {both - labour:,.0f} {report.currency}", "#9A6416")]
        if both > labour
        else []
    )
    sums += [(labour / 2, f"labour {labour:,.0f} {report.currency}", LABOUR)] if labour else []
    places = svg.spread([down(sum) for sum, _, _ in sums], 15, _TOP, down(0))
    for place, (sum, words, colour) in zip(places, sums, strict=True):
        yield svg.text(right + 8, place + 4, words, fill=colour, bold=sum == both)


def argument_words(argument: Argument) -> str:
    """What speaks for and against a cause, in a sentence."""
    told = [reason for reason in argument.reasons if abs(reason.decibans) >= TELLING][:MOST_REASONS]
    sides = [
        (side, listed(f"{r.words} ({r.decibans:+.0f})" for r in told if (r.decibans > 0) == (side == "for")))
        for side in ("for", "against")
    ]
    said = ". ".join(f"Speaks {side} it: {words}" for side, words in sides if words)
    return f"{said or 'Nothing found says more'}."


def argument_picture(argument: Argument, scale: float) -> str:
    """One bar for each finding, to the right where it speaks for the cause; `scale`: decibans at the edge."""
    told = [reason for reason in argument.reasons if abs(reason.decibans) >= TELLING][:MOST_REASONS]
    middle, half, row = 465.0, 125.0, 30.0
    height = row * len(told) + 26
    shapes = [svg.line(middle, 4, middle, height - 20, svg.FAINT)]
    for place, reason in enumerate(told):
        y, length = 4 + row * place, half * min(abs(reason.decibans) / scale, 1)
        side = 1 if reason.decibans > 0 else -1
        shapes.append(
            svg.box(middle if side > 0 else middle - length, y + 6, length, 16, FOR if side > 0 else AGAINST)
        )
        shapes.append(
            svg.text(
                middle + side * (length + 5),
                y + 18,
                f"{reason.decibans:+.0f}",
                "start" if side > 0 else "end",
            )
        )
        lines = svg.wrapped(reason.words, 52)
        first = y + 18 - 6 * (len(lines) - 1)
        shapes += [svg.text(0, first + 12 * n, words) for n, words in enumerate(lines)]
    shapes.append(svg.text(middle - 6, height - 6, "against", "end", AGAINST))
    shapes.append(svg.text(middle + 6, height - 6, "for", "start", FOR))
    return svg.drawing(
        WIDTH, height, f"For and against: {argument.cause.name}", argument_words(argument), shapes
    )
