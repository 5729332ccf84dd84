"""Which limits of a reading hold: they follow the machine's facts and what else was measured."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from diagnose.errors import CallError
from diagnose.knowledge.bands import Band, ConditionalBands, Given, Reading
from diagnose.knowledge.records import Finding
from diagnose.words.normal import normalise
from diagnose.words.quantity import Quantity
from diagnose.words.units import Unit, convert, parse_unit

Others = Mapping[tuple[str, ...], Quantity]
"""The latest value of other quantities, by their normalised names."""


def facts_of(readings: Iterable[Reading]) -> tuple[str, ...]:
    """The machine facts that the limits, or what the value fits, depend on."""
    return tuple(dict.fromkeys(fact for reading in readings for fact in _facts(reading)))


def _facts(reading: Reading) -> Iterator[str]:
    yield from (one.fact for one in reading.fits)
    yield from (one.fact for one in reading.scale)
    yield from (needed.fact for one in reading.where for needed in one.facts)


def depends(reading: Reading) -> bool:
    """Whether the limits depend on anything."""
    return bool(reading.scale or reading.where or reading.fits)


def state(finding: Finding, value: float, facts: Mapping[str, str], others: Others) -> str:
    """The state that a value in the reading's unit stands for; a fact that is not given holds no alternative."""
    assert finding.reading is not None
    return _in_bands(finding, value, bands(finding.reading, facts, others))


def bands(reading: Reading, facts: Mapping[str, str], others: Others) -> tuple[Band, ...]:
    """The bands that hold on this machine, scaled."""
    held = (one.bands for one in reading.where if _applies(one, facts) and _is_given(one.given, others))
    return _scaled(next(held, reading.bands), _factor(reading, facts))


def would_change(finding: Finding, value: float, facts: Mapping[str, str], others: Others) -> Iterator[Given]:
    """What was not measured, and would give another state if it were so."""
    reading = finding.reading
    assert reading is not None
    now = state(finding, value, facts, others)
    factor = _factor(reading, facts)
    for one in reading.where:
        unknown = one.given and normalise(one.given.quantity) not in others and _applies(one, facts)
        if one.given and unknown and _in_bands(finding, value, _scaled(one.bands, factor)) != now:
            yield one.given


def limits(reading: Reading) -> frozenset[float]:
    """Every limit that can hold, in the reading's unit."""
    factors = {1.0, *(one.factor for one in reading.scale)}
    scaled = {_nine_figures(limit * factor) for limit in _plain_limits(reading) for factor in factors}
    spans = (limit for one in reading.fits for limit in (one.below, one.above) if limit is not None)
    return frozenset({*scaled, *spans})


def _plain_limits(reading: Reading) -> Iterator[float]:
    for held in reading.all_bands:
        yield from (limit for one in held for limit in (one.below, one.above) if limit is not None)


def fits(reading: Reading, value: float, facts: Mapping[str, str]) -> bool:
    """Whether a machine with these facts can show the value."""
    return all(
        within(value, one.below, one.above) for one in reading.fits if facts.get(one.fact) == one.value
    )


def within(value: float, below: float | None, above: float | None) -> bool:
    """Strictly below and strictly above, where these are limits."""
    return (below is None or value < below) and (above is None or value > above)


def in_unit(quantity: Quantity, unit: str, name: str) -> float:
    """The value in a unit, rounded to what a conversion can carry.

    Raises CallError for a bare number, another dimension, and absolute against gauge pressure.
    """
    wanted = parse_unit(unit)
    if not quantity.unit:
        raise CallError(f"{quantity} has no unit: {name} is wanted in {unit} or alike")
    given = as_wanted(parse_unit(quantity.unit), wanted)
    if given.dimension != wanted.dimension:
        raise CallError(f"{quantity} is a {given.dimension}: {name} is wanted in {unit} or alike")
    if (quantity.reference == "absolute") != (wanted.reference == "absolute"):
        raise CallError(
            f"{name} is wanted as {wanted.reference or 'gauge'} pressure: the two differ by the "
            "barometer, about 101 kPa (14.7 psi) at sea level and less higher up. Write the value in "
            f"{wanted.name} {wanted.reference or 'gauge'}"
        )
    return _nine_figures(convert(quantity.value, given.name, wanted.name))


