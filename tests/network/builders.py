"""Small networks written by hand, state 1 = present."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from diagnose.network.built import Built
from diagnose.network.network import Array, Family, Network, NoisyMax, Table
from diagnose.network.variables import Variable

BINARY = ("absent", "present")


class Sketch:
    """Collects named binary variables, parents before children."""

    def __init__(self) -> None:
        self.names: list[str] = []
        self.families: list[Family] = []

    def _add(self, name: str, family: Family) -> Sketch:
        self.names.append(name)
        self.families.append(family)
        return self

    def root(self, name: str, prior: float) -> Sketch:
        """A variable without parents."""
        return self._add(name, Table((), np.array([1 - prior, prior])))

    def noisy_or(self, name: str, leak: float, links: Mapping[str, float]) -> Sketch:
        """A noisy-OR with net leak."""
        rows = tuple(np.array([[1.0, 0.0], [1 - weight, weight]]) for weight in links.values())
        return self._add(name, NoisyMax(self._numbers(list(links)), np.array([1 - leak, leak]), rows))

    def table(self, name: str, parents: Sequence[str], present: Array | Sequence[object]) -> Sketch:
        """P(present | parents), one axis a parent."""
        chance = np.asarray(present, dtype=np.float64)
        return self._add(name, Table(self._numbers(parents), np.stack([1 - chance, chance], axis=-1)))

    def _numbers(self, names: Sequence[str]) -> tuple[int, ...]:
        return tuple(map(self.names.index, names))

    def network(self) -> Network:
        """What was sketched."""
        return Network(tuple(self.names), (BINARY,) * len(self.names), tuple(self.families))


def built_of(network: Network, causes: Sequence[str], others: Mapping[str, str] | None = None) -> Built:
    """The network as one that was built, each variable standing for the record of its name. `others`: complaint ->
    the variable of a cause that is not listed."""
    variables = tuple(Variable("record", name) for name in network.names)
    unlisted = {complaint: network.index[name] for complaint, name in (others or {}).items()}
    return Built(network, variables, tuple(causes), unlisted, dict.fromkeys(network.names, (0,)), {})


def noisy_or_table(leak: float, weights: Sequence[float]) -> Array:
    """P(present | parents) = 1 - (1 - leak) prod over present parents (1 - w), as a table."""
    absent = np.full((2,) * len(weights), 1.0 - leak)
    for states in np.ndindex(*absent.shape):
        absent[states] *= np.prod([1 - w for w, on in zip(weights, states, strict=True) if on])
    return 1 - absent
