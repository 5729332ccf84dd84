"""Which records stand around one record, and in which columns they are drawn."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diagnose.knowledge.records import Cause, Condition, Knowledge, Link

MOST = 40
"""Records beyond which nobody can read the picture: the weakest links are left out first, and it says so."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One link with its strength: the most that the parent in its worst state does to the effect."""

    parent: str
    effect: str
    strength: float


@dataclass(frozen=True, slots=True)
class Neighbourhood:
    """The records around `centre` and the links among them; `left_out`: how many did not fit."""

    centre: str
    ids: tuple[str, ...]
    edges: tuple[Edge, ...]
    left_out: int


def neighbourhood(knowledge: Knowledge, centre: str, depth: int, most: int = MOST) -> Neighbourhood:
    """What leads to the centre and what it leads to, over up to `depth` links, the strongest `most` records."""
    edges = list(_edges(knowledge))
    reached = {centre: 1.0}
    for backwards in (False, True):
        for id, strength in _reached(edges, centre, depth, backwards).items():
            reached[id] = max(strength, reached.get(id, 0.0))
    kept = sorted(reached, key=lambda id: (id != centre, -reached[id], id))[:most]
    inside = set(kept)
    among = tuple(edge for edge in edges if {edge.parent, edge.effect} <= inside)
    tied = {centre} | {id for edge in among for id in (edge.parent, edge.effect)}
    ids = tuple(id for id in kept if id in tied)
    return Neighbourhood(centre, ids, among, len(reached) - len(ids))


def columns(hood: Neighbourhood) -> dict[str, int]:
    """Column of each record: one more than the last of its parents', so that every link points to the right; then
    what nothing leads to moves up to its nearest effect."""
    parents, effects = defaultdict(list), defaultdict(list)
    for edge in hood.edges:
        parents[edge.effect].append(edge.parent)
        effects[edge.parent].append(edge.effect)
    found: dict[str, int] = {}

    def place(id: str) -> int:
        if id not in found:
            found[id] = max((place(parent) + 1 for parent in parents[id]), default=0)
        return found[id]

    for id in hood.ids:
        place(id)
    for id in hood.ids:
        if not parents[id] and effects[id]:
            found[id] = min(found[effect] for effect in effects[id]) - 1
    return found


def _edges(knowledge: Knowledge) -> Iterable[Edge]:
    records: tuple[Cause | Condition, ...] = (*knowledge.causes.values(), *knowledge.conditions.values())
    for record in records:
        for link in record.leads_to:
            yield Edge(record.id, link.effect, _strength(link))


def _strength(link: Link) -> float:
    return max((sum(number.value for number in row) for row in link.strengths), default=0.0)


def _reached(edges: Iterable[Edge], centre: str, depth: int, backwards: bool) -> Mapping[str, float]:
    """Everything up to `depth` links away in one direction with the product of strengths of the best way there."""
    step: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for edge in edges:
        here, there = (edge.effect, edge.parent) if backwards else (edge.parent, edge.effect)
        step[here].append((there, edge.strength))
    best, border = {centre: 1.0}, {centre: 1.0}
    for _ in range(depth):
        further: dict[str, float] = {}
        for here, so_far in border.items():
            for there, strength in step[here]:
                further[there] = max(further.get(there, 0.0), so_far * strength)
        border = {id: value for id, value in further.items() if value > best.get(id, 0.0)}
        best |= border
    return best
