"""What an observation weighs: virtual evidence by how sure the observer is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from diagnose.errors import DiagnoseError
from diagnose.network.network import Array, Network

LIKELIHOOD_RATIOS: Mapping[str, float] = {"sure": math.inf, "likely": 6.0, "unsure": 2.0}
"""Confidence -> how many times likelier the report is where the finding really is in that state (judgement).

`sure` is certain: that a check can err is already in the numbers of the finding itself."""


def likelihood(card: int, state: int, ratio: float) -> Array:
    """Virtual evidence: the seen state is `ratio` times as likely to be reported as each other one."""
    vector = np.full(card, 0.0 if np.isinf(ratio) else 1 / ratio)
    vector[state] = 1.0
    return vector


Evidence = Mapping[int, Array]


class ImpossibleEvidence(DiagnoseError):
    """The network gives the evidence probability zero. `names`, `variables`: a smallest set that cannot all be
    true."""

    def __init__(self, names: Iterable[str], variables: Iterable[int] = ()):
        self.names, self.variables = tuple(names), tuple(variables)
        super().__init__(f"cannot all be true by this knowledge: {', '.join(self.names)}")


def one_hot(card: int, state: int) -> Array:
    """Certainty of one state, shape (card,)."""
    vector = np.zeros(card)
    vector[state] = 1.0
    return vector


def hard(network: Network, states: Mapping[str, str | int]) -> dict[int, Array]:
    """Certain evidence: variable name -> state name or number, as one-hot likelihoods."""
    evidence = {}
    for name, state in states.items():
        variable = network.index[name]
        number = network.states[variable].index(state) if isinstance(state, str) else state
        evidence[variable] = one_hot(network.cards[variable], number)
    return evidence


def held(rows: Sequence[Mapping[int, int]], cards: Sequence[int]) -> dict[int, Array]:
    """Weights that hold, in each row of a batch, its variables at its states: variable -> (card, rows)."""
    weights = {v: np.ones((cards[v], len(rows))) for v in dict.fromkeys(v for row in rows for v in row)}
    for column, row in enumerate(rows):
        for variable, state in row.items():
            weights[variable][:, column] = 0.0
            weights[variable][state, column] = 1.0
    return weights


def split_evidence(evidence: Evidence) -> tuple[dict[int, int], float]:
    """Certain states, and the logarithm of the scale of the one-hot vectors."""
    fixed: dict[int, int] = {}
    log_scale = 0.0
    for variable, likelihood in evidence.items():
        possible = np.flatnonzero(likelihood)
        if len(possible) == 1:
            fixed[variable] = int(possible[0])
            log_scale += float(np.log(likelihood[possible[0]]))
    return fixed, log_scale
