"""Many subsets of one body of evidence at once: what each finding did to each cause.

One bucket tree serves all subsets: a finding that is left out weighs nothing. Used for weights of evidence
(leave-one-out), for the conflict measure, and for the story of a case finding by finding.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from diagnose.network.engine import Engine
from diagnose.network.messages import Beliefs
from diagnose.network.network import Array


def by_subset(
    engine: Engine,
    items: Sequence[int],
    masks: NDArray[np.bool_],
    targets: Sequence[int],
    held: Mapping[int, Array] | None = None,
) -> Beliefs:
    """Beliefs by parts of the engine's evidence.

    `items`: observed variables; `masks`: shape (subsets, items), true where the item counts; all other
    evidence counts always, and so must every item on which something hangs (`Compiled.cut`). Targets must be in
    the tree. `held`: more weights of variables in the tree, shape (card, subsets). log_probability is log P(subset
    of the evidence, what is held), shape (subsets,).
    """
    parts = engine.compiled
    counts = {item: mask for item, mask in zip(items, masks.T, strict=True) if not mask.all()}
    loose = {parent for item in counts.keys() & parts.absent.keys() for parent in parts.absent[item][1]}
    loose |= counts.keys() & parts.weighed.keys()
    instead = {v: np.ones((engine.network.cards[v], len(masks))) for v in loose}
    scale = np.zeros(len(masks))
    for item, likelihood in parts.weighed.items():
        _weigh(instead, item, likelihood, counts)
    for item, (constant, shares) in parts.absent.items():
        if item in counts:
            scale -= np.where(counts[item], 0.0, np.log(constant))
        for parent in shares.keys() & loose:
            _weigh(instead, parent, shares[parent], counts, item)
    beliefs = engine.tree.run(held or {}, targets, len(masks), instead)
    return Beliefs(beliefs.log_probability + scale, beliefs.marginals)


def _weigh(
    instead: dict[int, Array],
    variable: int,
    weight: Array,
    counts: Mapping[int, NDArray[np.bool_]],
    item: int | None = None,
) -> None:
    """Multiply in what an item (default: the variable itself) says of a variable, where the item counts."""
    if variable in instead:
        mask = counts.get(variable if item is None else item)
        instead[variable] *= weight[:, None] if mask is None else np.where(mask, weight[:, None], 1.0)
