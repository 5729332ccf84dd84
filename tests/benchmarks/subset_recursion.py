"""Exact inference for two-layer noisy-OR networks by a recursion over subsets of the positive findings.

Independent of the engine under test. The state is, for each set S of positive findings, the probability that
S is explained by the causes taken so far and the negative findings are not shown. Positive terms only, so no
digits are lost; time O(causes x positives x 2^positives). Needs independent binary causes and no third layer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log

import numpy as np

from diagnose.network.network import Array, Network, NoisyMax, Table

Links = list[tuple[int, float]]
"""Axis of a positive finding, weight of the link."""


def two_layer_posterior(network: Network, evidence: Mapping[int, Array]) -> tuple[dict[int, float], float]:
    """P(cause present | evidence) for every ancestor of the evidence, and log P(evidence)."""
    positives = [f for f, row in evidence.items() if row[1]]
    negatives = [f for f, row in evidence.items() if not row[1]]
    causes = sorted({parent for finding in evidence for parent in network.parents(finding)})
    links = {cause: _links(network, positives, cause) for cause in causes}
    kept = {cause: _not_shown(network, negatives, cause) for cause in causes}
    leaks = [(axis, float(_noisy(network, f).leak[1])) for axis, f in enumerate(positives)]
    start = np.zeros((2,) * len(positives))
    start[(0,) * len(positives)] = np.prod([_noisy(network, f).leak[0] for f in negatives])
    vectors = [_explain(start, leaks)]
    for cause in causes:
        vectors.append(_take(vectors[-1], _prior(network, cause), kept[cause], links[cause]))
    total = float(vectors[-1][(1,) * len(positives)])
    return _marginals(network, causes, links, kept, vectors, total), log(total)


def _marginals(
    network: Network,
    causes: Sequence[int],
    links: Mapping[int, Links],
    kept: Mapping[int, float],
    vectors: Sequence[Array],
    total: float,
) -> dict[int, float]:
    """The adjoint pass: what each set explained so far is worth to the end."""
    worth = np.zeros(vectors[0].shape)
    worth[(1,) * worth.ndim] = 1.0
    found = {}
    for cause, before in zip(reversed(causes), reversed(vectors[:-1]), strict=True):
        prior = _prior(network, cause)
        present = prior * kept[cause] * _worth_before(worth, links[cause])
        found[cause] = float((before * present).sum()) / total
        worth = (1 - prior) * worth + present
    return found


def _take(vector: Array, prior: float, kept: float, links: Links) -> Array:
    taken: Array = (1 - prior) * vector + prior * kept * _explain(vector, links)
    return taken


def _explain(vector: Array, links: Links) -> Array:
    """Each linked finding, if not explained yet, becomes so with the weight of its link."""
    for axis, weight in links:
        no, yes = np.take(vector, 0, axis), np.take(vector, 1, axis)
        vector = np.stack([(1 - weight) * no, yes + weight * no], axis)
    return vector


def _worth_before(worth: Array, links: Links) -> Array:
    for axis, weight in links:
        no, yes = np.take(worth, 0, axis), np.take(worth, 1, axis)
        worth = np.stack([(1 - weight) * no + weight * yes, yes], axis)
    return worth


def _noisy(network: Network, finding: int) -> NoisyMax:
    family = network.families[finding]
    assert isinstance(family, NoisyMax)
    return family


def _prior(network: Network, cause: int) -> float:
    family = network.families[cause]
    assert isinstance(family, Table)
    assert not family.parents
    return float(family.values[1])


def _weight(network: Network, finding: int, cause: int) -> float:
    family = _noisy(network, finding)
    return float(family.links[family.parents.index(cause)][1, 1])


def _links(network: Network, positives: Sequence[int], cause: int) -> Links:
    linked = ((axis, f) for axis, f in enumerate(positives) if cause in network.parents(f))
    return [(axis, _weight(network, f, cause)) for axis, f in linked]


def _not_shown(network: Network, negatives: Sequence[int], cause: int) -> float:
    linked = (f for f in negatives if cause in network.parents(f))
    return float(np.prod([1 - _weight(network, f, cause) for f in linked]))
