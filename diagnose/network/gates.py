"""What must hold for a variable to show anything, and what it shows where that does not hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.knowledge.records import Cause, Condition, Finding
from diagnose.network.network import Array, Table
from diagnose.network.observed import one_hot

LEAST_MISLEADING = 1e-5
"""P(a finding is told though it cannot be), at least (judgement): a wrong word must not make a case
impossible."""
NOT_THERE = 1e-6
"""P(a finding is told of a machine that has not got what shows it) (judgement): nobody reads a code of what
is not fitted. Were it as often as the finding misleads where the system is, then where the fact is not known
most of such a code would speak for a machine without the system and for no cause at all."""


@dataclass(frozen=True, slots=True, eq=False)
class Gate:
    """A variable that must be in one of its states for another to show anything: `open`, shape (card,).
    `closed`: what the other shows where it is in none of them, shape (card of the other,)."""

    variable: int
    open: tuple[bool, ...]
    closed: Array


def misleading(node: Finding) -> Array:
    """What shows where nothing can be behind it: a finding can always be told wrongly."""
    above = [max(number.value * node.misleads, LEAST_MISLEADING) for number in node.leak]
    return np.array([1 - sum(above), *above])


def not_there(node: Cause | Condition | Finding) -> Array:
    """What shows on a machine that has not got it."""
    if not isinstance(node, Finding):
        return one_hot(2 if isinstance(node, Cause) else len(node.states), 0)
    least = np.minimum(misleading(node)[1:], NOT_THERE)
    return np.array([1 - least.sum(), *least])


def gated(gates: Sequence[Gate], free: int, card: int) -> Table:
    """P(state | gates, what it would be): as it would be where all are open, else as the first closed one
    says."""
    shape = tuple(len(gate.open) for gate in gates)
    values = np.broadcast_to(np.eye(card), (*shape, card, card)).copy()
    for axis, gate in reversed(list(enumerate(gates))):
        shut = [slice(None)] * axis + [~np.array(gate.open)]
        values[tuple(shut)] = gate.closed
    return Table((*(gate.variable for gate in gates), free), values)
