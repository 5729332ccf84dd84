"""Cases to look at again: what was seen hardly goes with what it is said to have been."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.learning.expect import RATIOS
from diagnose.learning.graph import Graph
from diagnose.learning.groups import OPEN, PRESENT, Known
from diagnose.network.network import Array
from diagnose.network.observed import likelihood

SURPRISING = 2.0
"""Decades from which a case is set aside: a right case looks like that at most once in a hundred."""
NAMED = 3
"""Findings that are named as the reason."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """How much more likely what was seen is on any machine than with the causes confirmed, in decades (powers
    of ten); and the findings that say so most: variable, state, and how often these causes show it."""

    case: int
    decades: float
    findings: tuple[tuple[int, int, float], ...]


def doubts(graph: Graph, values: Array, cases: Sequence[Known]) -> Iterator[Doubt]:
    """How surprising each case is.

    The comparison is with a fixed distribution q over the same findings. Where p is right, q / p is 1 on
    average, so it reaches 100 at most once in a hundred cases (Markov's inequality). Both are products over
    findings, each finding with its parents taken as independent given the causes.
    """
    kinds = {_kind(known): known for known in cases}
    column = {kind: place for place, kind in enumerate(kinds)}
    told = shown(graph, values, [*kinds.values()])
    usual = shown(graph, values)
    for known in cases:
        at = column[_kind(known)]
        yield _doubt(graph, known, {v: told[v][:, at] for v in known.findings}, usual)


def _kind(known: Known) -> tuple[bytes, frozenset[int]]:
    return known.standing.tobytes(), known.lacking


def shown(graph: Graph, values: Array, cases: Sequence[Known] = ()) -> dict[int, Array]:
    """How often each variable is in each state with exactly the causes of each case, and what these may have
    wrecked, shape (card, cases); without cases: on any machine that comes in, shape (card, 1)."""
    lacking = {v: np.array([v in known.lacking for known in cases]) for v in graph.conditions.values()}
    standing = np.stack([known.standing for known in cases], axis=1) if cases else None
    found: dict[int, Array] = {}
    for variable in range(len(graph.arrows)):
        found[variable] = _from_parents(graph, values, variable, found, max(len(cases), 1))
        if standing is not None and variable in graph.cause_of:
            found[variable] = _as_told(found[variable], standing[graph.cause_of[variable]])
        elif cases and variable in lacking:
            first = np.eye(len(found[variable]))[:1].T
            found[variable] = np.where(lacking[variable], first, found[variable])
    return found


def _from_parents(graph: Graph, values: Array, variable: int, found: dict[int, Array], columns: int) -> Array:
    """Each state of a variable, its parents as if independent."""
    if variable in graph.cause_of:
        cause = graph.cause_of[variable]
        leak = values[2 * cause : 2 * cause + 2]
    else:
        leak = graph.leak(variable, values)
    below = np.repeat(np.cumsum(leak)[:, None], columns, axis=1)
    for arrow in graph.arrows[variable]:
        link = graph.link(variable, arrow, values)
        below = below * (np.cumsum(link, axis=1).T @ found[arrow.parent])
    return np.diff(below, axis=0, prepend=0.0)


def _as_told(by_parents: Array, standing: Array) -> Array:
    """A cause that is there is there; one that may be keeps what its parents do; no other is there."""
    present = np.where(standing == PRESENT, 1.0, np.where(standing == OPEN, by_parents[1], 0.0))
    return np.stack([1 - present, present])


def _doubt(graph: Graph, known: Known, told: dict[int, Array], usual: dict[int, Array]) -> Doubt:
    decades = {}
    for variable, (state, confidence) in known.findings.items():
        weight = likelihood(graph.network.cards[variable], state, RATIOS[confidence])
        decades[variable] = float(
            np.log10(weight @ usual[variable][:, 0]) - _log10(float(weight @ told[variable]))
        )
    worst = sorted(decades, key=lambda v: (-decades[v], v))[:NAMED]
    named = ((v, known.findings[v][0]) for v in worst if decades[v] > np.log10(2))
    return Doubt(
        known.case, sum(decades.values()), tuple((v, state, float(told[v][state])) for v, state in named)
    )


def _log10(p: float) -> float:
    return float(np.log10(max(p, 1e-12)))
