"""How a table leaves its bucket: its variable summed out, a hub closed, or a hub's variable closed before the
hub."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from diagnose.network.joins import Scope
from diagnose.network.network import Array


class Leave(Enum):
    """What happens to the axis of the bucket's variable, the first."""

    SUM = 0
    """It is summed out."""
    STATE = 1
    """Of a hub: one state is kept: the known one, or, where the table awaits what is still to come, none."""
    TURN = 2
    """Of a hub: all has come in, the hub's variable takes its place; of the variable: the hub takes
    its place, and the table awaits what comes in."""
    AGREE = 3
    """Of a hub whose variable had come in already: both agree."""
    TAKE_IN = 4
    """Of a variable whose hub had come in already: what came in is taken in, the table awaits the rest."""
    LIKELY = 5
    """Of a hub: its states count by likelihoods."""


@dataclass(frozen=True, slots=True)
class Elimination:
    """`message`: the scope of what is sent; `awaits`: the hubs along which it awaits; `state`: of STATE;
    `turn`: where the axes go in TURN, `back` the other way; `likelihood`: of LIKELY, shape (card, batch);
    `other`: the axis of the hub or variable that had come in."""

    message: Scope
    awaits: frozenset[int]
    leave: Leave = Leave.SUM
    state: int = 0
    other: int = 0
    turn: tuple[int, ...] = ()
    back: tuple[int, ...] = ()
    likelihood: Array | None = None

    def likely(self, likelihood: Array) -> Elimination:
        """The same with likelihoods of the states, shape (card, batch), in the place of a known state."""
        return replace(self, leave=Leave.LIKELY, likelihood=likelihood)

    def sent(self, table: Array) -> Array:
        """The message."""
        match self.leave:
            case Leave.SUM:
                return np.asarray(table.sum(axis=0))
            case Leave.STATE:
                return np.asarray(table[self.state])
            case Leave.LIKELY:
                return np.asarray((table * self._spread(table.ndim)).sum(axis=0))
            case Leave.TURN:
                return table.transpose(self.turn)
            case Leave.AGREE:
                return np.moveaxis(np.diagonal(table, axis1=0, axis2=self.other), -1, self.other - 1)
        # TAKE_IN: out(r) = sum over t of table(max(r, t), t)
        moved = np.moveaxis(table, self.other, 1)
        states = len(moved)
        parts = [
            sum((moved[t, t] for t in range(r + 1, states)), moved[r, : r + 1].sum(axis=0))
            for r in range(states)
        ]
        return np.moveaxis(np.stack(parts), 0, self.other - 1)

    def _spread(self, axes: int) -> Array:
        assert self.likelihood is not None
        states, batch = self.likelihood.shape
        return self.likelihood.reshape(states, *(1,) * (axes - 2), batch)

    def received(self, below: Array, full: tuple[int, ...]) -> Array:
        """The derivative by the table, of shape `full` and the batch, given that by the message."""
        match self.leave:
            case Leave.SUM:
                return below[None]
            case Leave.STATE:
                found = np.zeros((full[0], *below.shape))
                found[self.state] = below
                return found
            case Leave.LIKELY:
                return below[None] * self._spread(below.ndim + 1)
            case Leave.TURN:
                return below.transpose(self.back)
        states, n = full[0], below.ndim
        if self.leave is Leave.AGREE:
            shape = [states if axis in (0, self.other) else 1 for axis in range(n + 1)]
            return below[None] * np.eye(states).reshape(shape)
        if below.shape[self.other - 1] != states:
            below = np.repeat(below, states, axis=self.other - 1)
        moved = np.moveaxis(below, self.other - 1, 0)
        found = np.zeros((states, states, *moved.shape[1:]))
        for y in range(states):
            found[y, :y] = moved[y]
            found[y, y] = moved[: y + 1].sum(axis=0)
        return np.moveaxis(found, 1, self.other)


def closed(
    place: int, scope: Scope, message: Scope, awaits: frozenset[int], state: int | None, partner: int = -1
) -> Elimination:
    """How the bucket of variable `place` is left.

    `awaits`: the hubs along which its table does. `state`: None where it is no hub, the state that a hub is
    known to have, or -1. `partner`: where it is still to be eliminated, the hub's variable, or the variable's
    hub; else -1.
    """
    still = awaits - {place}
    if state is not None and (state >= 0 or place in awaits):
        return Elimination(message, still, Leave.STATE, max(state, 0))
    if partner < 0:
        return Elimination(message, still)
    if state is None:
        still |= {partner}
    if partner in scope:
        leave = Leave.TAKE_IN if state is None else Leave.AGREE
        return Elimination(message, still, leave, other=scope.index(partner))
    renamed = [partner if v == place else v for v in scope]
    turn = [renamed.index(v) for v in message]
    back = [message.index(v) for v in renamed]
    return Elimination(message, still, Leave.TURN, turn=(*turn, len(turn)), back=(*back, len(back)))
