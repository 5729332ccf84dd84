"""Which numbers the answer to a case rests on: one-way sensitivity of the leading cause.

The posterior is a quotient of two lines in each number (`lines`); each number is moved by its own `spread`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.number import Number
from diagnose.study.lines import Line, lay_open, lines
from diagnose.study.named import NamedNumber
from diagnose.study.spread import moved, multiplied, spread

RIVALS = 6  # leading causes whose order is watched


@dataclass(frozen=True, slots=True)
class Stress:
    """What one number does to the leading cause.

    `low` and `high`: the number a spread lower and higher; `p_low`, `p_high`: the leading cause's probability
    there; `first_low`, `first_high`: the cause that then leads.
    """

    label: str
    number: Number
    low: float
    high: float
    p_low: float
    p_high: float
    first_low: str
    first_high: str

    @property
    def swing(self) -> float:
        """How far apart both probabilities are."""
        return abs(self.p_high - self.p_low)


@dataclass(frozen=True, slots=True)
class StressReport:
    """The leading cause and its probability; the numbers by swing; how many above the evidence could not be moved
    (those of repairs already done)."""

    leading: str
    probability: float
    numbers: tuple[Stress, ...]
    left_out: int

    def flips(self, one: Stress) -> bool:
        """Whether another cause takes the first place at an end of the number's spread."""
        return {one.first_low, one.first_high} != {self.leading}


def stress(diagnosis: Diagnosis) -> StressReport:
    """Every number above the evidence, the most telling first. Raises TooWide where the case is too tangled."""
    built, engine = diagnosis.built, diagnosis.engine
    ranked = [cause for cause in diagnosis.causes if built.variable(cause.id) in engine.region][:RIVALS]
    if not ranked:
        return StressReport("", 0.0, (), 0)
    opened = lay_open(diagnosis)
    ids = [cause.id for cause in ranked]
    found = lines(opened.engine, [opened.place(id) for id in ids], opened.named.rows)
    numbers = [
        _stressed(item, line, ids)
        for line in found
        for item in opened.named.rows[line.row]
        if item.state == line.state
    ]
    numbers.sort(key=lambda one: (-one.swing, one.number.place, one.label))
    return StressReport(ranked[0].id, ranked[0].probability, tuple(numbers), opened.named.left_out)


def _stressed(item: NamedNumber, line: Line, ids: list[str]) -> Stress:
    """The number a spread down and up; it can take no more than the sound state has to give."""
    by = spread(item.number, item.multiplies)
    move = multiplied if item.multiplies == "hazard" else moved
    ends = [line.causes(min(move(line.value, change) - line.value, line.sound)) for change in (-by, by)]
    firsts = [ids[int(np.argmax(end))] for end in ends]
    low, high = (
        item.number.value * math.exp(change) if item.multiplies else moved(item.number.value, change)
        for change in (-by, by)
    )
    return Stress(
        item.label, item.number, low, high, float(ends[0][0]), float(ends[1][0]), firsts[0], firsts[1]
    )
