"""Some causes held, then some of them taken away: what is left of a complaint.

The noise of every mechanism that no repair touches stays (build.py), so what is left of a complaint is its
*copy*: the same inhibitors with fewer causes. Only what lies between the causes and the complaint is copied,
as for epochs: other parents and the leak are common, each link among copies has its inhibitor as a root. A
cause that was not repaired stays, whatever had wrecked it.

As the causes are held in every row of a batch, they need no place in the tables of what they lead to: what
they contribute to a family together is a distribution, which a root of its own takes as its weights, row by
row. So the tree is as narrow as the rest of the network lets it be; the numbers are the same.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence, Set
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.link_tables import breaks, inhibited
from diagnose.network.messages import TooWide
from diagnose.network.network import Array, Family, Network, NoisyMax, Table
from diagnose.network.observed import one_hot

WIDEST = 1 << 15
"""Largest table with which what is left of a complaint is reckoned exactly."""
WIDE = 1 << 15
"""Largest table for it at all."""
Pair = tuple[int, int]
"""Which of the causes are there before and after, as bits; after is a part of before."""


@dataclass(frozen=True, slots=True, eq=False)
class _Share:
    """What the causes contribute together to one family: bit of each cause with the cumulative distribution
    of its contribution. `both`: to it and to its copy."""

    links: tuple[tuple[int, Array], ...]
    card: int
    both: bool

    def weights(self, pairs: Sequence[Pair]) -> Array:
        """Distribution of the largest contribution, shape (card, pairs); with `both` of those before and
        after, shape (card * card, pairs), the one after fastest."""
        before, after = (np.array(column, dtype=np.int64) for column in zip(*pairs, strict=True))
        if not self.both:
            upto = np.ones((self.card, len(pairs)))
            for bit, cumulative in self.links:
                upto *= np.where(before >> bit & 1, cumulative[:, None], 1.0)
            return np.diff(upto, axis=0, prepend=0.0)
        lower = np.minimum.outer(np.arange(self.card), np.arange(self.card))
        joint = np.ones((self.card, self.card, len(pairs)))
        for bit, cumulative in self.links:
            kept, gone = after >> bit & 1, before >> bit & 1
            left = np.where(kept, cumulative[lower][..., None], 1.0)
            joint *= left * np.where(gone & ~kept, cumulative[:, None, None], 1.0)
        joint = np.diff(np.diff(joint, axis=0, prepend=0.0), axis=1, prepend=0.0)
        return joint.reshape(self.card * self.card, len(pairs))


@dataclass(slots=True, eq=False)
class _Copied:
    """A network with the causes cut out of what they lead to and the copies put in. `causes`: their variables
    by bit; `path`: what is copied; `copy`: variable -> its copy; `shares`: root -> what the causes put in
    it."""

    network: Network
    causes: Sequence[int]
    path: Collection[int]
    names: list[str] = field(default_factory=list)
    states: list[tuple[str, ...]] = field(default_factory=list)
    families: list[Family] = field(default_factory=list)
    copy: dict[int, int] = field(default_factory=dict)
    shares: dict[int, _Share] = field(default_factory=dict)
    bit: dict[int, int] = field(init=False)

    def __post_init__(self) -> None:
        self.names, self.states = list(self.network.names), list(self.network.states)
        self.families = list(self.network.families)
        self.bit = {v: bit for bit, v in enumerate(self.causes)}

    def add(self, name: str, card: int, family: Family) -> int:
        """A new variable; it stands after those that it can be a parent of, which inference does not mind."""
        self.names.append(name)
        self.states.append(tuple(map(str, range(card))))
        self.families.append(family)
        return len(self.names) - 1

    def free(self, name: str, card: int) -> int:
        """A root that says nothing of itself: its weights are given row by row."""
        return self.add(name, card, Table((), np.ones(card)))

    def after(self, variable: int) -> int:
        """What stands for a parent after the repair: its copy, or itself where nothing of it changes."""
        if variable in self.bit and variable not in self.copy:
            self.copy[variable] = self.free(f"{self.names[variable]}@after", 2)
        return self.copy.get(variable, variable)

    def put(self, variable: int) -> None:
        """Cut the causes out of the variable's family, and copy it where it is on the path."""
        family = self.network.families[variable]
        copied = variable in self.path
        if not copied and (isinstance(family, Table) or self.bit.keys().isdisjoint(family.parents)):
            return
        if isinstance(family, Table):
            self.copy[variable] = self._table(variable, family)
        elif copied and _certain(family):
            parents = tuple(map(self.after, family.parents))
            self.copy[variable] = self._named(variable, NoisyMax(parents, family.leak, family.links))
        else:
            self._noisy(variable, family, copied)

    def _named(self, variable: int, family: Family) -> int:
        return self.add(f"{self.names[variable]}@after", self.network.cards[variable], family)

    def _table(self, variable: int, family: Table) -> int:
        """A table that is certain, or a gate: behind a closed one what is told by mistake stays as it was. A gate
        averaged over a fact that is not known was open where something showed, and shows then what is left."""
        parents = tuple(map(self.after, family.parents))
        if bool(np.isin(family.values, (0.0, 1.0)).all()):
            return self._named(variable, Table(parents, family.values))
        card = family.values.shape[-1]
        unsure = (family.values.max(axis=-1) < 1)[..., None, None]
        shut = (np.ptp(family.values, axis=-2) == 0).all(axis=-1)[..., None, None, None]
        least = np.eye(card)[np.minimum.outer(np.arange(card), np.arange(card))]
        stays = np.where(shut, np.eye(card), least)
        same = np.where(unsure, stays, family.values[..., None, :])
        return self._named(variable, Table((*parents, variable), same))

    def _noisy(self, variable: int, family: NoisyMax, copied: bool) -> None:
        """The common part, what the causes contribute, and each link among copies with its inhibitor."""
        name, card = self.names[variable], len(family.leak)
        links = list(zip(family.parents, family.links, strict=True))
        mine = tuple((self.bit[p], np.cumsum(link[1])) for p, link in links if p in self.bit)
        rest = [(p, link) for p, link in links if p not in self.bit and not (copied and p in self.path)]
        common = NoisyMax(tuple(p for p, _ in rest), family.leak, tuple(link for _, link in rest))
        root = self._shared(name, mine, card, copied) if mine else None
        if not copied:
            assert root is not None
            self.families[variable] = _with(common, [(root, np.eye(card))])
            return
        shared = self.add(f"{name}@common", card, common)
        before, after = [(shared, np.eye(card))], [(shared, np.eye(card))]
        if root is not None:
            pairs = np.repeat(np.eye(card), card, axis=0), np.tile(np.eye(card), (card, 1))
            before, after = [*before, (root, pairs[0])], [*after, (root, pairs[1])]
        for parent, link in links:
            if parent in self.path:
                noise = self._noise(f"{self.names[parent]}>{name}", link)
                before.append((self._contributed(parent, noise, link), np.eye(card)))
                after.append((self._contributed(self.after(parent), noise, link), np.eye(card)))
        nothing = NoisyMax((), one_hot(card, 0), ())
        self.families[variable] = _with(nothing, before)
        self.copy[variable] = self._named(variable, _with(nothing, after))

    def _shared(self, name: str, links: tuple[tuple[int, Array], ...], card: int, both: bool) -> int:
        root = self.free(f"{name}@causes", card * card if both else card)
        self.shares[root] = _Share(links, card, both)
        return root

    def _noise(self, name: str, link: Array) -> int:
        widths = np.diff(breaks(link), prepend=0.0)
        return self.add(f"{name}@inhibitor", len(widths), Table((), widths))

    def _contributed(self, parent: int, noise: int, link: Array) -> int:
        name = f"{self.names[parent]}>{self.names[noise]}"
        return self.add(name, link.shape[1], Table((parent, noise), inhibited(link)))

    def whole(self) -> Network:
        """The network as it stands."""
        return Network(tuple(self.names), tuple(self.states), tuple(self.families))


