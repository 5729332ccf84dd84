"""How each cause arises of itself on one machine: a table over the facts that are not known and matter to it.

Facts that decide whether this kind of machine has the cause are always among them. Of those that multiply
its hazard the most telling one is (the one whose multiplier spreads most about its mean); each other one
that nobody has told counts at its mean, and in full once it is known. So two causes are tied together by a
fact only where it tells much of both: with every weak tie kept as well, exact inference on vague complaints
took tables a thousand times as large.

Values of one fact that can hold together (two jobs done lately) each bring a hazard of their own: what they add
to it is summed. Multiplied, two rare jobs that hardly ever meet would outweigh either.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from functools import cached_property

import numpy as np

from diagnose.knowledge.records import Cause, Condition, Finding, Knowledge
from diagnose.network.facts import Facts, FactVariable
from diagnose.network.machine import Machine
from diagnose.network.network import Array
from diagnose.network.priors import Exposures, expected, exposures, multiplier, presence


class Arising:
    """P(a cause arises of itself | the facts not known), for one machine. `portions`: causes that are one part of
    what their numbers speak of, with the share of that: all parts together have the number."""

    def __init__(
        self,
        knowledge: Knowledge,
        machine: Machine,
        facts: Facts,
        portions: Mapping[str, float] | None = None,
    ):
        self.knowledge, self.machine, self.facts = knowledge, machine, facts
        self.portions = portions or {}
        self._found: dict[str, tuple[tuple[FactVariable, ...], Array]] = {}
        self._telling: dict[FactVariable, float] = {}

    @cached_property
    def _exposures(self) -> Exposures:
        return exposures(self.knowledge)

    def variables(self, cause: Cause) -> tuple[FactVariable, ...]:
        """The unknown facts on which it hangs: those that decide whether a machine has it, the most telling one
        last."""
        return self._of(cause)[0]

    def table(self, cause: Cause) -> Array:
        """P(absent or present | these facts), shape (card of each fact..., 2)."""
        return self._of(cause)[1]

    def marginal(self, cause: Cause) -> float:
        """P(it arises of itself), whatever the facts not known."""
        variables, table = self._of(cause)
        if not variables:
            return float(table[1])
        return float((self.facts.joint(variables) * table[..., 1]).sum())

    @property
    def telling(self) -> Mapping[FactVariable, float]:
        """The facts on which the causes asked for so far hang, each with the most that it tells of one of them:
        standard deviation of what it multiplies by, over its mean."""
        return self._telling

    def _of(self, cause: Cause) -> tuple[tuple[FactVariable, ...], Array]:
        if cause.id not in self._found:
            self._found[cause.id] = self._worked_out(cause)
        return self._found[cause.id]

    def _worked_out(self, cause: Cause) -> tuple[tuple[FactVariable, ...], Array]:
        deciding = self._deciding(cause)
        factors = {v: self._factors(cause, v) for v in self._multiplying(cause)}
        spreads = {v: self._spread(v, factor) for v, factor in factors.items()}
        telling = max((v for v in spreads if spreads[v] > 0), key=spreads.__getitem__, default=None)
        mean, factors = self._rest_at_mean(factors, telling, deciding)
        known = multiplier(cause, self.machine.facts)
        to_expect = expected(cause, self.machine, self.per_hour(cause)) * known * mean
        variables = tuple(deciding) if telling is None or telling in deciding else (*deciding, telling)
        spreads |= {v: self._spread(v, factor) for v, factor in deciding.items()}
        self._telling |= {v: max(self._telling.get(v, 0.0), spreads[v]) for v in variables}
        values = np.ones(tuple(len(v.states) for v in variables)) * to_expect
        for axis, v in enumerate(variables):
            shape = [1] * len(variables)
            shape[axis] = len(v.states)
            for weight in (factors.get(v), deciding.get(v)):
                values = values if weight is None else values * weight.reshape(shape)
        p = presence(cause, values)
        if cause.id in self.portions:
            p = 1 - (1 - p) ** self.portions[cause.id]
        return variables, np.stack([1 - p, p], axis=-1)

    def _rest_at_mean(
        self,
        factors: Mapping[FactVariable, Array],
        telling: FactVariable | None,
        deciding: Collection[FactVariable],
    ) -> tuple[float, dict[FactVariable, Array]]:
        """What the facts that stay out of the table multiply by on average, and the factors of those in it: what
        other values of the telling fact add is in its own."""
        beside, kept = dict[str, float](), dict(factors)
        for v, factor in factors.items():
            if v != telling and v not in deciding:
                beside[v.fact] = beside.get(v.fact, 0.0) + float(self.facts.joint((v,)) @ factor) - 1
        if telling and telling.value:
            kept[telling] = np.maximum(factors[telling] + beside.pop(telling.fact, 0.0), 0.0)
        return float(np.prod([max(1 + more, 0.0) for more in beside.values()])), kept

    def _deciding(self, cause: Cause) -> dict[FactVariable, Array]:
        """The unknown facts that decide whether a machine has the cause: 1 for each value with which it does."""
        open = [one for one in cause.only_if if self.facts.unknown(one.fact) and self.facts.chance(one) < 1]
        found = {}
        for one in open:
            (v,) = self.facts.variables(one.fact)
            found[v] = np.array([float(value in one.values) for value in v.states])
        return found

    def _multiplying(self, cause: Cause) -> list[FactVariable]:
        """The unknown facts that multiply its hazard."""
        told = {(one.fact, one.value) for one in cause.modifiers}
        asked = dict.fromkeys(one.fact for one in cause.modifiers)
        if exposed := self._exposures.fact(cause.per):
            asked[exposed] = None
        return [
            v
            for fact in asked
            if self.facts.unknown(fact)
            for v in self.facts.variables(fact)
            if not v.value or (fact, v.value) in told
        ]

    def _factors(self, cause: Cause, v: FactVariable) -> Array:
        """By how much each state of the variable multiplies the hazard."""
        found = np.array([multiplier(cause, v.as_fact(state)) for state in range(len(v.states))])
        if v.fact == self._exposures.fact(cause.per):
            found = found * self._by_value(cause, v) / self.per_hour(cause)
        return found

    def _by_value(self, cause: Cause, v: FactVariable) -> Array:
        return np.array([self._exposures.per_hour(cause.per, value) for value in v.states])

    def per_hour(self, cause: Cause) -> float:
        """What the frequency counts, per running hour; on average where that depends on a fact nobody has told."""
        exposed = self._exposures.fact(cause.per)
        if exposed and self.facts.unknown(exposed):
            (v,) = self.facts.variables(exposed)
            return float(self.facts.joint((v,)) @ self._by_value(cause, v))
        return self._exposures.per_hour(cause.per, self.machine.facts.get(exposed, ""))

    def _spread(self, v: FactVariable, factor: Array) -> float:
        """Standard deviation of the multiplier over its mean."""
        shares = self.facts.joint((v,))
        mean = float(shares @ factor)
        return float(np.sqrt(shares @ (factor - mean) ** 2)) / mean if mean > 0 else 0.0


def can_be(knowledge: Knowledge, machine: Machine) -> Callable[[Cause | Condition | Finding], bool]:
    """Tells of a record whether this machine can have or show it, by what is known of it."""
    facts = Facts(knowledge.facts, machine.facts)
    return lambda record: all(facts.chance(one) > 0 for one in record.only_if)
