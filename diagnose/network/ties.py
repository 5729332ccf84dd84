"""Which facts tie causes together, and how many of these ties a case has room for.

A fact that nobody has told and that multiplies the hazard of several causes makes them lean on each other a
little. Let go, each cause counts with what the fact does to it on average: its own probability is the same,
only that the causes share the fact is forgotten. So it is with what a fact gates. The tree without any such
tie is made first; then the facts that tell most are taken back, one by one, as long as the tree stays
nearly as small."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
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


def with_room(built: Built, evidence: Evidence, widest: int) -> tuple[Built, Engine]:
    """The network with as many of its ties as the evidence leaves room for, and its engine. Raises TooWide."""
    above = built.network.ancestors(evidence)
    tying = sorted(above & built.shares.keys(), key=lambda v: (-built.telling.get(v, 0.0), v))
    loose = untied(built, tying)
    engine = Engine(loose.network, evidence, (), widest)
    kept, order = _taken_back(built, engine, tying)
    if not kept:
        return loose, engine
    tied = untied(built, [v for v in tying if v not in kept])
    return tied, Engine(tied.network, evidence, (), widest, order)


def untied(built: Built, facts: Collection[int]) -> Built:
    """The same without the ties through these variables. A fact that depends on one of them stands for itself."""
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
    kept: list[int] = []
    order, scopes = list(tree.variables), [set(scope) for scope in tree.scopes]
    most, room = max(TABLE, tree.width), GROWTH * tree.size + SPARE
    for fact in tying:
        added = list(_hanging(network, engine, fact, kept))
        if not added:
            continue
        added.append({fact, *(parent for parent in network.parents(fact) if parent in kept)})
        tried = _placed(tree, order, fact, added)
        sizes = _sizes([*scopes, *added], tried, network.cards, tree)
        if max(sizes) <= most and sum(sizes) <= room:
            kept.append(fact)
            order, scopes = tried, [*scopes, *added]
    return kept, order


def _hanging(network: Network, engine: Engine, fact: int, kept: Collection[int]) -> Iterable[set[int]]:
    """The scopes of the tables of the tree that the fact stands in, with the facts taken back before."""
    held = {*engine.region, *kept, fact}
    for variable in sorted(held):
        family = network.families[variable]
        if isinstance(family, Table) and fact in family.parents:
            scope = {*family.parents, variable} & held
            yield scope - engine.compiled.cut.keys()


def _placed(tree: BucketTree, order: Sequence[int], fact: int, scopes: Iterable[set[int]]) -> list[int]:
    """The order with the fact right after the first bucket in which all tables that hold it have met."""
    rank = {variable: place for place, variable in enumerate(order)}
    starts = [min(rank[v] for v in scope if v in rank) for scope in scopes if any(v in rank for v in scope)]
    paths = [_path(tree, order[start], rank) for start in starts]
    common = set(paths[0]).intersection(*paths[1:]) if paths else set()
    place = min((rank[v] for v in common), default=max((rank[p[-1]] for p in paths), default=len(order) - 1))
    return [*order[: place + 1], fact, *order[place + 1 :]]


def _path(tree: BucketTree, variable: int, rank: Mapping[int, int]) -> list[int]:
    """The variables whose buckets a message from this one's passes, itself first."""
    found = [variable]
    while (at := tree.rank.get(found[-1])) is not None and (above := tree.parent_of(at)) is not None:
        found.append(tree.variables[above])
    return [v for v in found if v in rank]


def _sizes(
    scopes: Iterable[set[int]], order: Sequence[int], cards: Sequence[int], tree: BucketTree
) -> list[int]:
    """The numbers of each bucket's table, without making any; hubs are as large as their variables."""
    rank = {variable: place for place, variable in enumerate(order)}
    card = {v: tree.cards[tree.rank[v]] if v in tree.rank else cards[v] for v in order}
    waiting: list[set[int]] = [{variable} for variable in order]
    for scope in scopes:
        inside = {v for v in scope if v in rank}
        if inside:
            waiting[min(rank[v] for v in inside)] |= inside
    sizes = []
    for variable, met in zip(order, waiting, strict=True):
        behind = tree.behind(variable)
        sizes.append(prod(card[v] for v in met))
        rest = (met - {variable}) | ({behind} if behind is not None else set())
        if rest:
            waiting[min(rank[v] for v in rest)] |= rest
    return sizes
