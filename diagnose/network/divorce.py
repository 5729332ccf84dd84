"""Parent divorcing: the same network with no wide noisy-MAX family, for exchange and for full tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from diagnose.network.network import Array, Family, Network, NoisyMax, Table

MARK = "~max"
"""Stands between a child's name and the number of its auxiliary variable."""


@dataclass(slots=True)
class _Growing:
    """A network under construction; variables are numbered as they are added."""

    names: list[str] = field(default_factory=list)
    states: list[tuple[str, ...]] = field(default_factory=list)
    families: list[Family] = field(default_factory=list)

    def add(self, name: str, states: tuple[str, ...], family: Family) -> int:
        self.names.append(name)
        self.states.append(states)
        self.families.append(family)
        return len(self.names) - 1

    def done(self) -> Network:
        return Network(tuple(self.names), tuple(self.states), tuple(self.families))


def divorce(network: Network, max_parents: int = 8, max_entries: int = 4096) -> Network:
    """The network with every noisy-MAX family split until its full table is small.

    A family too wide becomes a chain of auxiliary variables, each the running maximum of the contributions
    so far (parent divorcing: Olesen et al., Applied Artificial Intelligence 3, 1989; cited from memory).
    Exact: the joint distribution of the original variables is unchanged, and only positive terms are
    multiplied and added. Original variables keep their names and their order; auxiliary ones are named
    `<child>~max<k>` and stand just before their child. Tables are left as they are. No split family has
    more than `max_parents` parents (at least 2), nor, where two parents allow it, more than `max_entries`
    numbers in its full table.
    """
    if max_parents < 2:
        raise ValueError("a split family needs room for two parents: the running maximum and one more")
    growing = _Growing()
    number: dict[int, int] = {}
    for variable, family in enumerate(network.families):
        moved = renumbered(family, number)
        if isinstance(moved, NoisyMax):
            moved = _split(growing, network, variable, moved, max_parents, max_entries)
        number[variable] = growing.add(network.names[variable], network.states[variable], moved)
    return growing.done()


def renumbered(family: Family, number: Mapping[int, int]) -> Family:
    """The family with its parents under new numbers."""
    parents = tuple(number[parent] for parent in family.parents)
    if isinstance(family, Table):
        return Table(parents, family.values)
    return NoisyMax(parents, family.leak, family.links)


def _split(
    growing: _Growing, network: Network, variable: int, family: NoisyMax, max_parents: int, max_entries: int
) -> NoisyMax:
    """Adds the auxiliary variables of one family; returns what is left for the child itself."""
    card = len(family.leak)
    bottom = np.eye(card)[0]
    groups = list(_groups([len(link) for link in family.links], card, max_parents, max_entries))
    last: tuple[int, ...] = ()
    carried: tuple[Array, ...] = ()
    for step, (start, stop) in enumerate(groups):
        parents = last + family.parents[start:stop]
        links = carried + family.links[start:stop]
        if step == len(groups) - 1:
            return NoisyMax(parents, family.leak, links)
        name = _free_name(network, variable, step + 1)
        last = (growing.add(name, network.states[variable], NoisyMax(parents, bottom, links)),)
        carried = (np.eye(card),)
    return family


def _groups(cards: list[int], card: int, max_parents: int, max_entries: int) -> Iterator[tuple[int, int]]:
    """Slices of the parents, as long as the limits allow; all but the first also hold the running maximum."""
    start = 0
    while start < len(cards):
        taken = 0 if start == 0 else 1
        entries = card ** (1 + taken)
        stop = start
        while (
            stop < len(cards)
            and taken < max_parents
            and (stop == start or entries * cards[stop] <= max_entries)
        ):
            entries *= cards[stop]
            taken += 1
            stop += 1
        yield start, stop
        start = stop


def _free_name(network: Network, variable: int, step: int) -> str:
    name = f"{network.names[variable]}{MARK}{step}"
    while name in network.index:
        name += "'"
    return name
