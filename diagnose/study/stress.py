"""Which numbers the answer to a case rests on: one-way sensitivity of the leading cause.

In any one number t of the network (the rest of its row goes to the sound state) P(evidence) and P(evidence, cause)
are linear, so the posterior is a quotient of two linear functions, P(t) = (a t + b) / (c t + d): Castillo,
Gutierrez & Hadi (IEEE Trans. SMC-A 27, 1997); van der Gaag, Renooij & Coupe (2007); from memory. Both lines are
read off the marginals of one run with the numbers laid open as variables (`exposed`), for all numbers at once: the
derivative by t is what its own state contributes, divided by t, less what the sound state contributes, divided by
its number (Darwiche, J. ACM 50, 2003, from memory).

Each number is moved by its own spread: as a Beta distribution worth `ess` cases, its log-odds have the standard
deviation 1 / sqrt(ess p (1 - p)) (delta method), here at most WIDEST.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Number
from diagnose.network.engine import Engine
from diagnose.network.network import Array
from diagnose.study.exposed import Exposed, Row, expose
from diagnose.study.named import Named, named

WIDEST = math.log(5)
"""Most that log-odds are moved: a factor of 5 in the odds. The delta method takes a rare event worth ten cases for
all but unknown, wider than whoever wrote it meant (judgement)."""
RIVALS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """P(evidence) and P(evidence, cause) for each cause as linear functions of one number, relative to P(evidence):
    `base` at the number's value, `slope` by the number; both shape (1 + causes,)."""

    base: Array
    slope: Array

    def causes(self, by: float) -> Array:
        """P(cause | evidence) of each cause with the number raised by so much."""
        found = np.clip(self.base + self.slope * by, 0.0, None)
        posterior: Array = found[1:] / found[0]
        return posterior


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


def spread(number: Number, multiplies: bool = False) -> float:
    """Standard deviation of the log-odds of a probability, at most WIDEST. That of a factor on the odds: as of an
    odds ratio from `ess` cases spread evenly over two by two fields, 4 / sqrt(ess) (Woolf 1955, from memory)."""
    if multiplies:
        return min(4 / math.sqrt(number.ess), WIDEST)
    return min(1 / math.sqrt(number.ess * number.value * (1 - number.value)), WIDEST)


def moved(p: float, by: float) -> float:
    """The probability with its log-odds moved."""
    odds = p / (1 - p) * math.exp(by)
    return odds / (1 + odds)


def stress(diagnosis: Diagnosis) -> StressReport:
    """Every number above the evidence, the most telling first. Raises TooWide where the case is too tangled."""
    built, engine = diagnosis.built, diagnosis.engine
    ranked = [cause for cause in diagnosis.causes if built.variable(cause.id) in engine.region][:RIVALS]
    if not ranked:
        return StressReport("", 0.0, (), 0)
    exposed = expose(built.network, engine.region)
    causes = [exposed.places[built.variable(cause.id)] for cause in ranked]
    found = named(diagnosis, exposed)
    evidence = {exposed.places[v]: likelihood for v, likelihood in engine.evidence.items()}
    joints = _joints(Engine(exposed.network, evidence), causes, found.rows)
    ids = [cause.id for cause in ranked]
    numbers = [one for row, items in found.rows.items() for one in _row(exposed, row, items, joints, ids)]
    numbers.sort(key=lambda one: (-one.swing, one.number.place, one.label))
    return StressReport(ranked[0].id, ranked[0].probability, tuple(numbers), found.left_out)


@dataclass(frozen=True, slots=True, eq=False)
class _Joints:
    """P(row's parent in the row's state, contribution = t, cause | evidence), shape (card, 1 + causes), by row;
    column 0 without any cause. `base`: P(cause | evidence), shape (1 + causes,)."""

    rows: dict[Row, Array]
    base: Array


def _joints(engine: Engine, causes: list[int], rows: dict[Row, list[Named]]) -> _Joints:
    weights = {cause: np.ones((2, 1 + len(causes))) for cause in causes}
    for column, cause in enumerate(causes, 1):
        weights[cause][0, column] = 0.0
    parents = {row: engine.network.parents(row.variable) for row in rows}
    targets = {v for row in rows for v in (row.variable, *parents[row]) if v not in engine.fixed}
    beliefs = engine.tree.run(weights, targets, 1 + len(causes))
    base = np.exp(beliefs.log_probability - beliefs.log_probability[0])
    joints = {}
    for row in rows:
        joint = beliefs.marginals[row.variable] * base
        if parents[row]:
            held = beliefs.marginals[parents[row][0]][row.state] * base
            joint[0] = np.clip(held - joint[1:].sum(axis=0), 0.0, None)
        joints[row] = joint
    return _Joints(joints, base)


def _row(exposed: Exposed, row: Row, items: list[Named], joints: _Joints, ids: list[str]) -> Iterator[Stress]:
    family = exposed.network.families[row.variable]
    values: Array = family.values[row.state] if family.parents else family.values  # type: ignore[union-attr]
    for item in items:
        if values[0] > 0 and 0 < values[item.state] < 1:
            joint = joints.rows[row]
            slope = joint[item.state] / values[item.state] - joint[0] / values[0]
            yield _stressed(item, Lines(joints.base, slope), values, ids)


def _stressed(item: Named, lines: Lines, values: Array, ids: list[str]) -> Stress:
    """The number a spread down and up; it can take no more than the sound state has to give."""
    value, most = float(values[item.state]), float(values[item.state] + values[0])
    by = spread(item.number, item.multiplies)
    ends = [lines.causes(min(moved(value, change), most) - value) for change in (-by, by)]
    firsts = [ids[int(np.argmax(end))] for end in ends]
    low, high = (
        item.number.value * math.exp(change) if item.multiplies else moved(item.number.value, change)
        for change in (-by, by)
    )
    return Stress(
        item.label, item.number, low, high, float(ends[0][0]), float(ends[1][0]), firsts[0], firsts[1]
    )
