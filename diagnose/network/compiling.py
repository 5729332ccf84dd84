"""A region of a network under evidence as a bucket tree from which each piece of the evidence can be let go.

What is observed and has no children stands in the tree as weights, not cut into its tables: a finding that is
absent weighs its parents, any other its own states. So one tree answers for every part of the evidence too.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.network import factors as fx
from diagnose.network.buckets import BucketTree
from diagnose.network.leaves import Factor
from diagnose.network.messages import MAX_TABLE, Hub
from diagnose.network.network import Array, Network, Table, full_table

Shares = Mapping[int, Array]
"""Parent -> what its states weigh, shape (card,)."""


@dataclass(frozen=True, slots=True, eq=False)
class Compiled:
    """The tree of a body of evidence, and how each piece of it that can be let go stands in it.

    `weighed`: variable -> likelihood of its states. `absent`: variable -> P(absent | no parent) and what it
    weighs of its parents. `cut`: what cannot be let go, for something hangs on it, with its state.
    """

    tree: BucketTree
    weighed: Mapping[int, Array]
    absent: Mapping[int, tuple[float, Shares]]
    cut: Mapping[int, int]


def compiled(
    network: Network,
    region: Collection[int],
    evidence: Mapping[int, Array],
    fixed: Mapping[int, int],
    widest: int = MAX_TABLE,
    order: Sequence[int] | None = None,
) -> Compiled:
    """The families of the region under the evidence, ready to run. `fixed`: what of it is certain.
    Raises TooWide."""
    above = {parent for variable in region for parent in network.parents(variable)}
    cut = {variable: state for variable, state in fixed.items() if variable in above}
    cards = {variable: network.cards[variable] for variable in sorted(region) if variable not in cut}
    factors: list[Factor] = []
    hubs: dict[int, Hub] = {}
    absent: dict[int, tuple[float, Shares]] = {}
    for variable in sorted(region):
        family = network.families[variable]
        if isinstance(family, Table):
            factors.append(fx.table_factor(variable, family, cut))
            continue
        family = fx.without_fixed(family, cut)
        if fixed.get(variable) == 0:
            constant, shares = fx.absent_weights(family)
            factors.append(Factor((), np.array(constant)))
            if variable in cut:
                factors.extend(Factor((parent,), share) for parent, share in shares.items())
            else:
                absent[variable] = constant, shares
                del cards[variable]
        elif fx.is_small(family):
            factors.append(fx.table_factor(variable, Table(family.parents, full_table(family)), cut))
        else:
            hub = hub_of(network, variable)
            cards[hub] = network.cards[variable]
            hubs[hub] = Hub(variable, fixed.get(variable, -1))
            factors.extend(fx.star(family, hub))
            if variable in fixed:
                cards.pop(variable, None)
    weighed = {
        v: np.eye(len(seen))[fixed[v]] if v in fixed else np.asarray(seen, dtype=float)
        for v, seen in evidence.items()
        if v not in cut and v not in absent
    }
    tree = BucketTree(factors, cards, hubs, widest, order, standing(weighed, absent.values()))
    return Compiled(tree, weighed, absent, cut)


def hub_of(network: Network, variable: int) -> int:
    """The number of a variable's hub in the tree."""
    return len(network.names) + variable


def standing(weighed: Shares, absent: Iterable[tuple[float, Shares]]) -> dict[int, Array]:
    """Pieces of evidence as one-variable weights of a tree, shape (card, 1), but for their constants."""
    found = {v: likelihood[:, None] for v, likelihood in weighed.items()}
    for _, shares in absent:
        for parent, share in shares.items():
            found[parent] = found[parent] * share[:, None] if parent in found else share[:, None]
    return found
