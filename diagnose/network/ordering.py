"""In which order to eliminate variables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import reduce

Bits = dict[int, int]


def elimination_order(
    scopes: Iterable[Sequence[int]], cards: Mapping[int, int], before: Mapping[int, int] | None = None
) -> list[int]:
    """Greedy order: fewest fill edges first, then the smallest table (min-fill; Rose 1972, from memory).

    `before`: variable -> the hub that must go first; hub and variable share one axis, so that closing costs no
    more than the hub's own table.
    """
    hubs = dict(before or {})
    twin = {hub: variable for variable, hub in hubs.items()}
    place = {1 << position: variable for position, variable in enumerate(cards)}
    bit = {variable: mask for mask, variable in place.items()}
    neighbours = _adjacency(scopes, bit)
    names = {variable: _named(mask, place) for variable, mask in neighbours.items()}
    cost = {v: _cost(v, neighbours, names, cards, twin) for v in cards if v not in hubs}
    order = []
    while cost:
        variable = min(cost, key=cost.__getitem__)
        fills = cost.pop(variable)[0] > 0
        order.append(variable)
        around = names[variable]
        changed = set(around)
        for other in around:
            neighbours[other] = (neighbours[other] | neighbours[variable]) & ~bit[variable] & ~bit[other]
            names[other] = _named(neighbours[other], place)
            if fills:  # without a new edge, nobody further off sees a difference
                changed.update(names[other])
        if variable in twin:
            cost[twin[variable]] = (0, 0)
            changed.add(twin[variable])
        for other in changed & cost.keys():
            cost[other] = _cost(other, neighbours, names, cards, twin)
    return order


def _adjacency(scopes: Iterable[Sequence[int]], bit: Mapping[int, int]) -> Bits:
    neighbours = dict.fromkeys(bit, 0)
    for scope in scopes:
        mask = reduce(int.__or__, (bit[v] for v in scope), 0)
        for variable in scope:
            neighbours[variable] |= mask & ~bit[variable]
    return neighbours


def _named(mask: int, place: Mapping[int, int]) -> list[int]:
    found = []
    while mask:
        low = mask & -mask
        found.append(place[low])
        mask ^= low
    return found


def _cost(
    variable: int,
    neighbours: Bits,
    names: Mapping[int, list[int]],
    cards: Mapping[int, int],
    twin: Mapping[int, int],
) -> tuple[int, int]:
    around = neighbours[variable]
    edges = sum((around & ~neighbours[other]).bit_count() - 1 for other in names[variable])
    size = cards[variable]
    for other in names[variable]:
        size *= 1 if twin.get(variable) == other else cards[other]
    return edges, size
