"""Machines drawn from a network, many at once, with what brought each state about.

A noisy-MAX effect is the largest of what its leak and each parent contribute (Diez, UAI 1993). The
contributions are drawn one by one, so it is known which of them the effect owes its state to. A table has no
such parts: there a parent is what a state is owed to where the same draw would have ended elsewhere with that
parent in its first state.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.network.network import Array, Network, NoisyMax, Table

States = NDArray[np.uint8]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Herd:
    """Machines drawn together.

    `states`: shape (variables, machines). `own`: where a variable that is not in its first state got there of
    itself (by its leak, its prior, facts of the machine), same shape. `brought[v][i]`: the machines on which
    parent i brought variable v into the state that it is in. Several can have done so at once.
    """

    network: Network
    states: States
    own: Flags
    brought: tuple[tuple[Rows, ...], ...]


def herd(network: Network, machines: int, rng: np.random.Generator, events: Collection[int]) -> Herd:
    """So many machines, drawn independently, parents first.

    `events`: the variables that bring something about or are brought about. All others serve these: tables at
    the top are facts of the machine and blamed for nothing; what arises of itself in a variable on the way to
    an event arose of itself in the event.
    """
    still = background(network, events)
    states: States = np.zeros((len(network.families), machines), dtype=np.uint8)
    own: Flags = np.zeros(states.shape, dtype=np.bool_)
    brought: list[tuple[Rows, ...]] = []
    for v, family in enumerate(network.families):
        above = [states[parent] for parent in family.parents]
        free = [parent not in still for parent in family.parents]
        draws = rng.random(machines)
        if isinstance(family, NoisyMax):
            states[v], own[v], rows = _maximum(family, above, draws, rng)
        else:
            states[v], own[v], rows = _looked_up(family, above, free, draws)
        for parent, mine, counts in zip(family.parents, rows, free, strict=True):
            if parent not in events:
                own[v, mine[own[parent, mine]] if counts else mine] = True
        brought.append(tuple(mine if counts else mine[:0] for mine, counts in zip(rows, free, strict=True)))
    return Herd(network, states, own, tuple(brought))


def background(network: Network, events: Collection[int]) -> frozenset[int]:
    """Facts of the machine and what follows from these alone: tables that are no events, nor hang on one."""
    found: set[int] = set()
    for v, family in enumerate(network.families):
        if v not in events and isinstance(family, Table) and found.issuperset(family.parents):
            found.add(v)
    return frozenset(found)


def behind(herd: Herd, shown: Iterable[int]) -> Flags:
    """What is behind these variables where they are not in their first state: they themselves, what brought
    them about, what brought that about, and so on. Shape (variables, machines)."""
    found: Flags = np.zeros(herd.states.shape, dtype=np.bool_)
    for v in shown:
        found[v] = herd.states[v] > 0
    for v in reversed(range(len(found))):
        for parent, rows in zip(herd.network.parents(v), herd.brought[v], strict=True):
            found[parent, rows[found[v, rows]]] = True
    return found


Outcome = tuple[States, Flags, Sequence[Rows]]


def _maximum(family: NoisyMax, above: Sequence[States], draws: Array, rng: np.random.Generator) -> Outcome:
    """The largest contribution; whatever reaches as far has brought it about."""
    alone = _reached(family.leak, draws)
    largest, shares = alone.copy(), []
    for link, parent in zip(family.links, above, strict=True):
        rows = np.flatnonzero(parent if link[0, 0] == 1 else np.ones_like(parent))
        share = _reached(link[parent[rows]], rng.random(len(rows)))
        largest[rows] = np.maximum(largest[rows], share)
        shares.append((rows, share))
    own = (alone == largest) & (largest > 0)
    return largest, own, [rows[(share == largest[rows]) & (share > 0)] for rows, share in shares]


def _looked_up(family: Table, above: Sequence[States], free: Sequence[bool], draws: Array) -> Outcome:
    """What the table gives of itself is what it gives with every free parent in its first state. Where no
    free parent alone made the difference, all those that are there together did."""
    here = _looked(family, above, draws)
    alone = _looked(family, [state * (not one) for state, one in zip(above, free, strict=True)], draws)
    own = (here > 0) & (alone == here)
    caused = (here > 0) & ~own
    moved = [
        caused & (_looked(family, _reset(above, i), draws) != here) if one else np.zeros_like(own)
        for i, one in enumerate(free)
    ]
    together = caused & ~np.logical_or.reduce(moved, axis=0, initial=False) if moved else caused
    both = [m | (together & one & (state > 0)) for m, one, state in zip(moved, free, above, strict=True)]
    return here, own, [np.flatnonzero(one) for one in both]


def _reset(above: Sequence[States], position: int) -> list[States]:
    return [np.zeros_like(state) if i == position else state for i, state in enumerate(above)]


def _looked(family: Table, above: Sequence[States], draws: Array) -> States:
    return _reached(family.values[tuple(above)] if above else family.values, draws)


def _reached(distribution: Array, draws: Array) -> States:
    """The state in which each draw falls. `distribution`: shape (states,) or (draws, states)."""
    found: States = np.zeros(len(draws), dtype=np.uint8)
    bound: Array | float = 0.0
    for state in range(distribution.shape[-1] - 1):
        bound = bound + distribution[..., state]
        found += draws >= bound
    return found
