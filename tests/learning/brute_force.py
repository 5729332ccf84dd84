"""Expected contributions by listing every hidden contribution of every family: small networks only.

Each contribution is drawn from its own row, each effect is the largest of its contributions (Diez, UAI 1993).
The expectations are weighted averages over all combinations that agree with what is known; no derivative, no
product of cumulative distributions, none of the program's code but the plain arrays of the network.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

import numpy as np

from diagnose.network.network import Network, NoisyMax

Weights = Mapping[int, np.ndarray]
Counts = dict[tuple[str, str, int], np.ndarray]
"""(effect, parent or "", parent's state) -> expected counts of the contribution's states."""


def expected(network: Network, likelihoods: Weights) -> tuple[Counts, float]:
    """The expected counts of every contribution, and P(what is known). `likelihoods`: variable -> weight of
    its states."""
    counts: Counts = defaultdict(lambda: np.zeros(0))
    total = 0.0
    for weight, contributions in _worlds(network, likelihoods, {}, 0):
        total += weight
        for key, (state, card) in contributions.items():
            if not len(counts[key]):
                counts[key] = np.zeros(card)
            counts[key][state] += weight
    return {key: values / total for key, values in counts.items()}, total


Contributions = dict[tuple[str, str, int], tuple[int, int]]


def _worlds(
    network: Network, likelihoods: Weights, states: dict[int, int], variable: int
) -> Iterator[tuple[float, Contributions]]:
    if variable == len(network.names):
        yield 1.0, {}
        return
    for mine, state, its in _contributions(network, states, variable):
        weight = mine * float(likelihoods[variable][state]) if variable in likelihoods else mine
        if weight > 0:
            for rest, others in _worlds(network, likelihoods, {**states, variable: state}, variable + 1):
                yield weight * rest, {**its, **others}


def _contributions(
    network: Network, states: Mapping[int, int], variable: int
) -> Iterator[tuple[float, int, Contributions]]:
    """Every way in which a variable's contributions may come out: probability, its state, who contributed
    what."""
    family, name = network.families[variable], network.names[variable]
    leak = family.leak if isinstance(family, NoisyMax) else family.values
    rows = [((name, "", 0), leak)]
    if isinstance(family, NoisyMax):
        for parent, link in zip(family.parents, family.links, strict=True):
            if states[parent]:
                rows.append(((name, network.names[parent], states[parent]), link[states[parent]]))
    for combination in np.ndindex(*(len(row) for _, row in rows)):
        chance = float(np.prod([row[s] for (_, row), s in zip(rows, combination, strict=True)]))
        if chance > 0:
            its = {key: (s, len(row)) for (key, row), s in zip(rows, combination, strict=True)}
            yield chance, max(combination), its
