"""Rules on states, probabilities over them, and bands of readings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from diagnose.errors import Place
from diagnose.knowledge.fields import meant, place_of
from diagnose.knowledge.records import Band, Number
from diagnose.knowledge.rules.base import Found, Survey, leaks, links, rule

Interval = tuple[float, float]


@rule("K023", "sum above one")
def sum_above_one(survey: Survey) -> Iterator[Found]:
    """The probabilities of the states of one record, in a leak or in a row of a link, sum to at most 1;
    the rest is the first state.
    """
    rows = (row for _, link in links(survey.knowledge) for row in link.strengths)
    for row in (*leaks(survey.knowledge), *rows):
        total = sum(number.value for number in row)
        if total > 1 + 1e-9:
            yield Found(_place(row), f"the probabilities of the states sum to {total:g}, more than 1")


def _place(row: Iterable[Number]) -> Place:
    return min(number.place for number in row if number.value > 0)


@rule("K033", "unknown state in a band")
def band_state(survey: Survey) -> Iterator[Found]:
    """A band of a reading names a state of its finding."""
    for finding in survey.knowledge.findings.values():
        for band in finding.reading.bands if finding.reading else ():
            if band.state not in finding.states:
                place = place_of(band.state, finding.place)
                yield Found(place, f"there is no state `{band.state}`", meant(band.state, finding.states))


@rule("K034", "band out of reach")
def band_out_of_reach(survey: Survey) -> Iterator[Found]:
    """Bands are tried in order: a band must have a limit, hold some value, and not lie wholly inside the
    bands before it. Put the narrowest first.
    """
    for finding in survey.knowledge.findings.values():
        earlier: list[Interval] = []
        for band in finding.reading.bands if finding.reading else ():
            span = _span(band)
            if why := _out_of_reach(span, earlier):
                yield Found(place_of(band.state, finding.place), f"the band `{band.state}` {why}")
            earlier.append(span)


def _span(band: Band) -> Interval:
    low = -math.inf if band.above is None else band.above
    return low, math.inf if band.below is None else band.below


def _out_of_reach(span: Interval, earlier: Iterable[Interval]) -> str:
    if span == (-math.inf, math.inf):
        return "has neither below nor above"
    if span[0] >= span[1]:
        return f"holds no value: above {span[0]:g} and below {span[1]:g}"
    return "is never reached: the bands before it take every value" if _covered(span, earlier) else ""


def _covered(span: Interval, intervals: Iterable[Interval]) -> bool:
    reached = span[0]
    for low, high in sorted(intervals):
        if low <= reached:
            reached = max(reached, high)
    return reached >= span[1]
