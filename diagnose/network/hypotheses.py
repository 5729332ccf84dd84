"""What a result that has not been seen would say, written as one-variable weights.

For noisy-MAX families, P(v <= t | parents) is a product of one-variable functions; a hidden variable between
the result and the evidence splits a product into two or more, all with positive coefficients. So every
hypothetical result is a short sum of products, and the tree of the evidence need not know about it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from diagnose.network.factors import absent_weights
from diagnose.network.network import Array, Network, NoisyMax, Table

MAX_TERMS = 1 << 8  # each doubles with a parent; beyond, asking the tree costs less


class TooManyTerms(Exception):
    """The sum of products is too long; the caller puts the variables into the tree instead."""


@dataclass(frozen=True, slots=True, eq=False)
class Terms:
    """Sum over t of coefficient[t] x product over v of weights[v][t, state of v]."""

    coefficients: Array
    weights: dict[int, Array]


def expand(
    network: Network, thresholds: Mapping[int, int], region: Collection[int], fixed: Mapping[int, int]
) -> Terms:
    """P(every v <= thresholds[v] | region and free roots) as a sum of products.

    `region`: the variables that stay variables; `fixed`: those among them whose state is known.
    Roots outside the region stay variables too. Raises TooManyTerms.
    """
    terms = Terms(np.ones(1), {v: _up_to(network.cards[v], t) for v, t in thresholds.items()})
    while outside := [v for v in terms.weights if v not in region and network.families[v].parents]:
        variable = max(outside)
        family = network.families[variable]
        if isinstance(family, NoisyMax):
            terms = _push_up(terms, variable, family)
        else:
            terms = _split(terms, variable, family)
        if len(terms.coefficients) > MAX_TERMS:
            raise TooManyTerms
    return _settle(terms, fixed)


def _up_to(card: int, threshold: int) -> Array:
    return (np.arange(card) <= threshold).astype(float)[None]


def _push_up(terms: Terms, variable: int, family: NoisyMax) -> Terms:
    """Sum the variable out: w(v) = sum over j of (w(j) - w(j + 1)) [v <= j], and [v <= j] is a product."""
    weight = terms.weights[variable]
    steps = weight - np.append(weight[:, 1:], np.zeros((len(weight), 1)), axis=1)
    rows, levels = np.nonzero(steps)
    coefficients = terms.coefficients[rows] * steps[rows, levels]
    weights = {v: w[rows] for v, w in terms.weights.items() if v != variable}
    for level in range(len(family.leak) - 1):
        chosen = levels == level
        if not chosen.any():
            continue
        constant, shares = absent_weights(family, level)
        every = bool(chosen.all())
        coefficients = coefficients * (constant if every else np.where(chosen, constant, 1.0))
        for parent, share in shares.items():
            weight = share[None] if every else np.where(chosen[:, None], share, 1.0)
            weights[parent] = weights[parent] * weight if parent in weights else _rows(weight, len(rows))
    return Terms(coefficients, weights)


def _rows(weight: Array, count: int) -> Array:
    return weight if len(weight) == count else np.repeat(weight, count, axis=0)


def _split(terms: Terms, variable: int, family: Table) -> Terms:
    """Sum the variable out of a table: a term for each state of all its parents but the last, over which
    the rest is a weight. A term that does not weigh the variable stays one, and so does one in which these
    states are known."""
    weight = terms.weights[variable]
    *split, last = family.parents
    told = np.tensordot(weight, family.values, axes=([1], [family.values.ndim - 1]))
    heavy = (weight != weight[:, :1]).any(axis=1)
    rows, indices = [np.flatnonzero(~heavy)], [(0,) * len(split)]
    for index in np.ndindex(*told.shape[1:-1]):
        can_be = [
            terms.weights[v][:, s] != 0 for v, s in zip(split, index, strict=True) if v in terms.weights
        ]
        rows.append(np.flatnonzero(np.logical_and.reduce([heavy, *can_be])))
        indices.append(index)
    chosen = np.concatenate(rows)
    states = np.repeat(np.array(indices).reshape(len(rows), -1), [len(part) for part in rows], axis=0)
    weights = {v: w[chosen] for v, w in terms.weights.items() if v != variable}
    _weigh(weights, last, told[(chosen, *states.T)])
    for place, v in enumerate(split):
        held = np.eye(family.values.shape[place])[states[:, place]]
        held[: len(rows[0])] = 1.0
        _weigh(weights, v, held)
    return Terms(terms.coefficients[chosen], weights)


def _weigh(weights: dict[int, Array], variable: int, weight: Array) -> None:
    weights[variable] = weights[variable] * weight if variable in weights else weight


def _settle(terms: Terms, fixed: Mapping[int, int]) -> Terms:
    coefficients = terms.coefficients
    for variable in terms.weights.keys() & fixed.keys():
        coefficients = coefficients * terms.weights[variable][:, fixed[variable]]
    return Terms(coefficients, {v: w for v, w in terms.weights.items() if v not in fixed})
