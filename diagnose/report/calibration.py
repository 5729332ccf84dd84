"""The screen of the calibration: whether what was called of closed cases came true."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.knowledge.records import Knowledge
from diagnose.learning.calibrate import Block, Calibration, Judged
from diagnose.learning.scores import Tallied
from diagnose.report.data import Json
from diagnose.report.lessons import CASES_SHOWN, HOW_TO_CLOSE, fine_percent, name_of
from diagnose.report.screen_words import bar, count, listed, percent
from diagnose.report.text import QUIET, STRONG, Pieces, foot, grid, item, line, titled


def calibration_data(calibration: Calibration) -> Json:
    """Whether the program was right, as plain values."""
    return {
        "closed": calibration.closed,
        "cases": calibration.cases,
        "first": calibration.first,
        "first_three": calibration.first_three,
        "all_causes": _scores_data(calibration.scores),
        "leading_cause": _scores_data(calibration.leading),
        "blocks": [asdict(one) | {"drifted": one.drifted} for one in calibration.blocks],
        "surprises": [_judged_data(one) for one in calibration.surprises],
        "impossible": list(calibration.impossible),
    }


def _scores_data(scores: Tallied) -> Json:
    murphy = scores.murphy
    return {
        "forecasts": scores.total,
        "brier": scores.brier,
        "log_score": scores.log_score,
        "reliability": murphy.reliability,
        "resolution": murphy.resolution,
        "uncertainty": murphy.uncertainty,
        "within_bins": murphy.within,
        "calibration_error": scores.calibration_error,
        "bins": [asdict(one) | {"standard_error": one.spread} for one in scores.bins],
    }


def _judged_data(judged: Judged) -> Json:
    return {
        "case": judged.case,
        "when": judged.when,
        "leading": judged.leading,
        "called": judged.called,
        "was": judged.missed,
        "probability": judged.probability,
        "bits": judged.surprise,
    }


def calibration_screen(knowledge: Knowledge, calibration: Calibration) -> RenderableType:
    """Whether what was called came true."""
    if not calibration.cases:
        return Group(
            line("No closed case is certain enough: proven, or confirmed by sight."), *foot(HOW_TO_CLOSE)
        )
    return Group(
        *_judged(calibration),
        titled("Of the leading cause: called, and how often it was there", _diagram(calibration.leading)),
        titled("Of every cause that could be behind the findings", _diagram(calibration.scores)),
        *_parts(calibration.scores),
        *_blocks(calibration.blocks),
        *_surprises(knowledge, calibration.surprises),
        *foot("diagnose learn (what the cases change), diagnose cases NUMBER (one of them)"),
    )


def _judged(calibration: Calibration) -> Pieces:
    share = (
        ""
        if calibration.cases == calibration.closed
        else f" of {calibration.closed}, evenly spread (--all: all)"
    )
    yield line(f"{count(calibration.cases, 'closed case')}{share}", style=STRONG)
    yield line(
        f"What it was stood first in {percent(calibration.first)} of them, among the first three in "
        f"{percent(calibration.first_three)}.",
    )
    if calibration.impossible:
        cases = listed(calibration.impossible[:CASES_SHOWN])
        yield line(f"{count(len(calibration.impossible), 'case')} impossible by the knowledge: {cases}")


def _diagram(scores: Tallied) -> RenderableType:
    """The reliability diagram in letters."""
    table = grid("right", "left", "right", "left", "right", "left")
    table.add_row(*(Text(word, QUIET) for word in ("called", "", "came true", "", "of", "")))
    for one in scores.bins:
        off = abs(one.came - one.called) > 2 * one.spread
        mark = ("too bold" if one.came < one.called else "too timid") if off and one.count >= 10 else ""
        called, came = fine_percent(one.called), fine_percent(one.came)
        table.add_row(called, bar(one.called), came, bar(one.came), str(one.count), mark)
    return table


def _parts(scores: Tallied) -> Pieces:
    murphy = scores.murphy
    table = grid("right", "left")
    for value, words in (
        (murphy.score, "Brier score (0 is best)"),
        (murphy.reliability, "of it: called otherwise than it came (reliability, 0 is best)"),
        (-murphy.resolution, "less: told apart what differs (resolution)"),
        (murphy.uncertainty, "what always calling the average would score (uncertainty)"),
        (murphy.within, "differences within a row above"),
        (scores.log_score, "logarithmic score, nats (0 is best)"),
    ):
        table.add_row(f"{value:+.4f}" if words.startswith(("less", "diff")) else f"{value:.4f}", words)
    yield titled("In one number", table)


def _blocks(blocks: Sequence[Block]) -> Pieces:
    if len(blocks) < 2:
        return
    table = grid("left", "right", "right", "right", "right", "left")
    table.add_row(*(Text(word, QUIET) for word in ("", "cases", "called", "was there", "surprise", "")))
    for one in blocks:
        mark = (
            ("less right than called" if one.drift < 0 else "more right than called") if one.drifted else ""
        )
        table.add_row(
            one.when,
            str(one.cases),
            percent(one.called),
            percent(one.right),
            f"{one.surprise:.1f} bits",
            mark,
        )
    yield titled("Over time, the leading cause", table)


def _surprises(knowledge: Knowledge, surprises: Iterable[Judged]) -> Iterator[RenderableType]:
    pieces = [
        item(
            f"case {one.case}",
            f"was {name_of(knowledge, one.missed)}, called {fine_percent(one.probability)}; first stood "
            f"{name_of(knowledge, one.leading)}, {percent(one.called)}",
            2,
        )
        for one in list(surprises)[:CASES_SHOWN]
    ]
    if pieces:
        yield titled("The most surprising cases", *pieces)
