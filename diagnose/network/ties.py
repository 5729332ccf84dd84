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

from diagnose.network.buckets import BucketTree, TooWide
from diagnose.network.build import Built
from diagnose.network.engine import Engine, Evidence
from diagnose.network.network import Array, Family, Network, Table

TABLE = 1 << 10
"""Numbers of a table that a tie may always make."""
PULL, STRONGEST, ROOM = 0.001, 4, 1 << 13
"""Facts that would move a probability by more than this are kept first: so many at a time, in tables of so many numbers
or no larger than without them."""
ROUNDS = 3
"""How often it is looked which these are: the next time with those that were found."""
GROWTH, SPARE = 1.5, 1 << 12
"""All tables together may grow by this factor, and by so many numbers more."""


def with_room(
    built: Built, evidence: Evidence, widest: int, hubs: Collection[int] = ()
) -> tuple[Built, Engine]:
    """The network with as many of its ties as the evidence leaves room for, and its engine (`hubs`: as there).
    Raises TooWide."""
    tying = built.network.ancestors(evidence) & built.shares.keys()
    by_telling = sorted(tying, key=lambda v: (-built.telling.get(v, 0.0), v))
    found, engine = _tied(built, evidence, by_telling, (), widest, hubs)
    strong: list[int] = []
    for _ in range(ROUNDS):
        missing = _strong(built, engine, [v for v in by_telling if v in found.averaged])
        room = min(widest, max(engine.tree.width, ROOM))
        while missing:
            try:
                found, engine = _tied(built, evidence, by_telling, [*strong, *missing], room, hubs)
                break
            except TooWide:
                missing.pop()
        if not missing:
            break
        strong += missing
    return found, engine


def _tied(
    built: Built, evidence: Evidence, tying: Sequence[int], strong: Sequence[int], widest: int, hubs: Collection[int]
) -> tuple[Built, Engine]:
    """With the strong ties, and those of the others that there is room for beside them. Raises TooWide."""
    held = [v for v in tying if v not in strong]
    loose = untied(built, held)
    engine = Engine(loose.network, evidence, (), widest, hubs=hubs)
    kept, order = _taken_back(built, engine, held)
    if not kept:
        return loose, engine
    tied = untied(built, [v for v in held if v not in kept])
    return tied, Engine(tied.network, evidence, (), widest, order, hubs)


def _strong(built: Built, engine: Engine, loose: Sequence[int]) -> list[int]:
    """The facts let go whose ties would move something by more than PULL, each with those that depend on it, the
    strongest first."""
    found = {fact: pull for fact, pull in pulls(built, engine, loose).items() if pull > PULL}
    strong = dict[int, None]()
    for fact in sorted(found, key=lambda v: -found[v])[:STRONGEST]:
        strong |= dict.fromkeys([fact, *(v for v in loose if built.network.parents(v) == (fact,))])
    return list(strong)


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


def pulls(built: Built, engine: Engine, facts: Collection[int]) -> dict[int, float]:
    """By how much, at most, any variable's probabilities would move if the fact tied together what hangs on it: one
    round of messages between the fact and these (Pearl's; from memory), by what the engine says without any tie."""
    hanging = _hanging(built, engine, facts)
    found = {}
    for fact in facts:
        told = [_told(built, engine, fact, v) for v in hanging.get(fact, ())]
        for below in [v for v in facts if built.network.parents(v) == (fact,)]:
            table = built.network.families[below].values  # type: ignore[union-attr]
            told += [table @ _told(built, engine, below, v) for v in hanging.get(below, ())]
        found[fact] = _largest_move(built.shares[fact], told) if len(told) > 1 else 0.0
    return found


def _largest_move(shares: Array, told: Sequence[Array]) -> float:
    """The most that any of these moves when the others' word on the fact reaches it."""
    said = np.maximum([one.sum(axis=1) for one in told], 1e-300)
    every = np.log(said).sum(axis=0)
    largest = 0.0
    for one, mine in zip(told, np.log(said), strict=True):
        rest = every - mine
        moved, before = (shares * np.exp(rest - rest.max())) @ one, shares @ one
        largest = max(largest, float(np.abs(moved / moved.sum() - before / before.sum()).max()))
    return largest


def _hanging(built: Built, engine: Engine, facts: Collection[int]) -> dict[int, list[int]]:
    """Fact -> the variables of the tree with a table in which it stands."""
    found: dict[int, list[int]] = {}
    for v in sorted(engine.region):
        family = built.network.families[v]
        if isinstance(family, Table):
            for fact in set(family.parents).intersection(facts):
                found.setdefault(fact, []).append(v)
    return found


def _told(built: Built, engine: Engine, fact: int, variable: int) -> Array:
    """What a variable says of the fact that its table has: P(state | evidence) x P(evidence of it | state, value) up
    to a factor, shape (card of the fact, card of the variable); what else it hangs on taken as if independent."""
    family = built.network.families[variable]
    assert isinstance(family, Table)
    table, parents = family.values, list(family.parents)
    for other in [p for p in parents if p in built.shares and p != fact]:
        table = np.tensordot(built.shares[other], table, axes=([0], [parents.index(other)]))
        parents.remove(other)
    table = np.moveaxis(table, parents.index(fact), 0)
    parents.remove(fact)
    mean = np.tensordot(built.shares[fact], table, axes=([0], [0]))
    belief = mean
    for axis, parent in enumerate(parents):
        belief = belief * engine.marginal(parent).reshape(*(-1 if n == axis else 1 for n in range(mean.ndim)))
    expected = belief.reshape(-1, belief.shape[-1]).sum(axis=0)
    belief = belief * (engine.marginal(variable) / np.maximum(expected, 1e-300))
    ratio = np.divide(table, mean, out=np.zeros_like(table), where=mean > 0)
    told: Array = (ratio * belief).reshape(len(table), -1, table.shape[-1]).sum(axis=1)
    return told


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