def _with(family: NoisyMax, more: Iterable[tuple[int, Array]]) -> NoisyMax:
    parents, links = zip(*more, strict=True)
    return NoisyMax((*family.parents, *parents), family.leak, (*family.links, *links))


def _certain(family: NoisyMax) -> bool:
    """Whether it has no noise of its own."""
    return all(bool(np.isin(table, (0.0, 1.0)).all()) for table in (family.leak, *family.links))


class Remaining:
    """Some causes (variables) of a network under its evidence, and the complaints (variables) behind which
    they may be. Sets of the causes are numbers, one bit each.

    Exact where that needs no table of more than `widest` numbers. Else what was found below the path, which
    ties every copy to its original, counts for the sets of causes only and not for the noise between them and
    the complaints; where that is too wide too, so does all that was found. Raises TooWide where even that
    does not do.
    """

    def __init__(
        self,
        built: Built,
        engine: Engine,
        causes: Sequence[int],
        complaints: Sequence[int],
        widest: int = WIDEST,
    ):
        known = set(built.causes)
        path = _path(
            built.network, causes, complaints, {v for v, one in enumerate(built.variables) if one.id in known}
        )
        copied = _Copied(built.network, causes, path)
        for variable in sorted(engine.region):
            copied.put(variable)
        after = [(copied.after(v), _any(built.network.cards[v])) for v in complaints]
        left = copied.add("left", 2, _with(NoisyMax((), one_hot(2, 0), ()), after))
        self._copied, network = copied, copied.whole()
        seen = _but_for_the_complaint(engine, complaints)
        apart = {v: e for v, e in seen.items() if path.isdisjoint(built.network.ancestors([v]))}
        stays = {left: one_hot(2, 1)}
        for counted in (seen, apart) if engine.tree.width <= widest else ():
            try:
                self.tree = Engine(network, {**counted, **stays}, (), widest).tree
                self.exact = counted is seen
                return
            except TooWide:
                continue
        self.tree, self.exact = Engine(network, stays, (), WIDE).tree, False

    def left(self, pairs: Sequence[Pair]) -> Array:
        """P(some complaint is still there | evidence, the causes before and after), shape (pairs,); 1 where
        those before cannot be behind it."""
        if not pairs:
            return np.zeros(0)
        whole = sorted({before for before, _ in pairs})
        logs = self._log([*pairs, *((one, one) for one in whole)])
        there = dict(zip(whole, logs[len(pairs) :], strict=True))
        before = np.array([there[one] for one, _ in pairs])
        possible = np.isfinite(before)
        more = np.where(possible, logs[: len(pairs)] - np.where(possible, before, 0.0), 0.0)
        return np.minimum(np.exp(more), 1.0)

    def _log(self, pairs: Sequence[Pair]) -> Array:
        """log P(what was found, some complaint after | causes before and after), but for a common term."""
        before, after = (np.array(column, dtype=np.int64) for column in zip(*pairs, strict=True))
        weights = {root: share.weights(pairs) for root, share in self._copied.shares.items()}
        for cause, bit in self._copied.bit.items():
            weights[cause] = _held(before >> bit & 1)
            if cause in self._copied.copy:
                weights[self._copied.copy[cause]] = _held(after >> bit & 1)
        return self.tree.run(weights, (), len(pairs)).log_probability


def _but_for_the_complaint(engine: Engine, complaints: Sequence[int]) -> dict[int, Array]:
    """The evidence; without the complaint where it is one alone and certain: that it is still there implies
    it."""
    implied = set(complaints) & engine.fixed.keys() if len(complaints) == 1 else set()
    return {v: likelihood for v, likelihood in engine.evidence.items() if v not in implied}


def _held(states: NDArray[np.int64]) -> Array:
    return np.array([1 - states, states], dtype=float)


def _any(card: int) -> Array:
    """Any state but the first."""
    link = np.zeros((card, 2))
    link[0, 0] = 1.0
    link[1:, 1] = 1.0
    return link


def _path(network: Network, causes: Sequence[int], complaints: Sequence[int], persists: Set[int]) -> set[int]:
    """What lies between the causes and the complaints, these among it; not through other causes, which
    persist."""
    above, held = network.ancestors(complaints), set(causes)
    found: set[int] = set()
    for variable in sorted(above):
        leads = not (held | found).isdisjoint(network.parents(variable))
        if leads and variable not in held and variable not in persists:
            found.add(variable)
    return found
