"""A Bayesian network as plain arrays: no knowledge words, no inference."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """P(child | parents) in full: shape (card of each parent..., card of the child)."""

    parents: tuple[int, ...]
    values: Array


@dataclass(frozen=True, slots=True, eq=False)
class NoisyMax:
    """Noisy-MAX (binary: noisy-OR) with Diez' net leak: the cumulative distributions multiply.

    `leak`: distribution over the child's states with no parent present, shape (card,).
    `links[i]`: for each state of parent i the distribution of its own contribution,
    shape (card of the parent, card of the child); row 0 is (1, 0, ...).
    """

    parents: tuple[int, ...]
    leak: Array
    links: tuple[Array, ...]


Family = Table | NoisyMax


@dataclass(frozen=True, eq=False)
class Network:
    """Variables 0..n-1 with names, state names and one family each. Parents come before children."""

    names: tuple[str, ...]
    states: tuple[tuple[str, ...], ...]
    families: tuple[Family, ...]

    @cached_property
    def cards(self) -> tuple[int, ...]:
        """Number of states of each variable."""
        return tuple(map(len, self.states))

    @cached_property
    def index(self) -> dict[str, int]:
        """Name to variable number."""
        return {name: i for i, name in enumerate(self.names)}

    @cached_property
    def children(self) -> tuple[frozenset[int], ...]:
        """The children of each variable."""
        found: list[list[int]] = [[] for _ in self.families]
        for child, family in enumerate(self.families):
            for parent in family.parents:
                found[parent].append(child)
        return tuple(map(frozenset, found))

    def parents(self, variable: int) -> tuple[int, ...]:
        """The parents of one variable."""
        return self.families[variable].parents

    def ancestors(self, variables: Iterable[int]) -> set[int]:
        """The variables and everything above them."""
        found: set[int] = set()
        stack = list(variables)
        while stack:
            variable = stack.pop()
            if variable not in found:
                found.add(variable)
                stack.extend(self.families[variable].parents)
        return found


def below(network: Network, variable: int) -> set[int]:
    """The variable and everything below it."""
    found = {variable}
    for child in range(variable + 1, len(network.names)):
        if not found.isdisjoint(network.parents(child)):
            found.add(child)
    return found


def full_table(family: Family) -> Array:
    """The family as a full table, shape (parents..., child). For small families and for exchange.

    Noisy-MAX: P(child <= x | parents) = leak CDF(x) * product of contribution CDFs(x) (Diez 1993).
    """
    if isinstance(family, Table):
        return family.values
    cumulative = np.cumsum(family.leak)
    for position, link in enumerate(family.links):
        cdf = np.cumsum(link, axis=1)
        shape = [1] * len(family.parents) + [link.shape[1]]
        shape[position] = link.shape[0]
        cumulative = cumulative * cdf.reshape(shape)
    return np.diff(cumulative, axis=-1, prepend=0.0)
