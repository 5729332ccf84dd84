"""Many subsets of one body of evidence at once: what each finding did to each cause.

One bucket tree serves all subsets: a finding that is left out weighs nothing. Used for weights of evidence
(leave-one-out), for the conflict measure, and for the story of a case finding by finding.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from diagnose.network.buckets import MAX_TABLE, Beliefs
from diagnose.network.engine import Evidence, compiled
from diagnose.network.factors import absent_weights
from diagnose.network.network import Array, Network, NoisyMax


class EvidenceSubsets:
    """The evidence of one case, each part of which can be left out. `variables`: the parts, in order."""

    def __init__(
        self, network: Network, evidence: Evidence, inside: Iterable[int] = (), widest: int = MAX_TABLE
    ):
        self.network = network
        self.evidence = dict(evidence)
        self.variables = tuple(self.evidence)
        parents = {p for family in network.families for p in family.parents}
        self._plain = {v for v in self.variables if v not in parents and self._is_absent_leaf(v)}
        kept = set(self.variables) - self._plain
        above = {p for v in self._plain for p in network.parents(v)}
        region = network.ancestors({*kept, *above, *inside})
        self.tree = compiled(network, region, {}, widest=widest)

    def _is_absent_leaf(self, variable: int) -> bool:
        likelihood = self.evidence[variable]
        certain = likelihood[0] == 1 and not likelihood[1:].any()
        return bool(certain and isinstance(self.network.families[variable], NoisyMax))

    def run(
        self, masks: NDArray[np.bool_], targets: Sequence[int], held: Mapping[int, Array] | None = None
    ) -> Beliefs:
        """`masks`: shape (subsets, parts), true where the part counts. Targets must be in the tree.

        `held`: more weights of variables in the tree, shape (card, subsets). log_probability is log P(subset of the
        evidence, what is held), shape (subsets,).
        """
        batch = len(masks)
        weights = {variable: weight.copy() for variable, weight in (held or {}).items()}
        scale = np.zeros(batch)
        for mask, variable in zip(masks.T, self.variables, strict=True):
            if variable not in self._plain:
                self._weigh(weights, variable, self.evidence[variable], mask)
                continue
            constant, shares = absent_weights(self.network.families[variable])  # type: ignore[arg-type]
            scale += np.where(mask, np.log(constant), 0.0)
            for parent, share in shares.items():
                self._weigh(weights, parent, share, mask)
        beliefs = self.tree.run(weights, targets, batch)
        return Beliefs(beliefs.log_probability + scale, beliefs.marginals)

    def _weigh(self, weights: dict[int, Array], variable: int, share: Array, mask: NDArray[np.bool_]) -> None:
        if variable not in weights:
            weights[variable] = np.ones((len(share), len(mask)))
        weights[variable] *= np.where(mask[None], share[:, None], 1.0)
