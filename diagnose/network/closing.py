"""How a table leaves its bucket: its variable summed out, or a hub closed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.network.joins import Scope
from diagnose.network.network import Array


@dataclass(frozen=True, slots=True)
class Closing:
    """What happens to the first axis of a table, that of the bucket's variable.

    It is summed out; or, of a hub, one `state` is kept, or the hub's variable takes its place: `turn` is where the
    axes go then, `back` the other way; where the variable had come in already, hub and variable agree on the
    `diagonal` (the variable's axis). `message`: the scope of what is sent.
    """

    message: Scope
    state: int = -1
    diagonal: int = -1
    turn: tuple[int, ...] = ()
    back: tuple[int, ...] = ()

    def sent(self, table: Array) -> Array:
        """The message."""
        if self.turn:
            return table.transpose(self.turn)
        if self.state >= 0:
            return np.asarray(table[self.state])
        if self.diagonal > 0:
            diagonal = np.diagonal(table, axis1=0, axis2=self.diagonal)
            return np.moveaxis(diagonal, -1, self.diagonal - 1)
        return np.asarray(table.sum(axis=0))

    def received(self, below: Array, full: tuple[int, ...]) -> Array:
        """The derivative by the table, of shape `full` and the batch, given that by the message."""
        if self.turn:
            return below.transpose(self.back)
        if self.state >= 0:
            found = np.zeros((full[0], *below.shape))
            found[self.state] = below
            return found
        if self.diagonal > 0:
            shape = [full[0] if axis in (0, self.diagonal) else 1 for axis in range(len(full) + 1)]
            return below[None] * np.eye(full[0]).reshape(shape)
        return below[None]


def closed(place: int, scope: Scope, message: Scope, state: int | None, variable: int) -> Closing:
    """How the bucket of variable `place` is left. `state`: None where it is no hub, the state that a hub is known
    to have, or -1; `variable`: that of a hub whose state is not known."""
    if state is None:
        return Closing(message)
    if state >= 0:
        return Closing(message, state)
    if variable in scope:
        return Closing(message, diagonal=scope.index(variable))
    renamed = [variable if v == place else v for v in scope]
    turn = [renamed.index(v) for v in message]
    back = [message.index(v) for v in renamed]
    return Closing(message, turn=(*turn, len(turn)), back=(*back, len(back)))
