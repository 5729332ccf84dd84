"""Families under evidence as small factors of positive numbers only.

A noisy-MAX family is never expanded: "absent" is a product of one-variable weights, and for any other result each
parent's contribution is a factor of its own on a hub (buckets.py). No term is subtracted from another, so no
digits are lost.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from diagnose.network.leaves import Factor
from diagnose.network.network import Array, NoisyMax, Table

SMALL_TABLE = 32  # entries; the factors of a hub would hold no fewer


def max_of(first: Array, second: Array) -> Array:
    """Distribution of the larger of two independent contributions."""
    return np.diff(np.cumsum(first, axis=-1) * np.cumsum(second, axis=-1), axis=-1, prepend=0.0)


def table_factor(variable: int, family: Table, fixed: Mapping[int, int]) -> Factor:
    """A full table with the fixed variables cut out."""
    scope = (*family.parents, variable)
    cut = tuple(fixed.get(v, slice(None)) for v in scope)
    return Factor(tuple(v for v in scope if v not in fixed), family.values[cut])


def absent_weights(family: NoisyMax, threshold: int = 0) -> tuple[float, dict[int, Array]]:
    """P(child <= threshold | parents) = constant x one weight vector a parent."""
    links = zip(family.parents, family.links, strict=True)
    weights = {parent: link[:, : threshold + 1].sum(axis=1) for parent, link in links}
    return float(family.leak[: threshold + 1].sum()), weights


def without_fixed(family: NoisyMax, fixed: Mapping[int, int]) -> NoisyMax:
    """Parents whose state is known join the leak."""
    leak = family.leak
    parents, links = [], []
    for parent, link in zip(family.parents, family.links, strict=True):
        if parent not in fixed:
            parents.append(parent)
            links.append(link)
        elif fixed[parent]:
            leak = max_of(leak, link[fixed[parent]])
    return NoisyMax(tuple(parents), leak, tuple(links))


def star(family: NoisyMax, hub: int) -> list[Factor]:
    """The family as one factor a parent on the hub where contributions come together, and one for the leak."""
    links = zip(family.parents, family.links, strict=True)
    return [Factor((hub,), family.leak), *(Factor((parent, hub), link) for parent, link in links)]


def is_small(family: NoisyMax) -> bool:
    """Whether the plain table is no worse than a hub."""
    size = len(family.leak)
    for link in family.links:
        size *= link.shape[0]
    return len(family.parents) <= 1 or size <= SMALL_TABLE
