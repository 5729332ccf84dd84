"""A network with its numbers laid open: each leak and each row of each link becomes a small variable of its own, so
that one run of the engine tells how every number bears on the evidence.

A noisy-MAX effect is the maximum of what its leak and each parent contribute (Diez, UAI 1993). Written out, the
contributions are variables; nothing else changes, and the tree grows no wider, for each is summed out first.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from diagnose.network.network import Array, Family, Network, NoisyMax, Table


@dataclass(frozen=True, slots=True)
class ExposedRow:
    """One distribution that was laid open: what `variable` draws by itself where `parent` is in `state`.

    `child`: the variable of the plain network that it belongs to; a prior or leak has no `parent`.
    """

    variable: int
    child: int
    parent: int | None = None
    state: int = 0


@dataclass(frozen=True, eq=False)
class Exposed:
    """The larger network; `places[v]`: its number for variable v of the plain network; and all rows."""

    network: Network
    places: tuple[int, ...]
    rows: tuple[ExposedRow, ...]


def expose(network: Network, wanted: Collection[int]) -> Exposed:
    """The network with the families of the `wanted` variables laid open.

    A table of something that arises by its parents' states (a cause, by facts that are not known) becomes a
    root with its largest probability, and a table of how much of that remains: one number moves all its
    rows alike. Tables that only hand on what is there (gates) stay as they are.
    """
    return _Exposer(network, frozenset(wanted)).run()


class _Exposer:
    def __init__(self, network: Network, wanted: frozenset[int]):
        self.plain, self.wanted = network, wanted
        self.names: list[str] = []
        self.states: list[tuple[str, ...]] = []
        self.families: list[Family] = []
        self.places: list[int] = []
        self.rows: list[ExposedRow] = []

    def run(self) -> Exposed:
        for variable, family in enumerate(self.plain.families):
            name, states = self.plain.names[variable], self.plain.states[variable]
            if isinstance(family, NoisyMax):
                opened = self._opened(variable, family) if variable in self.wanted else self._moved(family)
                self.places.append(self._add(name, states, opened))
            else:
                moved = Table(tuple(self.places[p] for p in family.parents), family.values)
                if variable in self.wanted and _arises(family):
                    moved = self._factored(variable, moved)
                self.places.append(self._add(name, states, moved))
                if variable in self.wanted and not family.parents:
                    self.rows.append(ExposedRow(self.places[-1], variable))
        network = Network(tuple(self.names), tuple(self.states), tuple(self.families))
        return Exposed(network, tuple(self.places), tuple(self.rows))

    def _factored(self, variable: int, family: Table) -> Table:
        """A root that draws the largest of the table's probabilities, and the rest of the table over it."""
        name, states = self.plain.names[variable], self.plain.states[variable]
        present = family.values[..., 1]
        most = float(present.max())
        root = self._part(f"{name}<", states, Table((), np.array([1 - most, most])), ExposedRow(0, variable))
        left = np.stack([np.zeros_like(present), present / most], axis=-1)
        return Table((*family.parents, root), np.stack([1 - left, left], axis=-1))

    def _moved(self, family: NoisyMax) -> NoisyMax:
        return NoisyMax(tuple(self.places[p] for p in family.parents), family.leak, family.links)

    def _opened(self, variable: int, family: NoisyMax) -> NoisyMax:
        """The family over its contributions, each handed on as it is."""
        name, states = self.plain.names[variable], self.plain.states[variable]
        parts = []
        if 0 < family.leak[0] < 1:
            parts.append(self._part(f"{name}<", states, Table((), family.leak), ExposedRow(0, variable)))
        for parent, link in zip(family.parents, family.links, strict=True):
            for state in range(1, len(link)):
                row = ExposedRow(0, variable, parent, state)
                table = Table((self.places[parent],), _only_in(link, state))
                parts.append(self._part(f"{name}<{self.plain.names[parent]}={state}", states, table, row))
        leak = _first(len(states)) if 0 < family.leak[0] < 1 else family.leak
        return NoisyMax(tuple(parts), leak, (np.eye(len(states)),) * len(parts))

    def _part(self, name: str, states: tuple[str, ...], family: Table, row: ExposedRow) -> int:
        variable = self._add(name, states, family)
        self.rows.append(ExposedRow(variable, row.child, row.parent, row.state))
        return variable

    def _add(self, name: str, states: tuple[str, ...], family: Family) -> int:
        self.names.append(name)
        self.states.append(states)
        self.families.append(family)
        return len(self.names) - 1


def _arises(family: Table) -> bool:
    """Whether a table with parents says how likely something is to be there, rather than hand on what is."""
    if not family.parents or family.values.shape[-1] != 2:
        return False
    return not np.isin(family.values, (0.0, 1.0)).all()


def _only_in(link: Array, state: int) -> Array:
    """The link's row of one parent state; the other states contribute nothing. Shape as the link's."""
    table = np.tile(_first(link.shape[1]), (len(link), 1))
    table[state] = link[state]
    return table


def _first(card: int) -> Array:
    vector = np.zeros(card)
    vector[0] = 1.0
    return vector
