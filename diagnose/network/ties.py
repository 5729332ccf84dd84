"""Which facts tie causes together, and how many of these ties a case has room for.

A fact that nobody has told and that multiplies the hazard of several causes makes them lean on each other a
little. Let go, each cause counts with what the fact does to it on average: its own probability is the same,
only that the causes share the fact is forgotten. So it is with what a fact gates. The tree without any such
tie is made first; then the facts that tell most are taken back, one by one, as long as the tree stays
nearly as small."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from math import inf, prod
from string import ascii_letters

import numpy as np

from diagnose.network.buckets import SMALLEST, BucketTree
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.messages import TooWide
from diagnose.network.network import Array, Family, Network, NoisyMax, Table
from diagnose.network.observed import Evidence

TABLE = 1 << 10
"""Numbers of a table that a tie may always make."""
GROWTH, SPARE = 1.5, 1 << 12
"""All tables together may grow by this factor, and by so many numbers more."""
PULL, ROOM, ROOMS = 0.001, 1 << 13, 1 << 16
"""A fact that would move a probability by more than this may make tables of so many numbers, and of so many all
together."""
LARGE = 1 << 15
"""Numbers of a tree that leaves no room for that."""
LOOKS = 2
"""How often it is looked which these are: the second time with the ties that the first took back."""


def with_room(built: Built, evidence: Evidence, widest: int, most: float = inf) -> tuple[Built, Engine]:
    """The network with as many of its ties as the evidence leaves room for, and its engine. Raises TooWide, also
    where all tables without any ties were more than `most` numbers, and ImpossibleEvidence."""
    tying = built.network.ancestors(evidence) & built.shares.keys()
    found = untied(built, tying)
    loose = engine = Engine(found.network, evidence, (), widest)
    if loose.tree.size > most:
        raise TooWide(widest)
    strength = dict[int, float]()
    hanging = _hanging(built, loose, tying) if loose.tree.size <= LARGE else []
    for look in range(LOOKS):
        pulled = pulls(built, engine, hanging, tying & found.averaged)
        if look and max(pulled.values(), default=0.0) <= PULL:
            break
        strength |= pulled
        first = sorted(tying, key=lambda v: (-strength[v], -built.telling.get(v, 0.0), v))
        kept, order = _taken_back(built, loose, first, {v for v in tying if strength[v] > PULL}, widest)
        if not kept:
            break
        found = untied(built, tying - set(kept))
        engine = Engine(found.network, evidence, (), widest, order)
    return found, engine


def has_room(built: Built, evidence: Evidence, widest: int) -> bool:
    """Whether there is room for the evidence with all its ties let go."""
    try:
        Engine(loosened(built, evidence).network, evidence, (), widest)
    except TooWide:
        return False
    return True


def loosened(built: Built, evidence: Evidence) -> Built:
    """The network with all ties let go that the evidence could pass through."""
    return untied(built, built.network.ancestors(evidence) & built.shares.keys())


def untied(built: Built, facts: Collection[int]) -> Built:
    """The same without the ties through these variables. Facts still follow the facts they depend on: two that hang
    on one that is let go would count in one table as if they had nothing to do with each other."""
    network, gone = built.network, frozenset(facts)
    families = list(network.families)
    for v in {v for fact in gone for v in network.children[fact]} - built.shares.keys():
        families[v] = _averaged(built, v, families[v], gone)
    telling = {v: spread for v, spread in built.telling.items() if v not in gone}
    whole = Network(network.names, network.states, tuple(families))
    return replace(built, network=whole, telling=telling, averaged=built.averaged | gone)


def _averaged(built: Built, variable: int, family: Family, gone: frozenset[int]) -> Table:
    """What hangs on facts that are let go, on average over them, as if these were independent of its parents that
    are no facts."""
    assert isinstance(family, Table)
    arises = built.priors.get(built.variables[variable].id)
    if arises is not None and gone.issuperset(family.parents):
        return Table((), np.array([1 - arises, arises]))  # as below, in one step
    for fact in gone.intersection(family.parents):
        family = _without(built, family, fact)
    return family


def _without(built: Built, family: Table, fact: int) -> Table:
    """The table on average over one of its facts: as often as with the other facts of the table."""
    others = tuple(parent for parent in family.parents if parent != fact)
    network, own = built.network, built.network.ancestors([fact])
    near = [v for v in others if v in built.shares and not own.isdisjoint(network.ancestors([v]))]
    values = np.moveaxis(family.values, family.parents.index(fact), 0)
    shape = [len(values), *(network.cards[v] if v in near else 1 for v in others)]
    weights = _given(network, fact, near).reshape(*shape, *[1] * (values.ndim - len(shape)))
    return Table(others, (weights * values).sum(axis=0))


def _given(network: Network, fact: int, others: Sequence[int]) -> Array:
    """P(fact | other facts), shape (card of the fact, card of each other), by the tables of all that they depend
    on; P(fact) where the others cannot be so together, for predictions, which take them as independent."""
    name = dict(zip(sorted(network.ancestors([fact, *others])), ascii_letters, strict=False))
    tables = ",".join("".join(name[p] for p in (*network.parents(v), v)) for v in name)
    asked = "".join(name[v] for v in (fact, *others))
    values: list[Array] = [network.families[v].values for v in name]  # type: ignore[union-attr]
    both = np.einsum(f"{tables}->{asked}", *values)
    often, plain = both.sum(axis=0), both.reshape(len(both), -1).sum(axis=1)
    beside = plain.reshape(-1, *[1] * (both.ndim - 1))
    found: Array = np.where(often > 0, both / np.maximum(often, SMALLEST), beside)
    return found


def _taken_back(
    built: Built, engine: Engine, tying: Sequence[int], strong: Set[int], widest: int
) -> tuple[list[int], list[int]]:
    """The facts that there is room for, the first first, and the order of elimination with them."""
    tree, network = engine.tree, built.network
    sizes = np.array([float(prod(tree.cards[tree.rank[v]] for v in scope)) for scope in tree.scopes])
    most, room = float(min(widest, max(tree.width, ROOM))), float(max(tree.size, ROOMS))
    starts, weak = _starts(network, engine, tying), False
    largest, total = float(tree.width), float(tree.size)
    kept, spreads = list[int](), dict[int, _Spread]()
    for fact in (fact for fact in tying if fact in starts):
        tried = _with(spreads, fact, tree, network, {v: starts[v] for v in (*kept, fact)})
        grown = sizes.copy()
        for one, spread in tried.items():
            grown[spread.places] *= network.cards[one]
        if fact not in strong and not weak:
            most, room, weak = max(TABLE, largest), GROWTH * total + SPARE, True
        size = grown.sum() + grown[[spread.top for spread in tried.values()]].sum()
        if grown.max() <= most and size <= room:
            kept, spreads, largest, total = [*kept, fact], tried, grown.max(), size
    return kept, _order(tree, {fact: spread.top for fact, spread in spreads.items()})


@dataclass(frozen=True, slots=True)
class _Spread:
    """The buckets whose tables hold a fact that is eliminated right after the bucket `top`."""

    places: list[int]
    top: int


def pulls(
    built: Built, engine: Engine, hanging: Sequence[_Hanging], facts: Collection[int]
) -> dict[int, float]:
    """By how much, at most, any variable's probabilities would move if the fact tied together what hangs on it: one
    round of messages between the fact and these (Pearl's; from memory), by what the engine says without that
    tie."""
    told: dict[int, list[Array]] = {}
    by_place = {(one.fact, one.variable): one for one in hanging}
    for one in hanging:
        if one.fact in facts:
            told.setdefault(one.fact, []).append(one.told(engine))
    found = {}
    for fact in facts:
        said = [*told.get(fact, ()), *_from_above(built, engine, told, fact)]
        for below in built.network.children[fact].intersection(facts):
            table = built.network.families[below].values  # type: ignore[union-attr]
            said += [table @ one for one in told.get(below, ())]
        found[fact] = _largest_move(built.shares[fact], said) if len(said) > 1 else 0.0
    for one in hanging:
        if one.fact in facts and one.parents:
            found[one.fact] = max(found[one.fact], _through_gate(built, engine, one, by_place))
    return found


def _through_gate(
    built: Built, engine: Engine, gate: _Hanging, by_place: Mapping[tuple[int, int], _Hanging]
) -> float:
    """By how much what stands behind a gate would move if it were remembered that the gate's fact also multiplies
    what feeds it: a cause that frost brings shows by what only frost lets show."""
    free, shown = gate.parents[-1], 1 - float(engine.marginal(gate.variable)[0])
    family = built.network.families[free]
    assert isinstance(family, NoisyMax)
    weight, fed = float(1 - family.leak[0]), np.full(len(gate.ratio), float(1 - family.leak[0]))
    for parent, link in zip(family.parents, family.links, strict=True):
        brings = float(engine.marginal(parent) @ (1 - link[:, 0]))
        one = by_place.get((gate.fact, parent))
        ratio = one.ratio.reshape(len(fed), -1)[:, -1] if one and not one.parents else np.ones(len(fed))
        weight, fed = weight + brings, fed + brings * ratio
    opens = gate.ratio.reshape(len(fed), -1)[:, -1]
    odds = float(built.shares[gate.fact] @ (fed * opens)) / max(weight, SMALLEST) * shown
    return abs(odds / (1 - shown + odds) - shown)


def _from_above(
    built: Built, engine: Engine, told: Mapping[int, Sequence[Array]], fact: int
) -> Iterator[Array]:
    """What the fact that this one depends on says of it, not scaled, shape (card, 1): that one's own word, or,
    where it was let go too, what hangs on it says."""
    for parent in built.network.parents(fact):
        belief = engine.marginal(parent) if parent in engine.region else built.shares[parent]
        for one in told.get(parent, ()):
            belief = belief * one.sum(axis=1)
        shares = belief @ built.network.families[fact].values  # type: ignore[union-attr]
        before = built.shares[fact]
        yield np.divide(shares, before, out=np.ones_like(shares), where=before > 0)[:, None]


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


@dataclass(frozen=True, slots=True, eq=False)
class _Hanging:
    """A variable with a table in which a fact stands: what the table multiplies its mean over the fact by, and
    that mean, both with the fact's axis first (of length one in the mean), then the `parents`' and the variable's;
    other facts on average."""

    fact: int
    variable: int
    parents: tuple[int, ...]
    mean: Array
    ratio: Array

    def told(self, engine: Engine) -> Array:
        """What the variable says of the fact: P(state | evidence) x P(evidence of it | state, value), not scaled,
        shape (card of the fact, card of the variable); what else it hangs on taken as if independent."""
        marginal, belief = engine.marginal(self.variable), self.mean
        for axis, parent in enumerate(self.parents):
            shape = [1] * self.mean.ndim
            shape[axis] = -1
            belief = belief * engine.marginal(parent).reshape(shape)
        expected = belief.reshape(-1, belief.shape[-1]).sum(axis=0)
        belief = belief * (marginal / np.maximum(expected, SMALLEST))
        return np.asarray((self.ratio * belief).reshape(len(self.ratio), -1, len(marginal)).sum(axis=1))


def _hanging(built: Built, engine: Engine, facts: Set[int]) -> list[_Hanging]:
    """All of the tree that hangs on these facts, once for each of them."""
    found = []
    for v in sorted({v for fact in facts for v in built.network.children[fact]} & engine.region - facts):
        family = built.network.families[v]
        assert isinstance(family, Table)
        found += [_hangs(built, v, family, fact) for fact in facts & set(family.parents)]
    return found


def _hangs(built: Built, variable: int, family: Table, fact: int) -> _Hanging:
    for other in [p for p in family.parents if p in built.shares and p != fact]:
        family = _without(built, family, other)
    table, mean = np.moveaxis(family.values, family.parents.index(fact), 0), _without(built, family, fact)
    ratio = np.divide(table, mean.values, out=np.zeros_like(table), where=mean.values > 0)
    return _Hanging(fact, variable, mean.parents, mean.values, ratio)


def _starts(network: Network, engine: Engine, facts: Collection[int]) -> dict[int, set[int]]:
    """Fact -> the buckets that hold a table of the tree in which it stands."""
    tree, found = engine.tree, dict[int, set[int]]()
    for variable in engine.region:
        family = network.families[variable]
        if isinstance(family, Table):
            for fact in set(facts).intersection(family.parents):
                places = [tree.place_of(v) for v in (*family.parents, variable) if v != fact]
                if inside := [place for place in places if place is not None]:
                    found.setdefault(fact, set()).add(min(inside))
    return found


def _with(
    spreads: Mapping[int, _Spread],
    fact: int,
    tree: BucketTree,
    network: Network,
    starts: Mapping[int, Collection[int]],
) -> dict[int, _Spread]:
    """The spreads with that of one more fact, and of those that it depends on: these reach to where it ends. Of
    `starts` only those of facts that are kept."""
    found = dict(spreads)
    for v in sorted(network.ancestors([fact]), reverse=True):
        below = [found[child].top for child in network.children[v] & found.keys()]
        found[v] = _spread(tree, [*starts.get(v, ()), *below])
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
