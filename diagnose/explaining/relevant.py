"""The most relevant explanation of all that was found: few causes, and only those that matter.

Among all statements on some of the leading causes (these present, those absent, nothing said of the rest) the one
x with the largest generalised Bayes factor GBF = P(evidence | x) / P(evidence | not x), which is posterior odds
over prior odds of x (Yuan, Lim & Lu, JAIR 42, 2011, from memory). Unlike the most probable explanation it leaves
out what the evidence does not speak of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.network.engine import Engine
from diagnose.network.network import Array

CANDIDATES = 6  # causes that are asked about: the sets of them grow as powers of two
LIKELY = 0.02
"""Least probability of a candidate, and of a set that is said to explain (judgement)."""
NOTABLE = 2.0
"""Least factor worth a word, and by which one more cause must explain better to be named too (judgement)."""


@dataclass(frozen=True, slots=True)
class Statement:
    """What is said of each candidate: present (1), absent (0), nothing (None); with its generalised Bayes factor
    and its probability by the evidence."""

    states: tuple[int | None, ...]
    factor: float
    probability: float

    def part_of(self, other: Statement) -> bool:
        """Whether the other says all this and more."""
        pairs = zip(self.states, other.states, strict=True)
        return self.states != other.states and all(a is None or a == b for a, b in pairs)


def statements(after: Array, before: Array) -> tuple[Statement, ...]:
    """All statements on the candidates, the largest factor first; of equals the shorter. `after`, `before`: their
    joint distribution with and without the evidence, shape (2,) * candidates."""
    found = []
    for states in product((None, 0, 1), repeat=after.ndim):
        if any(state is not None for state in states):
            cut = tuple(slice(None) if state is None else state for state in states)
            p, q = float(after[cut].sum()), float(before[cut].sum())
            found.append(Statement(states, _odds(p) / _odds(q), p))
    return tuple(sorted(found, key=lambda one: (-one.factor, _size(one))))


def _odds(p: float) -> float:
    """Odds that double precision can tell."""
    p = min(max(p, 1e-15), 1 - 1e-15)
    return p / (1 - p)


def _size(one: Statement) -> int:
    return sum(state is not None for state in one.states)


def undominated(found: Sequence[Statement], gain: float = 1.0) -> tuple[Statement, ...]:
    """Without those that a shorter statement explains as well, and those that a longer one explains better by more
    than `gain` (with 1 strong and weak dominance of the same paper). Best first, as given."""
    return tuple(one for one in found if not any(_dominates(other, one, gain) for other in found))


def _dominates(other: Statement, one: Statement, gain: float) -> bool:
    if other.part_of(one):
        return gain * other.factor >= one.factor
    return one.part_of(other) and other.factor > gain * one.factor


@dataclass(frozen=True, slots=True)
class Explained:
    """Causes that together explain what was found: with all of them present it is `factor` times as likely as
    otherwise. `probability`: of all of them together, by what was found."""

    causes: tuple[str, ...]
    factor: float
    probability: float


def best_explanations(diagnosis: Diagnosis, most: int = 3) -> tuple[Explained, ...]:
    """The sets of leading causes that explain best what was found, exact. That a cause is absent is not counted as
    an explanation; nor is a set that is itself hardly there, however well it would explain."""
    ids = _candidates(diagnosis)
    if not ids:
        return ()
    variables = [diagnosis.built.variable(id) for id in ids]
    prior = Engine(diagnosis.built.network, {}, inside=variables)
    found = statements(joint(diagnosis.engine, variables), joint(prior, variables))
    sets = undominated([one for one in found if 0 not in one.states and one.probability >= LIKELY], NOTABLE)
    return tuple(_named(one, ids) for one in sets if one.factor >= NOTABLE)[:most]


def _candidates(diagnosis: Diagnosis) -> list[str]:
    """The leading causes that the evidence speaks of, but for those repaired in this case: what is left of one was
    so unlikely beforehand that it would seem to explain what the old part did."""
    engine, built = diagnosis.engine, diagnosis.built
    likely = [cause.id for cause in diagnosis.causes if cause.relevant and cause.probability >= LIKELY]
    same = [id for id in likely if built.versions[id][-1] == 0]
    free = [
        id for id in same if built.variable(id) in engine.region and built.variable(id) not in engine.fixed
    ]
    return free[:CANDIDATES]


def joint(engine: Engine, variables: Sequence[int]) -> Array:
    """The joint distribution of some binary variables of the tree, shape (2,) * variables."""
    rows = [dict(zip(variables, states, strict=True)) for states in np.ndindex(*(2,) * len(variables))]
    chances, _ = engine.given(rows, ())
    return chances.reshape((2,) * len(variables))


def _named(one: Statement, ids: Sequence[str]) -> Explained:
    return Explained(
        tuple(id for id, state in zip(ids, one.states, strict=True) if state), one.factor, one.probability
    )
