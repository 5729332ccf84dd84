"""Which facts tie causes together, and how to let go of them where a case were too wide to be exact with all.

A fact that nobody has told and that multiplies the hazard of several causes makes them lean on each other a little.
Let go, each cause counts with what the fact does to it on average: its own probability is the same, only that the
causes share the fact is forgotten. Facts that decide what kind of machine it is are never let go.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

import numpy as np

from diagnose.network.build import Built
from diagnose.network.network import Array, Family, Network, Table


def least_telling(built: Built, among: Iterable[int]) -> list[int]:
    """The half, of these variables, of those that tie causes, with the facts that tell the least of their
    causes."""
    tying = sorted((v for v in among if v in built.telling), key=built.telling.__getitem__)
    return tying[: (len(tying) + 1) // 2]


def untied(built: Built, facts: Collection[int]) -> Built:
    """The same without the ties through these variables."""
    network = built.network
    families = tuple(_averaged(family, facts, built.shares) for family in network.families)
    telling = {v: spread for v, spread in built.telling.items() if v not in facts}
    return replace(built, network=Network(network.names, network.states, families), telling=telling)


def _averaged(family: Family, facts: Collection[int], shares: Mapping[int, Array]) -> Family:
    """What arises by a fact that is let go, on average over it: the most telling fact is a table's last parent."""
    if not isinstance(family, Table) or not family.parents or family.parents[-1] not in facts:
        return family
    return Table(family.parents[:-1], np.einsum("...fc,f->...c", family.values, shares[family.parents[-1]]))
