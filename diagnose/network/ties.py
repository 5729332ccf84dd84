"""Which facts tie causes together, and how many of these ties a case has room for.

A fact that nobody has told and that multiplies the hazard of several causes makes them lean on each other a
little. Let go, each cause counts with what the fact does to it on average: its own probability is the same,
only that the causes share the fact is forgotten. So it is with what a fact gates. The tree without any such
tie is made first; then the facts that tell most are taken back, one by one, as long as the tree stays
nearly as small."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import prod

import numpy as np

from diagnose.network.buckets import BucketTree
from diagnose.network.build import Built
from diagnose.network.engine import Engine, Evidence
from diagnose.network.network import Family, Network, Table

TABLE = 1 << 10
"""Numbers of a table that a tie may always make."""
GROWTH, SPARE = 1.5, 1 << 12
"""All tables together may grow by this factor, and by so many numbers more."""


def with_room(
    built: Built, evidence: Evidence, widest: int, hubs: Collection[int] = ()
) -> tuple[Built, Engine]:
    """The network with as many of its ties as the evidence leaves room for, and its engine (`hubs`: as there).
    Raises TooWide."""
    above = built.network.ancestors(evidence)
    tying = sorted(above & built.shares.keys(), key=lambda v: (-built.telling.get(v, 0.0), v))
    loose = untied(built, tying)
    engine = Engine(loose.network, evidence, (), widest, hubs=hubs)
    kept, order = _taken_back(built, engine, tying)
    if not kept:
        return loose, engine
    tied = untied(built, [v for v in tying if v not in kept])
    return tied, Engine(tied.network, evidence, (), widest, order, hubs)


def untied(built: Built, facts: Collection[int]) -> Built:
    """The same without the ties through these variables. A fact that depends on one of them stands for
    itself."""
    network, gone = built.network, frozenset(facts)
    families = tuple(_averaged(built, v, family, gone) for v, family in enumerate(network.families))
    telling = {v: spread for v, spread in built.telling.items() if v not in gone}
    whole = Network(network.names, network.states, families)
    return replace(built, network=whole, telling=telling, averaged=built.averaged | gone)


def _averaged(built: Built, variable: int, family: Family, gone: frozenset[int]) -> Family:
    """What hangs on facts that are let go, on average over them, as if these were independent of its other
    parents."""
    if not isinstance(family, Table) or gone.isdisjoint(family.parents):
        return family
    shares = built.shares
    if variable in shares:
        return Table((), shares[variable])
    arises = built.priors.get(built.network.names[variable].partition("@")[0])
    if arises is not None and gone.issuperset(family.parents):
        return Table((), np.array([1 - arises, arises]))  # exact, also where these depend on each other
    for fact in [parent for parent in family.parents if parent in gone]:
        axis = family.parents.index(fact)
        others = tuple(parent for parent in family.parents if parent != fact)
        family = Table(others, np.tensordot(shares[fact], family.values, axes=([0], [axis])))
    return family


def _taken_back(built: Built, engine: Engine, tying: Sequence[int]) -> tuple[list[int], list[int]]:
    """The facts that there is room for, and the order of elimination with them."""
    tree, network = engine.tree, built.network
    sizes = np.array([float(prod(tree.cards[tree.rank[v]] for v in scope)) for scope in tree.scopes])
    most, room = max(TABLE, tree.width), GROWTH * tree.size + SPARE
    starts = _starts(network, engine, tying)
    kept: dict[int, _Spread] = {}
    for fact in (fact for fact in tying if fact in starts):
        tried = {**kept, fact: _spread(tree, starts[fact])}
        for child, parent in ((c, p) for c in tried for p in network.parents(c) if p in tried):
            tried[parent] = _spread(tree, [*starts[parent], tried[child].top])
        grown = sizes.copy()
        for one, spread in tried.items():
            grown[spread.places] *= network.cards[one]
        if (
            grown.max() <= most
            and grown.sum() + grown[[spread.top for spread in tried.values()]].sum() <= room
        ):
            kept = tried
    return list(kept), _order(tree, {fact: spread.top for fact, spread in kept.items()})


@dataclass(frozen=True, slots=True)
class _Spread:
    """The buckets whose tables hold a fact that is eliminated right after the bucket `top`."""

    places: list[int]
    top: int


def _starts(network: Network, engine: Engine, facts: Collection[int]) -> dict[int, set[int]]:
    """Fact -> the buckets that hold a table of the tree in which it stands."""
    rank, found = engine.tree.rank, dict[int, set[int]]()
    for variable in engine.region:
        family = network.families[variable]
        if isinstance(family, Table):
            for fact in set(facts).intersection(family.parents):
                inside = [rank[v] for v in (*family.parents, variable) if v in rank and v != fact]
                if inside:
                    found.setdefault(fact, set()).add(min(inside))
    return found


def _spread(tree: BucketTree, starts: Iterable[int]) -> _Spread:
    """From these buckets up to the first in which all their messages have met; to the roots where they never
    do."""
    paths = [_path(tree, start) for start in starts]
    common = set(paths[0]).intersection(*paths[1:])
    top = min(common, default=max(path[-1] for path in paths))
    return _Spread(sorted({place for path in paths for place in path if place <= top or not common}), top)


def _path(tree: BucketTree, start: int) -> list[int]:
    """The buckets that a message from this one passes, itself first."""
    found = [start]
    while (above := tree.parent_of(found[-1])) is not None:
        found.append(above)
    return found


def _order(tree: BucketTree, tops: Mapping[int, int]) -> list[int]:
    """The tree's order with each fact right after the variable of its top bucket."""
    after: dict[int, list[int]] = {}
    for fact, top in tops.items():
        after.setdefault(top, []).append(fact)
    return [v for place, variable in enumerate(tree.variables) for v in (variable, *after.get(place, ()))]
