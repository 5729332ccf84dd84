"""Rules on states, probabilities over them, and bands of readings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from diagnose.errors import CallError, Place
from diagnose.forms.fields import meant, place_of
from diagnose.knowledge.bands import Band, Fits, Given, Reading
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.knowledge.rules.base import Survey, Violation, leaks, links, rule
from diagnose.words.units import parse_unit

Interval = tuple[float, float]


@rule("K023", "sum above one")
def sum_above_one(survey: Survey) -> Iterator[Violation]:
    """The probabilities of the states of one record, in a leak or in a row of a link, sum to at most 1;
    the rest is the first state.
    """
    rows = (row for _, link in links(survey.knowledge) for row in link.strengths)
    for row in (*leaks(survey.knowledge), *rows):
        total = sum(number.value for number in row)
        if total > 1 + 1e-9:
            yield Violation(_place(row), f"the probabilities of the states sum to {total:g}, more than 1")


def _place(row: Iterable[Number]) -> Place:
    return min(number.place for number in row if number.value > 0)


@rule("K033", "unknown state in a band")
def band_state(survey: Survey) -> Iterator[Violation]:
    """A band of a reading, also of an alternative, names a state of its finding."""
    for finding, bands in _bands(survey.knowledge):
        for band in bands:
            if band.state not in finding.states:
                place = place_of(band.state, finding.place)
                yield Violation(place, f"there is no state `{band.state}`", meant(band.state, finding.states))


@rule("K034", "band out of reach")
def band_out_of_reach(survey: Survey) -> Iterator[Violation]:
    """Bands are tried in order: a band must have a limit, hold some value, and not lie wholly inside the
    bands before it. Put the narrowest first. The bands of each alternative stand for themselves.
    """
    for finding, bands in _bands(survey.knowledge):
        earlier: list[Interval] = []
        for band in bands:
            span = _span(band)
            if why := _out_of_reach(span, earlier):
                yield Violation(place_of(band.state, finding.place), f"the band `{band.state}` {why}")
            earlier.append(span)


@rule("K037", "unit not known")
def unknown_unit(survey: Survey) -> Iterator[Violation]:
    """The unit of a reading is a unit that the program can convert; so is that of another reading on which limits
    depend, and it has the dimension in which that quantity is measured elsewhere.
    """
    dimensions: dict[str, str] = {}
    for one in _measured_as(survey.knowledge):
        try:
            unit = parse_unit(one.unit)
        except CallError as error:
            yield Violation(place_of(one.unit, one.place), str(error))
            continue
        wanted = dimensions.setdefault(one.quantity, unit.dimension)
        if unit.dimension != wanted:
            message = (
                f"`{one.unit}` is a {unit.dimension}; `{one.quantity}` is measured elsewhere as a {wanted}"
            )
            yield Violation(place_of(one.unit, one.place), message)


@rule("K038", "alternative without condition")
def alternative_out_of_place(survey: Survey) -> Iterator[Violation]:
    """An alternative of `where` says where it holds: machine facts, another reading with a limit, or both; without
    them the plain `bands` do. `below` and `above`, in `given` and in `fits`, leave some value between them.
    """
    for reading in _readings(survey.knowledge):
        for one in reading.where:
            if not one.facts and one.given is None:
                hint = "write facts or given; what holds otherwise stands in the plain bands"
                yield Violation(one.place, "this alternative does not say where it holds", hint)
        given = [one.given for one in reading.where if one.given]
        limited: list[Given | Fits] = [*given, *reading.fits]
        for other in limited:
            if why := _no_range(other.below, other.above):
                yield Violation(other.place, f"this {why}", "write below, above or both")


def _no_range(below: float | None, above: float | None) -> str:
    return _out_of_reach(_interval(below, above), ())


def _readings(knowledge: Knowledge) -> Iterator[Reading]:
    yield from (finding.reading for finding in knowledge.findings.values() if finding.reading)


def _measured_as(knowledge: Knowledge) -> Iterator[Reading | Given]:
    yield from _readings(knowledge)
    yield from (one.given for reading in _readings(knowledge) for one in reading.where if one.given)


def _bands(knowledge: Knowledge) -> Iterator[tuple[Finding, tuple[Band, ...]]]:
    for finding in knowledge.findings.values():
        for bands in finding.reading.all_bands if finding.reading else ():
            yield finding, bands


def _span(band: Band) -> Interval:
    return _interval(band.below, band.above)


def _interval(below: float | None, above: float | None) -> Interval:
    return (-math.inf if above is None else above), (math.inf if below is None else below)


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
