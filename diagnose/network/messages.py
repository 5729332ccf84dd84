"""What buckets hold and send to each other, and how wide they may be (buckets.py)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.errors import DiagnoseError
from diagnose.network.joins import Join, Scope
from diagnose.network.leaving import Elimination
from diagnose.network.network import Array

MAX_TABLE = 1 << 24  # numbers of a table: 128 MB


class TooWide(DiagnoseError):
    """The network cannot be solved exactly in reasonable memory; `widest` is the largest table allowed."""

    def __init__(self, widest: int):
        self.widest = widest
        super().__init__(
            f"too many causes are tied together to be exact (a table of more than {widest:,} numbers)"
        )


@dataclass(frozen=True, slots=True)
class Hub:
    """Where contributions to one variable come together. `state`: the variable's known state, -1 if
    unknown."""

    variable: int
    state: int = -1


@dataclass(frozen=True, slots=True, eq=False)
class Beliefs:
    """For each case of the batch: log P(weights) and, for each target, the normalised marginal."""

    log_probability: Array
    marginals: dict[int, Array]


@dataclass(frozen=True, slots=True, eq=False)
class Bucket:
    """What is combined when one variable goes: `base`, then the messages of `children`, each joined in its
    turn. `full`: the shape of the whole table, without the batch."""

    scope: Scope
    base: Array
    children: tuple[int, ...]
    joins: tuple[Join, ...]
    full: tuple[int, ...]
    closing: Elimination

    def gradient(self, closing: Elimination, below: Array | None) -> Array:
        """The derivative by the whole bucket's table, from that by its message (1 where it is a root)."""
        given = np.ones((1,) * (len(closing.message) + 1)) if below is None else below
        return closing.received(given, self.full)


@dataclass(frozen=True, slots=True, eq=False)
class Sent:
    """What came of a bucket: the tables before each join (and after the last, where its closing needs it),
    its message, scaled to a largest number of 1, the scale, and how it was closed."""

    tables: tuple[Array, ...]
    message: Array
    scale: Array
    closing: Elimination


@dataclass(slots=True, eq=False)
class ForwardPass:
    """One pass forward: what each bucket sent, and log P of each case."""

    sent: list[Sent]
    log_probability: Array


def bucket_shapes(
    scopes: Iterable[Sequence[int]], number: int, later: Mapping[int, int]
) -> list[tuple[Scope, Scope]]:
    """Scope and message of each of so many buckets, in the order in which they go, without any numbers. `scopes`:
    of the factors; `later`: of a hub and its variable the one that goes first -> the other."""
    waiting: list[set[int]] = [{place} for place in range(number)]
    for scope in filter(None, scopes):
        waiting[min(scope)].update(scope)
    found = []
    for place, speaking in enumerate(waiting):
        message = speaking - {place}
        if place in later:
            message.add(later[place])
        if message:
            waiting[min(message)].update(message)
        found.append((tuple(sorted(speaking)), tuple(sorted(message))))
    return found
