"""What the results of a check tell of the causes: exact on the tree, or by the likely fault sets; in bits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import prod

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.observable import observable
from diagnose.network.engine import Engine, Outcomes
from diagnose.network.network import Array
from diagnose.planning.situation import Situation

QUICK_TABLE = 1 << 13
"""Largest table for the results of one check."""
MOST_JOINT, LARGE = 8, 1 << 18
"""Most joint results of one check that are worked out exactly: nobody reads more. Where the tree has more
numbers than that, one finding of each check."""


def by_fault_sets(diagnosis: Diagnosis, now: Situation, number: int, targets: Sequence[int]) -> Outcomes:
    """The results of a check by the likely fault sets of the planning problem; causes that are no candidates there
    keep their probability."""
    table, p = now.problem.tests[number].results, now.problem.probabilities
    shape = tuple(len(observable(diagnosis.knowledge, id).states) for id in now.results[number][0])
    alone = p @ table
    given = (p[:, None] * table / np.where(alone > 0, alone, 1.0)).T
    after = np.empty((len(alone), len(targets)))
    before = diagnosis.engine.marginals(targets)
    candidates = {diagnosis.built.variable(id): bit for bit, id in enumerate(now.candidates)}
    for column, v in enumerate(targets):
        after[:, column] = given @ now.present[:, candidates[v]] if v in candidates else 1 - before[v][0]
    return Outcomes(alone.reshape(shape), after.reshape(*shape, len(targets)))


def supposing(
    diagnosis: Diagnosis, now: Situation, number: int, shown: Mapping[str, str], targets: Sequence[str]
) -> Array:
    """P(cause | part of a check's result), by the likely fault sets, in order of `targets`."""
    outcome = by_fault_sets(diagnosis, now, number, [diagnosis.built.variable(id) for id in targets])
    fits = np.array([shown.items() <= result.items() for result in now.results[number]])
    p = outcome.probabilities.ravel() * fits
    after: Array = p @ outcome.causes.reshape(len(p), -1) / p.sum()
    return after


def told_of_causes(shares: Array, causes: Array) -> float:
    """Sum over the causes of I(cause; answer), from P(answer), shape (answers,), and P(cause | answer), shape
    (answers, causes)."""
    return max(0.0, float(entropy(shares @ causes).sum() - (shares @ entropy(causes)).sum()))


def outcomes(
    diagnosis: Diagnosis, joint: Sequence[tuple[str, ...]], columns: Sequence[int]
) -> list[tuple[tuple[str, ...], Outcomes | None]]:
    """The exact results, each with the findings that it is of. Joint results that hang on too much to be
    quick are those of fewer findings; a single finding that does has none."""
    variable, engine = diagnosis.built.variable, diagnosis.engine
    trimmed = [_quick(engine, ids, variable) for ids in joint]
    items = [tuple(map(variable, ids)) for ids in trimmed]
    return list(zip(trimmed, engine.outcomes_within(QUICK_TABLE, items, columns), strict=True))


def _quick(engine: Engine, ids: tuple[str, ...], variable: Callable[[str], int]) -> tuple[str, ...]:
    """As many of the first findings as the tree of the evidence can join, at least one."""
    cards, most = engine.network.cards, MOST_JOINT if engine.tree.size <= LARGE else 1
    while len(ids) > 1 and (
        prod(cards[variable(id)] for id in ids) > most or not engine.expands(tuple(map(variable, ids)))
    ):
        ids = ids[:-1]
    return ids


def entropy(p: Array) -> Array:
    """Binary entropy in bits, elementwise."""
    value: Array = -(p * np.log2(np.maximum(p, 1e-300)) + (1 - p) * np.log2(np.maximum(1 - p, 1e-300)))
    return value


def bits(outcome: Outcomes, base: float) -> float:
    """Expected drop of the summed entropies of the causes, from `base`, by seeing the result."""
    after = entropy(outcome.causes).sum(axis=-1)
    return max(0.0, float(base - (outcome.probabilities * after).sum()))
