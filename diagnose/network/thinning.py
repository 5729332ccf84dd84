"""Where a case is too wide to be exact: the links between hidden states that matter least to it count on average.

A link on average brings its effect about as often as what it comes from is there before anything is seen, whether
that is there or not: effect and cause are still likely as often, only that the one speaks of the other is
forgotten. What that costs is known only by what the rest of the case says of both. So the links are let go by
strength first, until there is room; then one round of messages says what each of the weaker ones matters to this
case (Pearl's; from memory), and those go that matter least. What the largest of them would move is told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.network.buckets import SMALLEST
from diagnose.network.built import Built
from diagnose.network.compiling import hub_of
from diagnose.network.engine import Engine
from diagnose.network.factors import max_of
from diagnose.network.messages import TooWide
from diagnose.network.network import Array, NoisyMax
from diagnose.network.observed import Evidence
from diagnose.network.predict import from_parents, rough_marginals
from diagnose.network.ties import loosened

MORE = 12
"""So many times as many links as must go, if the weakest do, are looked at; those go that matter least."""

NEAR = 4
"""Of so many links that must go, one more may: the few that matter least are not worth another try."""

Link = tuple[int, int]
"""What it comes from, and what it leads to."""


@dataclass(frozen=True, slots=True, eq=False)
class Thinned:
    """The `whole` with some `links` on average, and its engine. `error`: by how much the largest of them would move
    a probability, as far as one round of messages tells."""

    whole: Built
    built: Built
    engine: Engine
    links: frozenset[Link]
    error: float

    @property
    def strongest(self) -> float:
        """The strongest of the links on average."""
        links = {v: dict(_links_of(self.whole, v)) for _, v in self.links}
        strengths = [brought(links[effect][parent]) for parent, effect in self.links]
        return max(strengths, default=0.0)


def thinned(whole: Built, evidence: Evidence, widest: int, most: int) -> Thinned:
    """The case with as many of its links as tables of `widest` numbers, and `most` all together, have room for.
    Facts of the machine that are not known stand on average. Raises TooWide where there is no room without any."""
    case = _Case(loosened(whole, evidence), evidence, widest, most)
    weakest = case.by_strength
    case.without(weakest)  # quick, and there is nothing to seek where even that has no room
    gone, _, engine = case.spared(weakest)
    looked_at = MORE * len(gone)
    pulls = case.pulls(engine, weakest[:looked_at])
    least = sorted(pulls, key=lambda link: (pulls[link], link))
    gone, built, engine = case.spared([*least, *weakest[looked_at:]], len(gone))
    error = max(case.pulls(engine, gone).values(), default=0.0)
    return Thinned(whole, built, engine, frozenset(gone), error)


def without_links(built: Built, before: Mapping[int, Array], gone: Iterable[Link]) -> Built:
    """The same with these links on average in the leaks of what they lead to; `before`: how likely each state was
    before anything was seen, shape (card, 1)."""
    families, parents = list(built.network.families), dict[int, dict[int, Array]]()
    for parent, effect in gone:
        parents.setdefault(effect, {})[parent] = before[parent][:, 0]
    for effect, states in parents.items():
        family = families[effect]
        assert isinstance(family, NoisyMax)
        families[effect] = without(family, states)
    return replace(built, network=replace(built.network, families=tuple(families)))


def without(family: NoisyMax, average: Mapping[int, Array]) -> NoisyMax:
    """The family without some of its parents: on average, by the distribution of their states."""
    leak, links = family.leak, dict(zip(family.parents, family.links, strict=True))
    for v in links.keys() & average.keys():
        leak = max_of(leak, average[v] @ links.pop(v))
    return NoisyMax(tuple(links), leak, tuple(links.values()))


def _links_of(built: Built, effect: int) -> Iterator[tuple[int, Array]]:
    """Parent and what each of its states brings, shape (card of the parent, card); none of a table."""
    family = built.network.families[effect]
    if isinstance(family, NoisyMax):
        yield from zip(family.parents, family.links, strict=True)


def brought(link: Array) -> float:
    """How strong a link is: the most that a state of what it comes from brings."""
    return float(link[1:, 1:].sum(axis=1).max())


class _Case:
    """One case without its ties, and its links with what they bring, those to what was seen apart."""

    def __init__(self, built: Built, evidence: Evidence, widest: int, most: int):
        self.built, self.evidence, self.widest, self.most = built, evidence, widest, most
        self.before: dict[int, Array] = {}
        self.links: dict[Link, Array] = {}
        for v in sorted(built.network.ancestors(evidence)):
            family = built.network.families[v]
            self.before[v] = from_parents(family, self.before)
            if v not in evidence:
                self.links |= {(p, v): link for p, link in _links_of(built, v)}

    @property
    def by_strength(self) -> list[Link]:
        """All links, the weakest between hidden states first; those of causes after them, for they tie less."""

        def strength(link: Link) -> tuple[bool, float, Link]:
            return not self.built.network.parents(link[0]), brought(self.links[link]), link

        return sorted(self.links, key=strength)

    def spared(self, links: Sequence[Link], guess: int = 1) -> tuple[Sequence[Link], Built, Engine]:
        """About the fewest of these, the first first, that must go for there to be room, and the case without them;
        tried from a `guess` on. There must be room without all of them."""
        tight, roomy, found = -1, guess, self._with_room(links[:guess])
        while found is None:
            tight, roomy = roomy, 2 * roomy
            found = self._with_room(links[:roomy])
        while roomy - tight > 1 + max(tight, 0) // NEAR:
            middle = (tight + roomy) // 2
            fewer = self._with_room(links[:middle])
            tight, roomy, found = (tight, middle, fewer) if fewer else (middle, roomy, found)
        return links[:roomy], *found

    def _with_room(self, gone: Iterable[Link]) -> tuple[Built, Engine] | None:
        """The case with these links on average, if there is room for it."""
        try:
            return self.without(gone)
        except TooWide:
            return None

    def without(self, gone: Iterable[Link]) -> tuple[Built, Engine]:
        """The case with these links on average. Raises TooWide."""
        built = without_links(self.built, self.before, gone)
        engine = Engine(built.network, self.evidence, (), self.widest)
        if engine.tree.size > self.most:
            raise TooWide(self.widest)
        return built, engine

    def pulls(self, engine: Engine, gone: Sequence[Link]) -> dict[Link, float]:
        """By how much, at most, taking each of these back would move what it comes from or leads to; `engine`: of
        the case without them."""
        hubs = {v: hub_of(engine.network, v) for v in {effect for _, effect in gone}}
        openings = engine.tree.openings(hub for hub in hubs.values() if hub in engine.tree.rank)
        now, found = rough_marginals(engine, {parent for parent, _ in gone}), {}
        for parent, effect in gone:
            opening = openings.get(hubs[effect], None)
            if opening is None:
                opening = self._opening(engine, effect)
            before = self.before[parent][:, 0]
            found[parent, effect] = _moved(self.links[parent, effect], before, now[parent], opening)
        return found

    def _opening(self, engine: Engine, effect: int) -> Array:
        """What one more contribution to an effect without a hub makes of P(evidence), by the state that comes in:
        from how likely its states were before anything was seen and are now, as if all that was seen hung on it."""
        before = self.before[effect][:, 0]
        now = engine.marginal(effect) if effect in engine.region else before
        says = now / np.maximum(before, SMALLEST)
        states = np.arange(len(before))
        return np.array([before @ says[np.maximum(states, least)] for least in states])


def _moved(link: Array, before: Array, now: Array, opening: Array) -> float:
    """The most that a state of either end moves. `before`, `now`: P(states of what it comes from) before anything
    was seen and without the link; `opening`: what one more contribution to the effect makes of P(evidence)."""
    told = now * (link @ opening)
    apart = told / max(told.sum(), SMALLEST) - now
    average, linked = before @ link * opening, now @ link * opening
    below = linked / max(linked.sum(), SMALLEST) - average / max(average.sum(), SMALLEST)
    return float(max(np.abs(apart).max(), np.abs(below).max()))
