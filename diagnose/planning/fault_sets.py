"""The likely sets of faults of a case, each with its exact probability."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.network import Array
from diagnose.planning.problem import FaultSets, closed

CANDIDATES = 12  # causes: sets of them are worked out one by one
FLOOR = 0.01  # probability below which a cause is no candidate (judgement)
MASS = 0.98  # of the probability of all fault sets, that the sets kept hold
MOST_SETS, FEWEST_SETS, NUMBERS = 70, 8, 5 << 18
"""Of how many fault sets at most and at least, and how many numbers of the tree they may take together."""
LARGEST_SET = 3  # faults at once: an arrival has 1.0 to 1.5 as a rule
TURNS = 8
"""Of fitting the sets to the probability of each cause."""
GROWN = 8
"""How many of the likeliest sets of one size are looked into with a fault more."""


def candidates_of(diagnosis: Diagnosis) -> tuple[str, ...]:
    """The likeliest causes that can be behind what was found."""
    likely = [c.id for c in diagnosis.causes if c.relevant and c.probability >= FLOOR]
    in_tree = diagnosis.engine.region
    return tuple(id for id in likely if diagnosis.built.variable(id) in in_tree)[:CANDIDATES]


def rows_of(
    built: Built, engine: Engine, candidates: Sequence[str], faults: Iterable[int]
) -> list[dict[int, int]]:
    """For each fault set the states of the candidates, but of those that are known."""
    variables = [built.variable(id) for id in candidates]
    return [
        {v: int(f) >> bit & 1 for bit, v in enumerate(variables) if v not in engine.fixed} for f in faults
    ]


def likely_fault_sets(diagnosis: Diagnosis, candidates: Sequence[str]) -> tuple[FaultSets, Array]:
    """The likely fault sets, closed under removal, and their exact probabilities (scaled to one).

    None of the candidates means that something else is behind it.
    """
    else_bit = 1 << len(candidates)
    most = max(FEWEST_SETS, min(MOST_SETS, NUMBERS // diagnosis.engine.tree.size))
    found = dict[int, float]()
    new = [0, *(1 << bit for bit in range(len(candidates)))]
    for _ in range(LARGEST_SET):
        found |= dict(zip(new, _chances(diagnosis, candidates, new), strict=True))
        grown = sorted(filter(None, new), key=lambda one: -found[one])[: min(GROWN, most // 8)]
        new = sorted({one | 1 << bit for one in grown for bit in range(len(candidates))} - found.keys())
        if not new:
            break
    sets, chances = list(found), np.array(list(found.values()))
    order = np.argsort(-chances, kind="stable")
    enough = int(np.searchsorted(np.cumsum(chances[order]), MASS * chances.sum())) + 1
    likely = {sets[i] or else_bit: float(chances[i]) for i in order[: min(enough, most)]}
    faults = closed([*likely, else_bit])  # it is left where all that is listed has gone
    probabilities = np.array([likely.get(int(fault), 0.0) for fault in faults])
    exact = [cause.probability for id in candidates if (cause := diagnosis.cause(id))]
    return faults, with_marginals(faults, probabilities, [*exact, found[0]])


def with_marginals(faults: FaultSets, probabilities: Array, wanted: Sequence[float]) -> Array:
    """The probabilities, scaled so that each fault is there as often as it must: the sets left out, those of
    many faults above all, would be missing from all of them. Each in its turn, with the least change
    (iterative proportional fitting: Deming & Stephan 1940, Csiszar 1975, from memory)."""
    found = probabilities / probabilities.sum()
    members = ((faults[:, None] >> np.arange(len(wanted))) & 1).T.astype(bool)
    for _ in range(TURNS):
        for member, share in zip(members, wanted, strict=True):
            there = float(found[member].sum())
            if 0 < there < 1 and 0 < share < 1:
                found = found * np.where(member, share / there, (1 - share) / (1 - there))
    scaled: Array = found / found.sum()
    return scaled


def _chances(diagnosis: Diagnosis, candidates: Sequence[str], sets: Sequence[int]) -> Array:
    """P(exactly these of the candidates), exact."""
    return diagnosis.engine.given(rows_of(diagnosis.built, diagnosis.engine, candidates, sets), ())[0]
