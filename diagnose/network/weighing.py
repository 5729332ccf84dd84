"""What each item of evidence weighs for each cause, and how well the items fit together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.network.buckets import TooWide
from diagnose.network.engine import Engine, Posterior
from diagnose.network.network import Array
from diagnose.network.subsets import EvidenceSubsets

QUICK_TABLE = 1 << 11
"""Largest table of the tree in which each item is left out in turn."""


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """`weights`: shape (items, causes), 10 log10 of the factor of an item on a cause's odds given all other items
    (Good 1950). `conflict`: log2 of prod P(item) / P(all items) (Jensen et al. 1990). `strange`: for each item
    log2 of P(item) / P(item | the others)."""

    weights: Array
    conflict: float
    strange: tuple[float, ...]


def weigh(engine: Engine, items: Sequence[int], causes: Sequence[int]) -> Weighed:
    """Weigh the observed variables `items` for the causes; those outside the engine's tree weigh nothing."""
    weights = np.zeros((len(items), len(causes)))
    if not items:
        return Weighed(weights, 0.0, ())
    whole, without, alone = _left_out(engine, items, [v for v in causes if v in engine.region])
    for row, rest in enumerate(without):
        for column, cause in enumerate(causes):
            if cause in whole.marginals and cause in rest.marginals:
                odds = _log_odds(whole.marginals[cause]) - _log_odds(rest.marginals[cause])
                weights[row, column] = 10 * odds
    bit = float(np.log(2))
    together = whole.log_probability
    strange = (one - together + rest.log_probability for one, rest in zip(alone, without, strict=True))
    return Weighed(weights, (sum(alone) - together) / bit, tuple(size / bit for size in strange))


def _left_out(
    engine: Engine, items: Sequence[int], targets: Sequence[int]
) -> tuple[Posterior, list[Posterior], list[float]]:
    """The posterior with all items, without each of them, and the log probability of each alone."""
    try:
        subsets = EvidenceSubsets(engine.network, engine.evidence, (), QUICK_TABLE)
    except TooWide:
        return _left_out_singly(engine, items, targets)
    order = [subsets.variables.index(item) for item in items]
    count = len(items)
    masks = np.ones((2 * count + 1, len(subsets.variables)), dtype=bool)
    masks[count + 1 :] = False
    for row, position in enumerate(order):
        masks[1 + row, position] = False
        masks[1 + count + row, position] = True
    beliefs = subsets.run(masks, [v for v in targets if v in subsets.tree.cards])
    rows = [
        Posterior({v: m[:, row] for v, m in beliefs.marginals.items()}, float(beliefs.log_probability[row]))
        for row in range(2 * count + 1)
    ]
    return rows[0], rows[1 : count + 1], [row.log_probability for row in rows[count + 1 :]]


def _left_out_singly(
    engine: Engine, items: Sequence[int], targets: Sequence[int]
) -> tuple[Posterior, list[Posterior], list[float]]:
    """The same, one engine each, where one tree for all of them were too wide."""
    evidence = engine.evidence

    def solved(kept: Mapping[int, Array]) -> Posterior:
        one = Engine(engine.network, kept)
        return Posterior({v: one.marginal(v) for v in targets if v in one.region}, one.log_probability)

    without = [solved({v: e for v, e in evidence.items() if v != item}) for item in items]
    alone = [solved({item: evidence[item]}).log_probability for item in items]
    return solved(evidence), without, alone


def _log_odds(marginal: Array) -> float:
    """log10 of the odds of being present, within what double precision can tell."""
    absent = min(max(float(marginal[0]), 1e-12), 1 - 1e-12)
    return float(np.log10((1 - absent) / absent))
