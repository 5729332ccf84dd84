"""Cases that share one tree: what differs between them are weights, so all of them run through it in one
batch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.learning.whole_network import Graph
from diagnose.network.ordering import quick_order

WIDEST = 1 << 19
"""Numbers of the tree of a single case at most."""
SMALL = 1 << 16
"""Numbers of a tree that is not worth splitting."""
BLOCK = 2048
"""Cases that are tried together first."""

ABSENT, OPEN, PRESENT, EXCLUDED = range(4)
"""What is known of a cause: not there; perhaps there, unlisted; there; impossible on this machine."""


@dataclass(frozen=True, slots=True, eq=False)
class CaseEvidence:
    """What is known of a closed case. `findings`: variable -> (state, number of the confidence; 0 = sure);
    `standing`: of each cause, by its number, ABSENT and so on; `bins`: the bin of the factor of facts and
    age on it; `lacking`: conditions, and causes that are no roots, that the machine cannot have.
    `weight`: how much of a case it is worth. `case`: whatever it goes by.
    """

    findings: Mapping[int, tuple[int, int]]
    standing: NDArray[np.int8]
    bins: NDArray[np.int16]
    lacking: frozenset[int]
    weight: float
    case: int

    def opened(self) -> list[int]:
        """The findings that are not certainly in their first state."""
        return [v for v, (state, confidence) in self.findings.items() if state or confidence]


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Cases on one tree.

    `findings`: the first `opened` of them are in the tree; the rest were certainly in their first state
    wherever they were looked at. `states`: shape (findings, cases), -1 where not looked at; `confidences`
    likewise. `standing`, `bins`: shape (causes, cases). `lacking`: what none of these machines can have.
    `order`: in which the tree eliminates its variables.
    """

    findings: tuple[int, ...]
    opened: int
    states: NDArray[np.int8]
    confidences: NDArray[np.int8]
    standing: NDArray[np.int8]
    bins: NDArray[np.int16]
    lacking: frozenset[int]
    weights: NDArray[np.float64]
    order: tuple[int, ...] = ()


def grouped(graph: Graph, cases: Iterable[CaseEvidence]) -> Iterator[Group]:
    """The cases in groups.

    Together come machines that lack the same, and cases that show the same vague findings, so that what these
    tie up is tied up once; cases where any cause may have gone unlisted stand apart, for they tie up more.
    """
    vague = {v: n for n, v in enumerate(sorted(graph.findings.values(), key=graph.vagueness))}
    roots = [cause for variable, cause in graph.cause_of.items() if variable in graph.roots]
    kinds: dict[tuple[bool, frozenset[int]], list[CaseEvidence]] = {}
    for known in cases:
        kinds.setdefault((bool((known.standing[roots] == OPEN).any()), known.lacking), []).append(known)
    for some in kinds.values():
        ordered = sorted(some, key=lambda known: sorted(vague[v] for v in known.opened()))
        for at in range(0, len(ordered), BLOCK):
            yield from _halved(graph, ordered[at : at + BLOCK])


def _halved(graph: Graph, cases: Sequence[CaseEvidence]) -> Iterator[Group]:
    """One group if its tree is small, else two halves. A case too tangled even alone does without its vaguest
    finding."""
    group = _group(graph, cases)
    order, size = _ordered(graph, region(graph, group))
    if size <= (WIDEST if len(cases) == 1 else SMALL):
        yield replace(group, order=tuple(order))
    elif len(cases) == 1:
        yield from _halved(graph, [_without_vaguest(graph, cases[0])])
    else:
        middle = len(cases) // 2
        yield from _halved(graph, cases[:middle])
        yield from _halved(graph, cases[middle:])


def _ordered(graph: Graph, region: Iterable[int]) -> tuple[list[int], int]:
    """The order of elimination, and how many numbers it needs."""
    scopes, cards, hubs = graph.shape(region)
    return quick_order(scopes, cards, {hub.variable: number for number, hub in hubs.items()})


def _without_vaguest(graph: Graph, known: CaseEvidence) -> CaseEvidence:
    vaguest = min(known.opened() or known.findings, key=graph.vagueness)
    return replace(known, findings={v: seen for v, seen in known.findings.items() if v != vaguest})


def region(graph: Graph, group: Group) -> list[int]:
    """The variables of the tree: findings in it, what is hidden above any finding and above causes that
    others bring about, these causes, and the roots that may be there unlisted."""
    found = set(graph.inner)
    for variable in group.findings[: group.opened]:
        found.add(variable)
        found |= graph.hidden_above(variable)
    for variable in group.findings[group.opened :]:
        found |= graph.hidden_above(variable)
    open = (group.standing == OPEN).any(axis=1)
    found.update(variable for variable, cause in graph.cause_of.items() if open[cause])
    return sorted(found - group.lacking)


def _group(graph: Graph, cases: Sequence[CaseEvidence]) -> Group:
    opened = sorted({v for known in cases for v in known.opened()})
    plain = sorted({v for known in cases for v in known.findings} - set(opened))
    place = {variable: row for row, variable in enumerate((*opened, *plain))}
    states = np.full((len(place), len(cases)), -1, dtype=np.int8)
    confidences = np.zeros(states.shape, dtype=np.int8)
    for column, known in enumerate(cases):
        for variable, (state, confidence) in known.findings.items():
            states[place[variable], column] = state
            confidences[place[variable], column] = confidence
    return Group(
        tuple(place),
        len(opened),
        states,
        confidences,
        np.stack([known.standing for known in cases], axis=1),
        np.stack([known.bins for known in cases], axis=1),
        cases[0].lacking,
        np.array([known.weight for known in cases]),
    )
