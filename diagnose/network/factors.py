"""Families under evidence as small factors of positive numbers only.

A noisy-MAX family is never expanded: "absent" is a product of one-variable weights, and any other result is a
chain of running maxima (parent divorcing; Olesen et al. 1989, Heckerman & Breese 1996, cited from memory).
No term is subtracted from another, so no digits are lost.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from diagnose.network.junction import Factor, elimination_order
from diagnose.network.network import Array, NoisyMax, Table

SMALL_TABLE = 64


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


def step_table(link: Array, before: Array | None = None) -> Array:
    """P(running max after | running max before, parent): shape (before, parent, after)."""
    card = link.shape[1]
    up_to = np.cumsum(link, axis=1)
    table = np.zeros((card, link.shape[0], card))
    for low in range(card):
        table[low, :, low] = up_to[:, low]
        table[low, :, low + 1 :] = link[:, low + 1 :]
    return table if before is None else np.einsum("a,apb->pb", before, table)


def chain(variable: int, family: NoisyMax, fresh: int) -> list[Factor]:
    """The family as steps (running max, parent, next running max); auxiliaries are numbered from `fresh`."""
    last = len(family.parents) - 1
    factors, below = [], -1
    for position, (parent, link) in enumerate(zip(family.parents, family.links, strict=True)):
        above = variable if position == last else fresh + position
        if position == 0:
            factors.append(Factor((parent, above), step_table(link, family.leak)))
        else:
            factors.append(Factor((below, parent, above), step_table(link)))
        below = above
    return factors


def is_small(family: NoisyMax) -> bool:
    """Whether the plain table is no worse than a chain."""
    size = len(family.leak)
    for link in family.links:
        size *= link.shape[0]
    return len(family.parents) <= 1 or size <= SMALL_TABLE


def ordered_parents(
    families: Mapping[int, NoisyMax], others: Sequence[tuple[int, ...]], cards: Sequence[int]
) -> dict[int, NoisyMax]:
    """Sort each family's parents by an elimination order in which these parents are not yet married."""
    stars = [*others, *((parent, child) for child, family in families.items() for parent in family.parents)]
    used = {v: cards[v] for scope in stars for v in scope}
    rank = {v: position for position, v in enumerate(elimination_order(stars, used))}
    return {child: _sorted_parents(family, rank) for child, family in families.items()}


def _sorted_parents(family: NoisyMax, rank: Mapping[int, int]) -> NoisyMax:
    order = sorted(range(len(family.parents)), key=lambda position: rank[family.parents[position]])
    return NoisyMax(
        tuple(family.parents[i] for i in order), family.leak, tuple(family.links[i] for i in order)
    )


def cut_to(factors: Iterable[Factor], variable: int, state: int) -> list[Factor]:
    """The factors with the variable held at one state."""
    return [_cut(factor, variable, state) for factor in factors]


def _cut(factor: Factor, variable: int, state: int) -> Factor:
    if variable not in factor.scope:
        return factor
    axis = factor.scope.index(variable)
    return Factor(factor.scope[:axis] + factor.scope[axis + 1 :], np.take(factor.values, state, axis=axis))


def scopes(factors: Sequence[Factor]) -> list[tuple[int, ...]]:
    """The scopes alone."""
    return [factor.scope for factor in factors]
