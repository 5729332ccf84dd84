"""Tables of one mechanism: what a link contributes, what is there without any, what is left of a state."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Link
from diagnose.network.network import Array

OTHER_STRENGTH = 0.9  # judgement: as most listed causes of a complaint bring it about


def link_table(link: Link, card: int) -> Array:
    """The link's contribution by parent state, shape (parent card, effect card); row 0 is "nothing"."""
    if card == 2 and len(link.strengths) == 1:  # most are
        p = link.strengths[0][0].value
        return np.array(((1.0, 0.0), (1.0 - p, p)))
    rows = [[number.value for number in strengths] for strengths in link.strengths]
    table = np.zeros((len(rows) + 1, card))
    table[1:, 1:] = rows
    table[:, 0] = 1 - table.sum(axis=1)
    return table


def leak_vector(leak: Sequence[Number]) -> Array:
    """Distribution of the states with no parent present."""
    above = [number.value for number in leak]
    return np.array([1 - sum(above), *above])


def breaks(table: Array) -> Array:
    """Where the cumulative distributions of the parent's states cut the unit interval; ends with 1."""
    cuts = np.unique(np.clip(np.cumsum(table, axis=1)[:, :-1], 0.0, 1.0))
    return np.array([*(cut for cut in cuts if 1e-15 < cut < 1 - 1e-15), 1.0])


def inhibited(table: Array) -> Array:
    """What a link contributes, given into which of its `breaks` the draw fell: certain, shape (parent card,
    breaks, effect card)."""
    draws = breaks(table)
    middle = draws - np.diff(draws, prepend=0.0) / 2
    states = (np.cumsum(table, axis=1)[:, None, :] < middle[None, :, None]).sum(axis=2)
    contributed: Array = np.eye(table.shape[1])[np.minimum(states, table.shape[1] - 1)]
    return contributed


def what_is_left(card: int, effectiveness: float) -> Array:
    """What is left of each state after something that takes it away so often; shape (card, card)."""
    table: Array = np.eye(card) * (1 - effectiveness)
    table[:, 0] += effectiveness
    return table


def presence(p: float) -> Array:
    """Distribution of absent and present."""
    return np.array([1 - p, p])


def other_table(card: int) -> Array:
    """A cause that is not listed brings the complaint's last state about with probability OTHER_STRENGTH."""
    table = np.zeros((2, card))
    table[0, 0] = 1.0
    table[1, 0], table[1, -1] = 1 - OTHER_STRENGTH, OTHER_STRENGTH
    return table
