"""How the answer hangs on each number of the knowledge: a quotient of two lines.

In any one number t of the network (the rest of its row goes to the sound state) P(evidence) and P(evidence, cause)
are linear, so the posterior is a quotient of two linear functions, P(t) = (a t + b) / (c t + d): Castillo,
Gutierrez & Hadi (IEEE Trans. SMC-A 27, 1997); van der Gaag, Renooij & Coupe (2007); from memory. Both lines are
read off the marginals of one run with the numbers laid open as variables (`exposed`), for all numbers at once: the
derivative by t is what its own state contributes, divided by t, less what the sound state contributes, divided by
its number (Darwiche, J. ACM 50, 2003, from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.network.engine import Engine
from diagnose.network.messages import MAX_TABLE, Beliefs
from diagnose.network.network import Array, Network
from diagnose.network.observed import one_hot
from diagnose.study.exposed import Exposed, ExposedRow, expose
from diagnose.study.named import NamedRows, named


@dataclass(frozen=True, eq=False)
class LaidOpen:
    """A diagnosis with its numbers laid open, ready for questions; `named`: which number stands behind each row."""

    diagnosis: Diagnosis
    exposed: Exposed
    engine: Engine
    named: NamedRows

    def place(self, cause: str) -> int:
        """The variable of a cause in the larger network."""
        return self.exposed.places[self.diagnosis.built.variable(cause)]

    def holds(self, cause: str) -> bool:
        """Whether the cause is in the tree."""
        return self.place(cause) in self.engine.region


def lay_open(diagnosis: Diagnosis, widest: int = MAX_TABLE) -> LaidOpen:
    """Lay open every number above the evidence. Raises TooWide where a table larger than `widest` were needed."""
    built, engine = diagnosis.built, diagnosis.engine
    exposed = expose(built.network, engine.region)
    evidence = {exposed.places[v]: likelihood for v, likelihood in engine.evidence.items()}
    opened = Engine(exposed.network, evidence, (), widest)
    return LaidOpen(diagnosis, exposed, opened, named(diagnosis, exposed))


def distribution(network: Network, row: ExposedRow) -> Array:
    """The row's own distribution, shape (card,)."""
    family = network.families[row.variable]
    values: Array = family.values[row.state] if family.parents else family.values  # type: ignore[union-attr]
    return values


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """P(evidence) and P(evidence, cause) for each cause as linear functions of one number, over P(evidence).

    `value`: the number; `sound`: what its row's first state has, which gives or takes. `base`: the probabilities
    at the number's value, `slope`: their derivatives; shape (1 + causes,), P(evidence) first.
    """

    row: ExposedRow
    state: int
    value: float
    sound: float
    base: Array
    slope: Array

    def causes(self, by: float) -> Array:
        """P(cause | evidence) of each cause with the number raised by so much."""
        found = np.clip(self.base + self.slope * by, 0.0, None)
        posterior: Array = found[1:] / found[0]
        return posterior


def lines(engine: Engine, causes: Sequence[int], rows: Iterable[ExposedRow]) -> Iterator[Line]:
    """The lines of every number of the rows that can be moved, for the causes (P(not in their first state)).
    A row's parent, if any, must contribute through it in that one state only."""
    rows = list(rows)
    joints = _joints(engine, causes, rows)
    for row in rows:
        values = distribution(engine.network, row)
        for state in range(1, len(values)):
            if values[0] > 0 and 0 < values[state] < 1:
                joint = joints.rows[row]
                slope = joint[state] / values[state] - joint[0] / values[0]
                yield Line(row, state, float(values[state]), float(values[0]), joints.base, slope)


@dataclass(frozen=True, slots=True, eq=False)
class _Joints:
    """P(row's parent in the row's state, contribution = t, cause | evidence), shape (card, 1 + causes), by row;
    column 0 without any cause. `base`: P(cause | evidence), shape (1 + causes,)."""

    rows: dict[ExposedRow, Array]
    base: Array


def _joints(engine: Engine, causes: Sequence[int], rows: Sequence[ExposedRow]) -> _Joints:
    weights = {cause: np.ones((engine.network.cards[cause], 1 + len(causes))) for cause in causes}
    for column, cause in enumerate(causes, 1):
        weights[cause][0, column] = 0.0
    parents = {row: engine.network.parents(row.variable) for row in rows}
    targets = {v for row in rows for v in (row.variable, *parents[row]) if v not in engine.fixed}
    beliefs = engine.tree.run(weights, targets, 1 + len(causes))
    base = np.exp(beliefs.log_probability - beliefs.log_probability[0])
    joints = {}
    for row in rows:
        joint = _marginal(engine, beliefs, row.variable) * base
        if parents[row]:
            held = _marginal(engine, beliefs, parents[row][0])[row.state] * base
            joint[0] = np.clip(held - joint[1:].sum(axis=0), 0.0, None)
        joints[row] = joint
    return _Joints(joints, base)


def _marginal(engine: Engine, beliefs: Beliefs, variable: int) -> Array:
    """The marginal in each column; what is known for sure is in none of the beliefs."""
    if variable in engine.fixed:
        return one_hot(engine.network.cards[variable], engine.fixed[variable])[:, None]
    return beliefs.marginals[variable]
