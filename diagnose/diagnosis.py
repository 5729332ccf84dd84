"""The story: knowledge + case -> diagnosis. Everything that is shown of a case starts here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import prod

from diagnose.cases.case import Case
from diagnose.cases.understood import understood, without_places
from diagnose.evidence.counted import CountedObservation, usable
from diagnose.evidence.engaged import engaged
from diagnose.evidence.relevance import above_the_shown, matters, shown
from diagnose.knowledge.away import is_away
from diagnose.knowledge.records import Knowledge
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.faults import fault_sets, roots
from diagnose.network.focus import on_average
from diagnose.network.predict import rough_marginals
from diagnose.network.thinning import Thinned
from diagnose.network.weighing import EvidenceWeights, Weighing, weigh
from diagnose.network.whereabouts import copies_of, likely_places

FOCUS = ((1 << 16, 0.03), (1 << 13, 0.01))
"""Numbers of a tree beyond which planning lets go of causes of a lower probability."""
LARGE = 1 << 15
"""Numbers of a tree from which what speaks for and against a cause, and sets of faults, do so too."""
AT_ONCE = 1 << 22
"""Numbers of a tree, over the findings for which it is asked, up to which what nobody explains is exact."""
LEADING = 3
"""The first causes of the ranking: what speaks for and against them is what is asked for as a rule."""


@dataclass(frozen=True, slots=True)
class RankedCause:
    """One cause with its probability. `wrecked_by`: the cause that most likely brought it about, if any.

    `relevant`: it can be behind what was found not normal. The others keep, or nearly keep, the probability
    that they have on any machine that comes in; nobody complains of them. `place`: the cylinder or bank where it
    most likely is, if findings were told by those.
    """

    id: str
    name: str
    system: str
    prior: float
    probability: float
    wrecked_by: str
    relevant: bool
    place: str = ""

    @property
    def role(self) -> str:
        """`root`, or `consequence` where another cause most likely brought it about."""
        return "consequence" if self.wrecked_by else "root"


@dataclass(frozen=True, slots=True)
class LikelySet:
    """Several faults together (or one, or none of the leading ones) with the probability of exactly these."""

    causes: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class Conflict:
    """How badly the findings fit together: log2 of prod P(finding) / P(all findings) (Jensen et al. 1990).

    Positive is suspicious. `strange`: the findings that the others make least likely, with log2 of
    P(finding) / P(finding | the others), worst first.
    """

    bits: float
    strange: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Unexplained:
    """A finding that was not normal, with the probability that no listed cause that can bring it about is there.

    `misleads`: how much of that is the observation itself misleading; the rest is something not listed.
    """

    finding: str
    state: str
    probability: float
    misleads: float


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """All that is known of a case, its readings read anew.

    `causes`: what can be behind the findings by probability, then what cannot: the one ranking that is shown,
    judged and reckoned with. `unused`: what was recorded but could not be used, and why. `thinned`: where the
    case is too wide to be exact, which links stand on average in `built` and `engine`, and what that can cost.
    """

    case: Case
    knowledge: Knowledge
    causes: tuple[RankedCause, ...]
    other_cause: float
    evidence: tuple[CountedObservation, ...]
    unused: tuple[str, ...]
    engine: Engine = field(repr=False)
    built: Built = field(repr=False)
    thinned: Thinned | None = field(default=None, repr=False)

    @property
    def error(self) -> float:
        """By how much a probability can be off, about: what the largest link on average says; 0 where exact."""
        return self.thinned.error if self.thinned else 0.0

    @cached_property
    def focused(self) -> Diagnosis:
        """The same for planning: where the tree is large, causes that are unlikely by now stand in it on
        average."""
        least = next((p for size, p in FOCUS if self.engine.tree.size > size), None)
        if least is None:
            return self
        likely = [one for one in self.causes if one.relevant and one.probability >= least]
        kept = {self.built.variable(one.id) for one in likely}
        built, engine = on_average(self.built, self.engine, kept)
        return replace(self, built=built, engine=engine)

    @cached_property
    def whole(self) -> Diagnosis:
        """The same of the machine as a whole, without the cylinder or bank of anything: in it causes stand above
        all that they bring about. Itself where no place was told."""
        if not self.built.places:
            return self
        return diagnose(self.knowledge, without_places(self.knowledge, self.case))

    @property
    def shown(self) -> list[CountedObservation]:
        """What was found not normal and stands."""
        return shown(self.built, self.evidence)

    @property
    def known(self) -> set[str]:
        """The findings seen already whose state no repair since can have changed."""
        seen = (item.observation for item in self.evidence)
        return {one.finding for one in seen if self.built.is_current(one.id, one.epoch)}

    def weights(self, id: str) -> tuple[float, ...]:
        """For each item of evidence, in order, its weight for the cause given all the other items, in decibans
        (Good 1950): 10 log10 of the factor on the cause's odds."""
        weighed, column = self._weighed_of(id)
        return tuple(map(float, weighed.weights[:, column]))

    def weights_alone(self, id: str) -> tuple[float, ...]:
        """The same given nothing else than the item itself."""
        weighed, column = self._weighed_of(id)
        return tuple(map(float, weighed.alone[:, column]))

    @cached_property
    def fault_sets(self) -> tuple[LikelySet, ...]:
        """The most likely sets of faults together, each exact where the tree is not large."""
        probabilities = {self.built.variable(cause.id): cause.probability for cause in self.causes}
        return tuple(_likely_sets(self.built, self._handy, probabilities))

    @cached_property
    def unexplained(self) -> tuple[Unexplained, ...]:
        """What nothing listed explains, of the findings that stand and are not normal, the most first."""
        states = self.built.network.states
        seen = [item for item in self.evidence if item.observation.state != states[item.variable][0]]
        # A test by taking away is the same finding, looked at again.
        seen = [item for item in seen if not is_away(item.observation.finding)]
        chances = self._nobody_above([item.variable for item in seen]) if seen else []
        found = []
        for item, chance in zip(seen, chances, strict=True):
            share = self.knowledge.findings[item.observation.finding].misleads
            found.append(
                Unexplained(item.observation.finding, item.observation.state, chance, chance * share)
            )
        return tuple(sorted(found, key=lambda one: -one.probability))

    def _nobody_above(self, variables: Sequence[int]) -> list[float]:
        """P(no cause above it is there | evidence) of each variable. Where the tree is very large, of those that
        stand in it on average for planning as if each were by itself."""
        one = self.focused if self.engine.tree.size * len(variables) > AT_ONCE else self
        copies = [(id, *self.built.places.get(id, ())) for id in self.built.causes]
        causes = {self.built.variable(name): ids[0] for ids in copies for name in ids}
        above = [self.built.network.ancestors([v]) & causes.keys() for v in variables]
        inside = one.engine.region
        rows = [dict.fromkeys((mine & inside) - one.engine.fixed.keys(), 0) for mine in above]
        chances, _ = one.engine.given(rows, ())
        beside = [[1 - self._probability[causes[v]] for v in mine - inside] for mine in above]
        return [min(float(chance), 1.0) * prod(rest) for chance, rest in zip(chances, beside, strict=True)]

    @cached_property
    def _probability(self) -> dict[str, float]:
        return {cause.id: cause.probability for cause in self.causes}

    @property
    def averaged(self) -> tuple[str, ...]:
        """The facts that nobody has told and that count only on average, for want of room: telling one is exact."""
        facts = {self.built.variables[v].id for v in self.built.averaged}
        return tuple(fact for fact in self.knowledge.facts if fact in facts)

    @property
    def conflict(self) -> Conflict:
        """How badly the findings fit together."""
        strange = self._first_weighed.strange
        order = sorted(range(len(self.evidence)), key=lambda i: -strange[i])
        worst = tuple((self.evidence[i].name, strange[i]) for i in order if strange[i] > 0)
        return Conflict(self._first_weighed.conflict, worst)

    @cached_property
    def weighing(self) -> Weighing:
        """The evidence, any part of which can be left out."""
        return Weighing(self._handy, [item.variable for item in self.evidence])

    @property
    def _handy(self) -> Engine:
        return self.focused.engine if self.engine.tree.size > LARGE else self.engine

    def _weighed_of(self, id: str) -> tuple[EvidenceWeights, int]:
        """What was weighed for the cause among others, and its column there: few where it leads, else all."""
        if id in self._first:
            return self._first_weighed, self._first.index(id)
        return self._weighed, self.built.causes.index(id)

    @cached_property
    def _first(self) -> tuple[str, ...]:
        """The leading causes of those that can be behind what was found."""
        return tuple(cause.id for cause in self.causes if cause.relevant)[:LEADING]

    @cached_property
    def _first_weighed(self) -> EvidenceWeights:
        return weigh(self.weighing, [self.built.variable(id) for id in self._first])

    @cached_property
    def _weighed(self) -> EvidenceWeights:
        return weigh(self.weighing, [self.built.variable(id) for id in self.built.causes])

    def cause(self, id: str) -> RankedCause | None:
        """One cause of the ranking; None where it cannot be on this machine."""
        return next((cause for cause in self.causes if cause.id == id), None)