def as_wanted(given: Unit, wanted: Unit) -> Unit:
    """A difference of temperatures is also written in plain degrees."""
    if wanted.dimension == "temperature difference" and given.dimension == "temperature":
        return parse_unit(f"delta_{given.name}")
    return given


def limit_words(reading: Reading, facts: Mapping[str, str]) -> tuple[str, ...]:
    """The limits that can hold where these facts are known: `low below 9.6 V`, `24 V: low below 19.2 V`."""
    factors = dict(_factors(reading, facts))
    return tuple(
        ": ".join(
            filter(None, (", ".join(filter(None, (where, scaled))), _band_words(reading, held, factor)))
        )
        for where, held in _possible(reading, facts)
        for scaled, factor in factors.items()
    )


def span_words(below: float | None, above: float | None, unit: str) -> str:
    """`above 4 V and below 6 V`."""
    above_words = f"above {above:g} {unit}" if above is not None else ""
    below_words = f"below {below:g} {unit}" if below is not None else ""
    return " and ".join(filter(None, (above_words, below_words)))


def _in_bands(finding: Finding, value: float, held: Iterable[Band]) -> str:
    return next((one.state for one in held if within(value, one.below, one.above)), finding.normal)


def _applies(one: ConditionalBands, facts: Mapping[str, str]) -> bool:
    return all(facts.get(needed.fact) in needed.values for needed in one.facts)


def _is_given(given: Given | None, others: Others) -> bool:
    if given is None:
        return True
    other = others.get(normalise(given.quantity))
    if other is None:
        return False
    try:
        return within(in_unit(other, given.unit, given.quantity), given.below, given.above)
    except CallError:
        return False  # noted in a unit that the knowledge no longer asks for


def _factor(reading: Reading, facts: Mapping[str, str]) -> float:
    return math.prod(one.factor for one in reading.scale if facts.get(one.fact) == one.value)


def _scaled(held: tuple[Band, ...], factor: float) -> tuple[Band, ...]:
    if factor == 1:
        return held
    return tuple(
        replace(one, below=_times(one.below, factor), above=_times(one.above, factor)) for one in held
    )


def _times(limit: float | None, factor: float) -> float | None:
    return None if limit is None else _nine_figures(limit * factor)


def _nine_figures(value: float) -> float:
    return float(f"{value:.9g}")


def _factors(reading: Reading, facts: Mapping[str, str]) -> Iterator[tuple[str, float]]:
    """The factor where it is known; else the plain limits and each factor, with the fact's value."""
    if all(one.fact in facts for one in reading.scale):
        yield "", _factor(reading, facts)
    else:
        yield "", 1.0
        yield from ((one.value, one.factor) for one in reading.scale if one.fact not in facts)


def _possible(reading: Reading, facts: Mapping[str, str]) -> Iterator[tuple[str, tuple[Band, ...]]]:
    """Where in words, and the bands, of every alternative that can still hold, the plain bands last."""
    for one in reading.where:
        if any(facts.get(needed.fact, needed.values[0]) not in needed.values for needed in one.facts):
            continue
        where = [" or ".join(needed.values) for needed in one.facts if needed.fact not in facts]
        where += [_given_words(one.given)] if one.given else []
        yield ", ".join(where), one.bands
        if not where:
            return
    yield "", reading.bands


def _given_words(given: Given) -> str:
    return f"{given.quantity} {span_words(given.below, given.above, given.unit)}"


def _band_words(reading: Reading, held: tuple[Band, ...], factor: float) -> str:
    scaled = _scaled(held, factor)
    return "; ".join(f"{one.state} {span_words(one.below, one.above, reading.unit)}" for one in scaled)
