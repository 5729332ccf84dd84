"""What would change the answer: the smallest change of one number that puts another cause first.

In one number t each cause's P(evidence, cause) is a line (`study.lines`), all over the same P(evidence); so one
cause stands above another exactly where its line does, and the stretch of t over which it stands above all others
is cut out by the crossings of lines. A change is measured by how far the log-odds of t against its sound state
move. That is the distance of Chan & Darwiche (IJAR 38, 2005, from memory): no log-odds of a cause move by more. So
a cause further from the first than twice FARTHEST need not be looked at, and what is found is the nearest of all.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import RankedCause
from diagnose.knowledge.number import Number
from diagnose.network.network import Array
from diagnose.study.exposed import ExposedRow
from diagnose.study.lines import LaidOpen, Line, lines
from diagnose.study.named import NamedNumber
from diagnose.study.spread import moved, spread

FARTHEST = math.log(10)
"""Most that the log-odds of one number are moved: a factor of ten."""


@dataclass(frozen=True, slots=True)
class Turn:
    """One number that, changed to `value`, changes whether a cause is first; `first`: the cause that then is.

    `row`, `item`: which number it is. `by`: how far its log-odds move (of a factor on the odds: its logarithm).
    """

    row: ExposedRow
    item: NamedNumber
    value: float
    by: float
    first: str

    @property
    def number(self) -> Number:
        """The number as the knowledge has it."""
        return self.item.number

    @property
    def within_doubt(self) -> bool:
        """Whether the number may well be off by as much: no more than a standard deviation of its log-odds."""
        return abs(self.by) <= spread(self.number, self.item.multiplies)


def turns(opened: LaidOpen, cause: RankedCause, most: int = 3) -> tuple[Turn, ...]:
    """The numbers that need the smallest change to take the first place from the cause, or, where it is not first,
    to put it there; none by more than FARTHEST. Exact, one number at a time."""
    rivals = _rivals(opened)
    ids = [rival.id for rival in rivals]
    if cause.id not in ids:
        return ()
    found = sorted(_turns(opened, ids, ids.index(cause.id)), key=lambda turn: (abs(turn.by), turn.item.label))
    return tuple(found[:most])


def _rivals(opened: LaidOpen) -> list[RankedCause]:
    """The causes near enough to the first to change places with it."""
    ranked = [cause for cause in opened.diagnosis.causes if cause.relevant and opened.holds(cause.id)]
    fit = [cause for cause in ranked if 0 < cause.probability < 1]
    reach = max(map(_log_odds, fit), default=0.0) - 2 * FARTHEST
    return [cause for cause in fit if _log_odds(cause) >= reach]


def _log_odds(cause: RankedCause) -> float:
    return math.log(cause.probability / (1 - cause.probability))


def _turns(opened: LaidOpen, ids: Sequence[str], mine: int) -> Iterator[Turn]:
    rows = opened.named.rows
    shared = Counter(item.label for items in rows.values() for item in items)
    for line in lines(opened.engine, [opened.place(id) for id in ids], rows):
        for item in rows[line.row]:
            if item.state == line.state and shared[item.label] == 1:  # in two rows at once it is no line
                yield from _turn(line, item, ids, mine)


def _turn(line: Line, item: NamedNumber, ids: Sequence[str], mine: int) -> Iterator[Turn]:
    """The nearer end, if within reach, of the stretch over which the cause is first."""
    ends = [
        (distance(line, by), by, first)
        for by, first in crossings(line, mine)
        if -line.value < by < line.sound and abs(distance(line, by)) <= FARTHEST
    ]
    if ends:
        far, by, first = min(ends, key=lambda end: abs(end[0]))
        yield Turn(line.row, item, _value(line, item, by, far), far, ids[first])


def distance(line: Line, by: float) -> float:
    """How far the log-odds of the number against the sound state move where it is raised by so much."""
    return math.log((line.value + by) / line.value) - math.log((line.sound - by) / line.sound)


def _value(line: Line, item: NamedNumber, by: float, far: float) -> float:
    """The number as the knowledge would write it: a prior stands there at the reference age."""
    if item.multiplies == "hazard":
        return item.number.value * math.log1p(-line.value - by) / math.log1p(-line.value)
    if item.multiplies:
        return item.number.value * math.exp(far)
    return line.value + by if math.isclose(line.value, item.number.value) else moved(item.number.value, far)


def crossings(line: Line, mine: int) -> list[tuple[float, int]]:
    """Where, counted from the number's value, the cause gains or loses the first place, and which cause is first on
    the far side: the ends of the stretch over which its line is highest, as seen from the number's value."""
    base, slope = line.base[1:], line.slope[1:]
    low, high, below, above = _stretch(base[mine] - base, slope[mine] - slope)
    if low > high:
        return []
    if low <= 0 <= high:
        return [(low, below), (high, above)]
    return [(low if low > 0 else high, mine)]


def _stretch(gap: Array, gain: Array) -> tuple[float, float, int, int]:
    """Between which changes x all gap + gain x >= 0, and which of them is 0 at either end (-1: none)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        zero = -gap / gain
    lows = np.where(gain > 0, zero, np.where((gain == 0) & (gap < 0), np.inf, -np.inf))
    highs = np.where(gain < 0, zero, np.inf)
    low, high = int(np.argmax(lows)), int(np.argmin(highs))
    return float(lows[low]), float(highs[high]), low, high
