"""Reference inference by listing every joint state: slow, small networks only, no shared formula.

A noisy-MAX row is built from its definition (every parent's mechanism and the leak contribute a state
each, independently; the child is their maximum: Diez, UAI 1993), not from the product of cumulative
distributions that the program uses.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

import numpy as np

from diagnose.network.network import Array, Network, NoisyMax, Table


def noisy_max_row(family: NoisyMax, parent_states: tuple[int, ...]) -> Array:
    """P(child | parent states), by listing what every mechanism may contribute."""
    sources = [family.leak, *(link[state] for link, state in zip(family.links, parent_states, strict=True))]
    row = np.zeros(len(family.leak))
    for contributions in product(range(len(family.leak)), repeat=len(sources)):
        weight = 1.0
        for source, contribution in zip(sources, contributions, strict=True):
            weight *= float(source[contribution])
        row[max(contributions)] += weight
    return row


def family_table(network: Network, variable: int) -> Array:
    """P(child | parents), shape (parents..., child)."""
    family = network.families[variable]
    if isinstance(family, Table):
        return family.values
    cards = tuple(network.cards[parent] for parent in family.parents)
    table = np.empty((*cards, network.cards[variable]))
    for states in np.ndindex(*cards):
        table[states] = noisy_max_row(family, states)
    return table


def joint(network: Network) -> Array:
    """P(all variables), one axis each."""
    everything = np.ones(network.cards)
    for variable in range(len(network.names)):
        axes = (*network.parents(variable), variable)
        order = sorted(range(len(axes)), key=lambda position: axes[position])
        shape = [1] * len(network.names)
        for axis in axes:
            shape[axis] = network.cards[axis]
        everything = everything * family_table(network, variable).transpose(order).reshape(shape)
    return everything


def enumerate_posterior(network: Network, evidence: Mapping[int, Array]) -> tuple[tuple[Array, ...], float]:
    """Marginals of every variable given the evidence, and P(evidence). Marginals are nan where P is 0."""
    weights = joint(network)
    for variable, likelihood in evidence.items():
        shape = [1] * len(network.names)
        shape[variable] = network.cards[variable]
        weights = weights * np.asarray(likelihood).reshape(shape)
    total = float(weights.sum())
    with np.errstate(invalid="ignore"):
        marginals = tuple(marginal(weights, variable) / np.float64(total) for variable in range(weights.ndim))
    return marginals, total


def marginal(weights: Array, variable: int) -> Array:
    """Sum over every axis but one."""
    summed: Array = weights.sum(axis=tuple(axis for axis in range(weights.ndim) if axis != variable))
    return summed
