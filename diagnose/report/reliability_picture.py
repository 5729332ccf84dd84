"""The reliability diagram as a picture."""

from __future__ import annotations

from collections.abc import Iterator
from math import log10

from diagnose.learning.scores import Tallied
from diagnose.report import svg

WIDTH, SIDE, LEFT, TOP = 530.0, 440.0, 66.0, 34.0
"""Of the picture, of the square of the diagram, and the margins before it."""
BELOW, GAP = 90.0, 18.0  # height of the bars that say how many, and the room above them
CAP = 4.0  # half the width of the ends of a standard error
TICKS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)  # of both axes


def reliability_svg(scores: Tallied, title: str) -> str:
    """What was called against what came true, with twice the standard error, and how many forecasts stand where, on
    a logarithmic scale."""
    shapes = [
        svg.text(LEFT, 20, title, bold=True, size=14),
        *_grid(),
        *_dots(scores),
        *_bars(scores),
        svg.text(LEFT + SIDE / 2, _floor() + 32, "called", "middle"),
    ]
    words = "; ".join(f"called {b.called:.2f}, came true {b.came:.2f} of {b.count:g}" for b in scores.bins)
    height = _floor() + 44
    return svg.drawing(WIDTH, height, title, words, shapes, size=svg.sized(WIDTH, height))


def _floor() -> float:
    return TOP + SIDE + GAP + BELOW


def _at(called: float, came: float) -> tuple[float, float]:
    return LEFT + SIDE * called, TOP + SIDE * (1 - came)


def _grid() -> Iterator[str]:
    for tick in TICKS:
        (x, y), words = _at(tick, tick), f"{tick:.1f}"
        yield svg.line(LEFT, y, LEFT + SIDE, y)
        yield svg.text(LEFT - 6, y + 4, words, "end", svg.FAINT)
        yield svg.text(x, _floor() + 15, words, "middle", svg.FAINT)
    yield svg.line(*_at(0, 0), *_at(1, 1), svg.FAINT)
    yield svg.text(LEFT + 8, TOP + 16, "line: as called; dots: came true (± 2 standard errors)")


def _dots(scores: Tallied) -> Iterator[str]:
    for one in scores.bins:
        x, y = _at(one.called, one.came)
        ends = [_at(0, min(max(one.came + by, 0.0), 1.0))[1] for by in (-2 * one.spread, 2 * one.spread)]
        yield svg.line(x, ends[0], x, ends[1], svg.INK)
        yield from (svg.line(x - CAP, end, x + CAP, end, svg.INK) for end in ends)
        yield svg.dot(x, y, svg.INK)


def _bars(scores: Tallied) -> Iterator[str]:
    """How many forecasts stand in each bin; the tallest is written out."""
    counts = [one.count for one in scores.bins]
    most = max(counts, default=1.0)
    for one in scores.bins:
        height = BELOW * log10(1 + one.count) / log10(1 + most)
        yield svg.box(_at(one.called, 0)[0] - CAP, _floor() - height, 2 * CAP, height, svg.FAINT)
    yield svg.line(LEFT, _floor(), LEFT + SIDE, _floor())
    yield svg.text(LEFT - 6, _floor() - BELOW + 8, f"{most:,.0f}", "end", svg.FAINT)
    yield svg.text(LEFT - 6, _floor() - BELOW / 2 + 4, "how many", "end")
