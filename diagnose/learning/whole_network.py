"""The whole knowledge as one network, with the row of the numbers that each table of it comes from.

It holds the causes of all families and no gates: what cannot be on a machine, and findings that a gate may have
silenced, are cut out case by case (`counts`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.records import Knowledge
from diagnose.learning.learnable import Numbers, numbers_of
from diagnose.network.build import build
from diagnose.network.machine import Machine
from diagnose.network.messages import Hub
from diagnose.network.network import Array, Network, NoisyMax, Table

FIXED = -1
"""Row of a table that is not learnt."""

Shape = tuple[list[tuple[int, ...]], dict[int, int], dict[int, Hub]]
"""Scopes of the factors, states of each variable and hub, hubs."""


@dataclass(frozen=True, slots=True)
class Arrow:
    """A link: its parent, its first row, and its table where it is not learnt (row FIXED)."""

    parent: int
    row: int
    table: Array | None = None


@dataclass(frozen=True, eq=False)
class Graph:
    """`findings`, `conditions`: id -> variable; `cause_of`: variable -> number of the cause among the
    numbers'."""

    network: Network
    numbers: Numbers
    findings: dict[str, int]
    conditions: dict[str, int]
    cause_of: dict[int, int]

    @cached_property
    def variable_of(self) -> dict[str, int]:
        """Cause id -> variable."""
        return {self.numbers.causes[cause]: variable for variable, cause in self.cause_of.items()}

    @cached_property
    def arrows(self) -> tuple[tuple[Arrow, ...], ...]:
        """The links into each variable."""
        return tuple(self._arrows(variable) for variable in range(len(self.network.names)))

    @cached_property
    def parents(self) -> tuple[tuple[int, ...], ...]:
        """The parents of each variable."""
        return tuple(tuple(arrow.parent for arrow in arrows) for arrows in self.arrows)

    @cached_property
    def roots(self) -> frozenset[int]:
        """The causes that nothing in the knowledge brings about."""
        return frozenset(v for v in self.cause_of if not self.parents[v])

    @cached_property
    def above(self) -> NDArray[np.bool_]:
        """above[v, w]: w is v or an ancestor of v."""
        found = np.eye(len(self.network.names), dtype=bool)
        for variable, parents in enumerate(self.parents):
            for parent in parents:
                found[variable] |= found[parent]
        return found

    @cached_property
    def consequences(self) -> dict[int, frozenset[int]]:
        """For each cause, those that it can bring about, directly or not."""
        causes = np.array(sorted(self.cause_of))
        below = self.above[causes].T
        return {int(v): frozenset(causes[below[v]].tolist()) - {int(v)} for v in causes}

    @cached_property
    def inner(self) -> frozenset[int]:
        """The causes that are no roots, and what is hidden above them: in every tree, for what a case was
        says something of each of them."""
        brought_about = self.cause_of.keys() - self.roots
        return frozenset(brought_about).union(*(self.hidden_above(v) for v in brought_about))

    def hidden_above(self, variable: int) -> frozenset[int]:
        """What stands above a variable, roots aside."""
        if variable not in self._hidden_above:
            found = np.flatnonzero(self.above[variable]).tolist()
            self._hidden_above[variable] = frozenset(found) - self.roots - {variable}
        return self._hidden_above[variable]

    @cached_property
    def _hidden_above(self) -> dict[int, frozenset[int]]:
        return {}

    def vagueness(self, finding: int) -> tuple[int, int]:
        """Sorts findings, those first with the most above them."""
        return -len(self.hidden_above(finding)), finding

    def hub(self, variable: int) -> int:
        """Where contributions to a variable come together."""
        return len(self.network.names) + variable

    def inside(self, variable: int, region: Iterable[int]) -> tuple[Arrow, ...]:
        """The links into a variable from within a region."""
        return tuple(arrow for arrow in self.arrows[variable] if arrow.parent in region)

    def shape(self, region: Iterable[int]) -> Shape:
        """What a tree over a region looks like; every variable with parents has a hub, whether they are in
        the region or not, and roots have none."""
        held = set(region)
        scopes: list[tuple[int, ...]] = []
        cards: dict[int, int] = {}
        hubs: dict[int, Hub] = {}
        for variable in sorted(held):
            cards[variable] = self.network.cards[variable]
            if self.parents[variable]:
                hub = self.hub(variable)
                cards[hub], hubs[hub] = cards[variable], Hub(variable)
                scopes.extend((arrow.parent, hub) for arrow in self.inside(variable, held))
        return scopes, cards, hubs

    def leak_row(self, variable: int) -> int:
        """The row of the leak of an effect, or of the prior of a cause."""
        if variable in self.cause_of:
            return self.cause_of[variable]
        return self.numbers.leak.get(self.network.names[variable], FIXED)

    def leak(self, variable: int, values: Array) -> Array:
        """The leak of an effect by these numbers, shape (card,); not for causes, whose priors differ by
        machine."""
        row = self.leak_row(variable)
        if row != FIXED:
            return values[self.numbers.start[row] : self.numbers.start[row + 1]]
        family = self.network.families[variable]
        return family.values if isinstance(family, Table) else family.leak

    def link(self, effect: int, arrow: Arrow, values: Array) -> Array:
        """The table of a link by these numbers, shape (card of the parent, card of the effect)."""
        if arrow.table is not None:
            return arrow.table
        rows, card = self.network.cards[arrow.parent] - 1, self.network.cards[effect]
        at = self.numbers.start[arrow.row]
        return np.vstack([np.eye(card)[:1], values[at : at + rows * card].reshape(rows, card)])

    def _arrows(self, variable: int) -> tuple[Arrow, ...]:
        family, names = self.network.families[variable], self.network.names
        if not isinstance(family, NoisyMax):
            return ()
        found = []
        for parent, table in zip(family.parents, family.links, strict=True):
            row = self.numbers.link.get((names[parent], names[variable]), FIXED)
            found.append(Arrow(parent, row, table if row == FIXED else None))
        return tuple(found)


def graph_of(knowledge: Knowledge) -> Graph:
    """The graph of a knowledge."""
    built, numbers = build(_without_gates(knowledge), Machine()), numbers_of(knowledge)
    findings = {id: built.variable(id) for id in knowledge.findings}
    conditions = {id: built.variable(id) for id in knowledge.conditions}
    cause_of = {built.variable(id): number for number, id in enumerate(numbers.causes)}
    return Graph(built.network, numbers, findings, conditions, cause_of)


def _without_gates(knowledge: Knowledge) -> Knowledge:
    """Without facts every cause, condition and finding applies, and every cause arises alike; without what findings
    clear, each effect is a plain noisy-MAX of its parents."""
    findings = {id: replace(one, clears=()) for id, one in knowledge.findings.items()}
    return replace(knowledge, facts={}, findings=findings)
