"""The machine's facts as root variables: those not known, with what the known ones make of them.

Facts form a forest (a fact depends on at most one other), so that knowing some of them leaves a forest over
the rest: what is known below a fact weighs its values (Pearl's messages in a tree), and every table is
normalised again. A fact of which several values can hold is one yes-or-no variable a value.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from diagnose.errors import DiagnoseError
from diagnose.knowledge.machine_facts import Fact, Requirement
from diagnose.knowledge.number import Number
from diagnose.knowledge.observable import NO_YES, fact_name
from diagnose.network.network import Array


class ImpossibleFacts(DiagnoseError):
    """No machine has these facts together. `names`: the facts with their values."""

    def __init__(self, names: Iterable[str]):
        self.names = tuple(names)
        super().__init__(f"no machine has these facts together: {', '.join(self.names)}")


@dataclass(frozen=True, slots=True)
class FactVariable:
    """A fact that is not known, or one value of a fact of which several can hold (`value`)."""

    fact: str
    value: str
    states: tuple[str, ...]

    @property
    def name(self) -> str:
        """The variable's name in the network."""
        return fact_name(self.fact, self.value)

    def as_fact(self, state: int) -> Mapping[str, str]:
        """The fact, were the variable in this state; nothing where the value does not hold."""
        if not self.value:
            return {self.fact: self.states[state]}
        return {self.fact: self.value} if state else {}


@dataclass(frozen=True, eq=False)
class Facts:
    """All facts of the knowledge, and what was told of one machine; a value that the knowledge does not list (any
    more) tells nothing. Raises ImpossibleFacts on first use."""

    all: Mapping[str, Fact]
    told: Mapping[str, str]

    @cached_property
    def known(self) -> Mapping[str, str]:
        """The facts told that the knowledge has."""
        return {id: v for id, v in self.told.items() if id in self.all and v in self.all[id].values}

    def consistent(self) -> bool:
        """Whether there are machines with these facts. Raises ImpossibleFacts where not."""
        return self._tables is not None

    def unknown(self, fact: str) -> bool:
        """Whether the knowledge has the fact and nobody has said it of this machine."""
        return fact in self.all and fact not in self.known

    def variables(self, fact: str) -> tuple[FactVariable, ...]:
        """The variables that stand for an unknown fact."""
        one = self.all[fact]
        if one.several:
            return tuple(FactVariable(fact, value, NO_YES) for value in one.values[1:])
        return (FactVariable(fact, "", one.values),)

    def parent(self, fact: str) -> str:
        """The unknown fact that it depends on; none: empty."""
        given = self.all[fact].given
        return given if given and self.unknown(given) else ""

    def above(self, facts: Iterable[str]) -> list[str]:
        """These unknown facts and those that they depend on, these first."""
        found: dict[str, None] = {}

        def visit(fact: str) -> None:
            if fact not in found:
                if parent := self.parent(fact):
                    visit(parent)
                found[fact] = None

        for fact in facts:
            visit(fact)
        return list(found)

    def table(self, variable: FactVariable) -> Array:
        """P(variable | the unknown fact that it depends on, all that is known): shape (card,) or (parent, card)."""
        fact = self.all[variable.fact]
        if variable.value:
            p = _shares(fact, fact.shares)[fact.values.index(variable.value)]
            return np.array([1 - p, p])
        return self._tables[variable.fact]

    def chance(self, requirement: Requirement) -> float:
        """P(the requirement is met)."""
        key = (requirement.fact, requirement.values)
        if key not in self._chances:
            self._chances[key] = self._met(requirement)
        return self._chances[key]

    @cached_property
    def _chances(self) -> dict[tuple[str, tuple[str, ...]], float]:
        return {}

    def _met(self, requirement: Requirement) -> float:
        fact = self.all.get(requirement.fact)
        known = (self.known if fact else self.told).get(requirement.fact)
        if known is not None or fact is None:
            return float(known is None or known in requirement.values)
        if fact.several:
            return 1.0
        marginal = self.joint((self.variables(fact.id)[0],))
        return float(marginal[[fact.values.index(v) for v in requirement.values if v in fact.values]].sum())

    def joint(self, variables: tuple[FactVariable, ...]) -> Array:
        """P(variables), one axis each."""
        if variables not in self._joints:
            self._joints[variables] = self._joined(variables)
        return self._joints[variables]

    def _joined(self, variables: tuple[FactVariable, ...]) -> Array:
        wanted = dict.fromkeys(v.fact for v in variables if not v.value)  # in order: so sums never differ
        chain = [self.variables(fact)[0] for fact in self.above(wanted)]
        axes = {v.name: axis for axis, v in enumerate(chain)}
        operands: list[Any] = []
        for v in chain:
            parent = self.parent(v.fact)
            operands += [self.table(v), [*([axes[parent]] if parent else []), axes[v.name]]]
        for v in variables:
            if v.value:
                axes[v.name] = len(axes)
                operands += [self.table(v), [axes[v.name]]]
        found: Array = np.einsum(*operands, [axes[v.name] for v in variables])
        return found

    @cached_property
    def _joints(self) -> dict[tuple[FactVariable, ...], Array]:
        return {}

    @cached_property
    def _tables(self) -> dict[str, Array]:
        """Of each unknown fact with one value: its table, weighed by what is known below it."""
        weights: dict[str, Array] = {}
        tables: dict[str, Array] = {}
        for fact in reversed(self._order):
            weight = weights.get(fact.id, np.ones(len(fact.values)))
            known = self.known.get(fact.id)
            if known is not None:
                weight = np.array([float(value == known) for value in fact.values])
            rows = self._rows(fact) * weight
            total = rows.sum(axis=-1, keepdims=True)
            if self.parent(fact.id):
                weights[fact.given] = weights.get(fact.given, 1.0) * total[..., 0]
            elif not (total > 0).all():
                raise ImpossibleFacts(self._told(fact))
            if known is None:
                tables[fact.id] = np.where(
                    total > 0, rows / np.where(total > 0, total, 1.0), self._rows(fact)
                )
        return tables

    @cached_property
    def _order(self) -> list[Fact]:
        """Facts with one value, each after the one it depends on; two that go round stop where they meet."""
        order: dict[str, None] = {}
        for fact in self.all:
            chain = []
            at = fact
            while at and at in self.all and at not in order and at not in chain:
                chain.append(at)
                at = self.all[at].given
            order |= dict.fromkeys(reversed(chain))
        return [self.all[id] for id in order if not self.all[id].several]

    def _rows(self, fact: Fact) -> Array:
        """P(fact | the one it depends on, as far as it is known), before anything below: (card,) or
        (parent, card)."""
        if not fact.given or fact.given not in self.all:
            return _shares(fact, fact.shares)
        if (value := self.known.get(fact.given)) is not None:
            return _shares(fact, fact.shares_by.get(value, fact.shares))
        values = self.all[fact.given].values
        return np.array([_shares(fact, fact.shares_by.get(value, fact.shares)) for value in values])

    def _told(self, fact: Fact) -> list[str]:
        """The known facts that depend on this one, and it itself."""
        below = {fact.id}
        for one in self._order:
            if one.given in below:
                below.add(one.id)
        near = {*below, fact.given}
        return [f"{self.all[id].name} {value}" for id, value in self.known.items() if id in near]


def _shares(fact: Fact, shares: tuple[Number, ...]) -> Array:
    """The shares as they stand, or all values alike; of single values summing to 1."""
    if not shares:
        return np.full(len(fact.values), 1 / len(fact.values))
    found = np.array([number.value for number in shares])
    return found if fact.several else found / found.sum()