def diagnose(knowledge: Knowledge, case: Case) -> Diagnosis:
    """Rank the causes by the case's evidence. Raises ImpossibleEvidence (naming findings in plain words)."""
    read = understood(knowledge, case)
    case = read.case
    counted, unused = usable(knowledge, case)
    one = engaged(knowledge, case, counted)
    built, engine, seen = one.built, one.engine, one.seen
    columns = [built.variable(id) for id in built.causes]
    probabilities = _presences(engine, columns)
    above = roots(engine, columns, copies=copies_of(built))
    behind = above_the_shown(one.thinned.whole if one.thinned else built, seen)
    places = likely_places(engine, built)
    ranked = [
        _ranked(
            knowledge,
            built,
            v,
            probabilities[v],
            above.get(v),
            matters(built, v, probabilities[v], behind),
            places,
        )
        for v in columns
    ]
    return Diagnosis(
        case,
        knowledge,
        tuple(sorted(ranked, key=lambda cause: (not cause.relevant, -cause.probability, cause.id))),
        _other(built, engine, seen),
        seen,
        (*read.untold, *unused, *one.unused),
        engine,
        built,
        one.thinned,
    )


def _presences(engine: Engine, causes: Sequence[int]) -> dict[int, float]:
    """P(each cause is there): exact of those above the evidence; of those that nothing found can speak of
    from their own parents, as if these were independent of each other."""
    return {v: 1 - float(marginal[0]) for v, marginal in rough_marginals(engine, causes).items()}


def _ranked(
    knowledge: Knowledge,
    built: Built,
    variable: int,
    probability: float,
    above: int | None,
    relevant: bool,
    places: Mapping[str, str],
) -> RankedCause:
    cause = knowledge.causes[built.variables[variable].id]
    wrecked_by = "" if above is None else built.variables[above].id
    return RankedCause(
        cause.id,
        cause.name,
        cause.system,
        built.priors[cause.id],
        probability,
        wrecked_by,
        relevant,
        places.get(cause.id, ""),
    )


def _other(built: Built, engine: Engine, seen: Iterable[CountedObservation]) -> float:
    """P(something that the knowledge does not list is behind a complaint that was seen)."""
    asked = [
        built.others[item.observation.id]
        for item in shown(built, seen)
        if item.observation.id in built.others
    ]
    if not asked:
        return 0.0
    none, _ = engine.given([dict.fromkeys(asked, 0)], ())
    return 1 - float(none[0])


def _likely_sets(built: Built, engine: Engine, probabilities: Mapping[int, float]) -> list[LikelySet]:
    found = fault_sets(engine, probabilities)
    return [LikelySet(tuple(built.variables[v].id for v in s.causes), s.probability) for s in found[:8]]
