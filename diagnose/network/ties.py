"""Which facts tie causes together, and how to let go of them where a case were too wide to be exact with all.

A fact that nobody has told and that multiplies the hazard of several causes makes them lean on each other a little.
Let go, each cause counts with what the fact does to it on average: its own probability is the same, only that the
causes share the fact is forgotten. So it is with what a fact gates, which is let go last.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

import numpy as np

from diagnose.network.build import Built
from diagnose.network.network import Array, Family, Network, Table


def least_telling(built: Built, among: Iterable[int]) -> list[int]:
    """Of those of these variables that tie causes, all but the quarter that tells most; all, where few are left."""
    tying = sorted((v for v in among if v in built.telling), key=built.telling.__getitem__)
    return tying[: len(tying) - len(tying) // 4]


def untied(built: Built, facts: Collection[int]) -> Built:
    """The same without the ties through these variables."""
    network = built.network
    families = tuple(_averaged(network, family, facts, built.shares) for family in network.families)
    telling = {v: spread for v, spread in built.telling.items() if v not in facts}
    return replace(built, network=Network(network.names, network.states, families), telling=telling)


def _averaged(
    network: Network, family: Family, facts: Collection[int], shares: Mapping[int, Array]
) -> Family:
    """What arises by facts that are let go, on average over them. Of facts that depend on each other both stay."""
    if not isinstance(family, Table):
        return family
    for fact in [parent for parent in family.parents if parent in facts]:
        others = [parent for parent in family.parents if parent != fact]
        if network.ancestors([fact]).isdisjoint(network.ancestors(others)) and shares[fact].ndim == 1:
            axis = family.parents.index(fact)
            family = Table(tuple(others), np.tensordot(shares[fact], family.values, axes=([0], [axis])))
    return family
