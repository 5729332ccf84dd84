"""Where a case is too wide to be exact: unlikely causes counted few at a time, with the error told.

Of the many causes that could be behind a case, few are there at once. So

    P(evidence, x) = sum over sets S of the unlikely causes of P(S) P(evidence, x | of these, exactly S are there)

is summed set by set: without them the tree is narrow, and a cause of a set stands in it as one more contribution at
the hub of each of its effects. The empty set and every single cause are summed as they are. Larger sets are drawn:
each cause by what it alone makes of the odds, as if the causes did not bear on each other, and weighed by what the
set really makes of them (importance sampling with the posterior of independent causes as proposal; strata by the
size of the set; Owen, Monte Carlo theory, methods and examples, 2013, chapters 8 and 9, from memory). So the answer
comes with a standard error. The likelier causes, and all that is no root, stay variables and are exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from diagnose.network.built import Built
from diagnose.network.compiling import hub_of
from diagnose.network.engine import Engine
from diagnose.network.factors import max_of
from diagnose.network.messages import MAX_TABLE, Beliefs, TooWide
from diagnose.network.network import Array, NoisyMax, Table
from diagnose.network.observed import Evidence
from diagnose.network.predict import from_parents
from diagnose.network.ties import loosened, with_room

EXACT = (12, 48)
"""How many of the likelier causes are kept exact: of those that seem so where none is, then where the first are.
Half as many where there is no room for them, and half of these."""
DRAWS = 128
"""Sets of two causes or more that are drawn, where there is room."""
NUMBERS, FEWEST = 1 << 24, 96
"""So many numbers of trees are worked out for sets in all (about two seconds); at least so many sets are."""
HARDLY = 2e-4
"""By so much, roughly, the evidence must move the odds of an unlikely cause for it to be looked at more closely:
what it does not move moves nothing else."""
ROUGHLY = 0.004
"""How far the others can be off (on 44 drawn cases none was by more than 0.0085)."""
TRIED, BLOCK = 1 << 16, 1 << 11
"""Sets drawn at most until so many have two causes or more, and how many at a time."""
ALIKE = 16
"""So many draws of equal weight must say as much as those drawn (effective sample size; Kong 1992, from memory), or
their spread tells no error: then more causes must be exact (judgement)."""
UNLIKELY = 1e-4
"""Share of the sets of two or more below which none is drawn: that is the error then."""


@dataclass(frozen=True, slots=True)
class Presences:
    """P(cause is there | evidence) of every cause above the evidence, and the largest standard error of any."""

    of: Mapping[int, float]
    error: float


@dataclass(frozen=True, slots=True, eq=False)
class FewAtATime:
    """What was found of the `whole`, and a network of tables small enough for further questions: in it the `rare`
    causes are no variables but act on average, each by itself, at each of their effects; links between hidden
    states that are weaker than `weakest` are no links but act on average in both."""

    whole: Built
    rare: frozenset[int]
    weakest: float
    presences: Presences
    built: Built
    engine: Engine

    def absent_above(self, variable: int) -> float:
        """P(none of the rare causes above the variable is there | evidence), as if each were by itself."""
        above = self.whole.network.ancestors([variable]) & self.rare
        return float(np.prod([1 - self.presences.of[v] for v in above]))


def few_at_a_time(
    whole: Built, evidence: Evidence, widest: int, weakest: float = 0.0, fewest: int = 0
) -> FewAtATime:
    """The case with as many of the likelier causes exact as tables of `widest` numbers have room for. Links between
    hidden states that are weaker than `weakest` count on average. Raises TooWide where there is no room even
    without any of the causes, or not for enough of them."""
    built = thinned(whole, evidence, weakest) if weakest else whole
    network = built.network
    rare = _rare(built, network.ancestors(evidence))
    loose = loosened(built, evidence)  # enough to tell which are likely
    parted = _Parted(loose, evidence, frozenset(rare), widest)
    for count in EXACT:
        chances = parted.rough()
        rare.sort(key=lambda v: -chances[v])
        parted = _with_room_for(count, rare, parted, widest)
    if len(rare) - len(parted.rare) < min(fewest, len(rare)):
        raise TooWide(widest)
    chances = parted.rough()
    parted = _Parted(built, evidence, parted.rare, widest)
    return FewAtATime(whole, parted.rare, weakest, parted.presences(chances), *parted.averaged())


def on_average(built: Built, engine: Engine, likely: Set[int]) -> tuple[Built, Engine]:
    """The same with all causes that can be let go but the likely ones on average in their effects."""
    smaller = folded(built, frozenset(_rare(built, engine.region)) - likely, True)
    return smaller, Engine(smaller.network, engine.evidence)


def _with_room_for(count: int, likeliest: Sequence[int], least: _Parted, widest: int) -> _Parted:
    """With so many of the first of these exact, or as many as there is room for; as before where that is no
    more."""
    while count > len(likeliest) - len(least.rare):
        try:
            return _Parted(least.whole, least.evidence, frozenset(likeliest[count:]), widest)
        except TooWide:
            count //= 2
    return least


def _rare(built: Built, region: Set[int]) -> list[int]:
    """The causes that can be let go: never repaired, nothing above them but facts of the machine, all effects
    noisy-MAX."""
    network = built.network
    tabled = {p for v in region if isinstance(network.families[v], Table) for p in network.parents(v)}
    steady = {built.variable(id) for id in built.causes if len(set(built.versions[id])) == 1}
    return sorted(v for v in steady & region - tabled if built.shares.keys() >= set(network.parents(v)))


def thinned(built: Built, evidence: Evidence, weakest: float) -> Built:
    """The same with weak links between hidden states on average in the leaks of what they lead to: as often as what
    they come from is there before anything is seen, its parents taken as independent."""
    network, before = built.network, dict[int, Array]()
    families = list(network.families)
    for v in sorted(network.ancestors(evidence)):
        family = network.families[v]
        before[v] = from_parents(family, before)
        if isinstance(family, NoisyMax) and v not in evidence:
            weak = {
                p
                for p, link in _links(family)
                if network.parents(p) and link[1:, 1:].sum(axis=1).max() < weakest
            }
            families[v] = _without(family, {p: before[p][:, 0] for p in weak})
    return replace(built, network=replace(network, families=tuple(families)))


def _links(family: NoisyMax) -> Iterable[tuple[int, Array]]:
    return zip(family.parents, family.links, strict=True)


def _without(family: NoisyMax, average: Mapping[int, Array | None]) -> NoisyMax:
    """The family without some of its parents: on average, by the distribution of their states, or in their
    first."""
    leak, links = family.leak, dict(_links(family))
    for v in links.keys() & average.keys():
        link, states = links.pop(v), average[v]
        if states is not None:
            leak = max_of(leak, states @ link)
    return NoisyMax(tuple(links), leak, tuple(links.values()))


def folded(built: Built, rare: Set[int], average: bool) -> Built:
    """The same with these causes out of the families of their effects: absent, or on average in the leaks."""
    chances = {v: built.priors[built.variables[v].id] for v in rare}
    states = {v: np.array([1 - p, p]) if average else None for v, p in chances.items()}
    families = tuple(
        _without(family, states)
        if isinstance(family, NoisyMax) and not states.keys().isdisjoint(family.parents)
        else family
        for family in built.network.families
    )
    return replace(built, network=replace(built.network, families=families))


class _Parted:
    """The evidence with some causes, the `rare` ones, out of the tree. Raises TooWide."""

    def __init__(self, built: Built, evidence: Evidence, rare: frozenset[int], widest: int):
        self.whole, self.evidence, self.rare, self.widest = built, evidence, rare, widest
        self.effects = _effects(built, built.network.ancestors(evidence), rare)
        self.hubs = frozenset(v for brought in self.effects.values() for v, _ in brought)
        self.built, self.engine = with_room(folded(built, rare, False), evidence, widest, self.hubs)

    def averaged(self) -> tuple[Built, Engine]:
        """The same tree with the rare causes on average in it."""
        built = folded(self.built, self.rare, True)
        return built, Engine(
            built.network, self.evidence, (), MAX_TABLE, self.engine.tree.variables, self.hubs
        )

    def rough(self) -> dict[int, float]:
        """P(cause is there | evidence), roughly: those in the tree as if none of the rare ones was there; each of
        these by what it brings at each of its effects, as if one had nothing to do with the other."""
        hubs = {v: hub_of(self.whole.network, v) for v in self.hubs if self.engine.fixed.get(v) != 0}
        openings = self.engine.tree.openings(hubs.values())
        found = {v: float(1 - self.engine.marginal(v)[0]) for v in self._causes & self.engine.region}
        for v, effects in self.effects.items():
            odds = self._odds[v]
            for effect, brought in effects:
                odds *= float(brought @ openings[hubs[effect]] if effect in hubs else brought[0])
            found[v] = odds / (1 + odds)
        return found

    def presences(self, chances: Mapping[int, float]) -> Presences:
        """What the sets of none and of one say, and drawn larger ones. Raises TooWide where these say too little.
        `chances`: of each cause, roughly; those of which the evidence says least keep that."""
        room = max(FEWEST, NUMBERS // self.engine.tree.size)
        draws = min(DRAWS, room // 3)
        moved = {v: abs(chances[v] / (1 - chances[v]) - odds) for v, odds in self._odds.items()}
        telling = sorted((v for v in self.rare if moved[v] >= HARDLY), key=lambda v: -moved[v])
        counted = _Counted(self, sorted(telling[: room - draws]))
        if counted.several > UNLIKELY * counted.few:
            counted.draw(draws)
        out = {v: chances[v] for v in self.rare.difference(counted.rare)}
        known = {v: float(state > 0) for v, state in self.engine.fixed.items() if v in self._causes}
        rough = max(ROUGHLY, counted.roughness(chances) * max(out.values())) if out else 0.0
        return Presences({**out, **known, **counted.chances()}, float(np.hypot(counted.error, rough)))

    def asked(self) -> list[int]:
        """The causes in the tree whose presence is not known."""
        return [v for v in self._causes & self.engine.region if v not in self.engine.fixed]

    def weighed(
        self, sets: Sequence[tuple[int, ...]], asked: Sequence[int]
    ) -> tuple[Array, dict[int, Array]]:
        """P(exactly this set, evidence) for each set, over that of none of them; and P(cause | evidence, set) of
        the causes asked for."""
        weights, logs = self._contributions(sets)
        beliefs: Beliefs = self.engine.tree.run(weights, asked, len(sets))
        prior = np.array([float(np.prod([self._odds[v] for v in chosen])) for chosen in sets])
        likelihood = np.exp(beliefs.log_probability + logs - self.engine.tree_log_probability)
        return prior * likelihood, {v: 1 - beliefs.marginals[v][0] for v in asked}

    def _contributions(self, sets: Sequence[tuple[int, ...]]) -> tuple[dict[int, Array], Array]:
        """What comes in at each hub by the causes of each set, shape (card, sets), and the logarithm of what they
        leave of the findings that are absent."""
        found: dict[int, Array] = {}
        logs = np.zeros(len(sets))
        for column, chosen in enumerate(sets):
            for v in chosen:
                for effect, brought in self.effects[v]:
                    if self.engine.fixed.get(effect) == 0:
                        with np.errstate(divide="ignore"):
                            logs[column] += np.log(brought[0])
                        continue
                    hub = hub_of(self.whole.network, effect)
                    if hub not in found:
                        found[hub] = np.zeros((len(brought), len(sets)))
                        found[hub][0] = 1.0
                    found[hub][:, column] = max_of(found[hub][:, column], brought)
        return found, logs

    @cached_property
    def _odds(self) -> dict[int, float]:
        chances = {v: self.whole.priors[self.whole.variables[v].id] for v in self.rare}
        return {v: p / (1 - p) for v, p in chances.items()}

    @cached_property
    def _causes(self) -> set[int]:
        return {self.whole.variable(id) for id in self.whole.causes}


class _Counted:
    """Sums of P(set, evidence) over sets of the rare causes, over that of none of them: of all (`total`), and of
    those with each cause (`sums`). First of the sets of none and of one; `several`: what all the larger ones weigh
    if no cause bears on another; `error`: how far off a probability can be for want of these."""

    def __init__(self, parted: _Parted, rare: Sequence[int]):
        self.parted, self.rare, self.asked = parted, rare, parted.asked()
        weights, present = parted.weighed([(), *((v,) for v in rare)], self.asked)
        self.alone, self.few = weights[1:], float(weights.sum())
        every = np.prod(1 + self.alone)
        self.several = float(every) - self.few
        self._with_each = self.alone * (every / (1 + self.alone) - 1)
        self.sums = {v: float(weights @ p) for v, p in present.items()}
        self.sums |= dict(zip(rare, map(float, self.alone), strict=True))
        self.total, self.error = self.few, self.several / self.few if rare else 0.0

    def chances(self) -> dict[int, float]:
        """P(cause is there | evidence)."""
        return {v: min(max(value / self.total, 0.0), 1.0) for v, value in self.sums.items()}

    def roughness(self, chances: Mapping[int, float]) -> float:
        """How far off, relative to what it is, what was thought of nine in ten of the rare causes is."""
        thought = np.array([chances[v] / (1 - chances[v]) for v in self.rare])
        off = np.abs(self.alone - thought) / np.maximum(thought, self.alone)
        return float(np.quantile(off, 0.9)) if len(off) else 1.0

    def draw(self, draws: int) -> None:
        """Add the larger sets, by so many drawn. Raises TooWide where these say too little."""
        sets = _drawn(self.alone / (1 + self.alone), draws)
        drawn, beside = self.parted.weighed([tuple(self.rare[i] for i in one) for one in sets], self.asked)
        ratios = drawn / [float(np.prod(self.alone[list(one)])) for one in sets]
        if ratios.sum() ** 2 < ALIKE * (ratios**2).sum():
            raise TooWide(self.parted.widest)
        self.total += self.several * float(ratios.mean())
        off = [0.0]
        for v, p in beside.items():
            self.sums[v] += self.several * float((ratios * p).mean())
            off.append(self._spread(v, ratios * p, ratios))
        for n, v in enumerate(self.rare):
            # How often it is drawn is known, so that only what the weights add to that is left to chance.
            beyond = (ratios - ratios.mean()) * np.array([n in one for one in sets])
            self.sums[v] += self._with_each[n] * float(ratios.mean()) + self.several * float(beyond.mean())
            off.append(self._spread(v, beyond, ratios))
        self.error = self.several * max(off) / (self.total * len(sets) ** 0.5)

    def _spread(self, variable: int, own: Array, ratios: Array) -> float:
        return float((own - ratios * self.sums[variable] / self.total).std())


def _effects(built: Built, region: Set[int], rare: Set[int]) -> dict[int, list[tuple[int, Array]]]:
    """Of each of the causes, what it leads to in the region, and what it brings there."""
    found: dict[int, list[tuple[int, Array]]] = {v: [] for v in rare}
    for effect in sorted(region):
        family = built.network.families[effect]
        if isinstance(family, NoisyMax):
            for parent, link in _links(family):
                if parent in rare:
                    found[parent].append((effect, link[1]))
    return found


def _drawn(chances: Array, count: int) -> list[tuple[int, ...]]:
    """Sets of two and more, each member there by its chance; the same every time."""
    rng = np.random.default_rng(0)
    found: list[tuple[int, ...]] = []
    for _ in range(TRIED // BLOCK):
        flags = rng.random((BLOCK, len(chances))) < chances
        found += [tuple(map(int, np.flatnonzero(row))) for row in flags[flags.sum(axis=1) > 1]]
        if len(found) >= count:
            break
    return found[:count]
