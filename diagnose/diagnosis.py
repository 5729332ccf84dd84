"""The story: knowledge + case -> diagnosis. Everything that is shown of a case starts here."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.cases.understood import understood, without_places
from diagnose.knowledge.away import GONE, is_away, split
from diagnose.knowledge.located import apart, with_place
from diagnose.knowledge.observable import noted, observable
from diagnose.knowledge.records import Knowledge
from diagnose.network.away import stretches, told
from diagnose.network.buckets import TooWide
from diagnose.network.build import Built
from diagnose.network.engine import Engine, Evidence, ImpossibleEvidence
from diagnose.network.faults import fault_sets, roots
from diagnose.network.history import History, Renewal
from diagnose.network.network import Array
from diagnose.network.observed import LIKELIHOOD_RATIOS, likelihood
from diagnose.network.places import build_at
from diagnose.network.predict import rough_marginals
from diagnose.network.rare import FewAtATime, few_at_a_time, on_average
from diagnose.network.ties import has_room, with_room
from diagnose.network.weighing import Weighed, Weighing, weigh
from diagnose.network.whereabouts import copies_of, in_the_tree, likely_places, machine_wide

WIDEST = 1 << 15
"""Largest table of the bucket tree with which a case is still answered in a moment."""
NARROWER = ((1 << 13, 0.0, 12), (1 << 13, 0.05, 12), (1 << 13, 0.1, 6), (1 << 15, 0.2, 0), (1 << 19, 0.2, 0))
"""Where unlikely causes are counted few at a time, one after the other: the largest table, the links between hidden
states that still count as such, and how many causes must have room to be exact."""
FOCUS = ((1 << 16, 0.03), (1 << 13, 0.01))
"""Numbers of a tree beyond which planning lets go of causes of a lower probability."""
PERSISTS = 0.01
"""Probability from which a cause that the findings before a repair spoke of counts as still there (judgement)."""
LARGE = 1 << 15
"""Numbers of a tree from which what speaks for and against a cause, and sets of faults, do so too."""
LEADING = 3
"""The first causes of the ranking: what speaks for and against them is what is asked for as a rule."""
UNNAMED_EFFECTIVENESS = 0.9
"""Effectiveness of a repair of a cause that no repair of the knowledge covers (judgement)."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One observation that counts: the variable that it speaks of, and in the knowledge's words."""

    observation: Observation
    variable: int
    name: str


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
    judged and reckoned with. `unused`: what was recorded but could not be used, and why. `few`: where the case is
    too wide to be exact, how unlikely causes were counted few at a time; `built` and `engine` then have them on
    average only.
    """

    case: Case
    knowledge: Knowledge
    causes: tuple[RankedCause, ...]
    other_cause: float
    evidence: tuple[Seen, ...]
    unused: tuple[str, ...]
    engine: Engine = field(repr=False)
    built: Built = field(repr=False)
    few: FewAtATime | None = field(default=None, repr=False)

    @property
    def error(self) -> float:
        """The largest standard error of a cause's probability; 0 where the answer is exact."""
        return self.few.presences.error if self.few else 0.0

    @cached_property
    def focused(self) -> Diagnosis:
        """The same for planning: where the tree is large, causes that are unlikely by now stand in it on
        average."""
        least = next((p for size, p in FOCUS if self.engine.tree.size > size), None)
        if self.few or least is None:
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
    def shown(self) -> list[Seen]:
        """What was found not normal and stands."""
        return _shown(self.built, self.evidence)

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
        copies = [(id, *self.built.places.get(id, ())) for id in self.built.causes]
        causes = {self.built.variable(one): one for ids in copies for one in ids}
        rows = [
            dict.fromkeys(
                self.built.network.ancestors([item.variable]) & causes.keys() - self.engine.fixed.keys(), 0
            )
            for item in seen
        ]
        if not rows:
            return ()
        chances, _ = self.engine.given(rows, ())
        found = []
        for item, chance in zip(seen, chances, strict=True):
            share = self.knowledge.findings[item.observation.finding].misleads
            p = min(float(chance), 1.0) * (self.few.absent_above(item.variable) if self.few else 1.0)
            found.append(Unexplained(item.observation.finding, item.observation.state, p, p * share))
        return tuple(sorted(found, key=lambda one: -one.probability))

    @property
    def averaged(self) -> tuple[str, ...]:
        """The facts that nobody has told and that count only on average, for want of room: telling one is exact."""
        names = {self.built.network.names[v].partition("=")[0] for v in self.built.averaged}
        return tuple(fact for fact in self.knowledge.facts if fact in names)

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

    def _weighed_of(self, id: str) -> tuple[Weighed, int]:
        """What was weighed for the cause among others, and its column there: few where it leads, else all."""
        if id in self._first:
            return self._first_weighed, self._first.index(id)
        return self._weighed, self.built.causes.index(id)

    @cached_property
    def _first(self) -> tuple[str, ...]:
        """The leading causes of those that can be behind what was found."""
        return tuple(cause.id for cause in self.causes if cause.relevant)[:LEADING]

    @cached_property
    def _first_weighed(self) -> Weighed:
        return weigh(self.weighing, [self.built.variable(id) for id in self._first])

    @cached_property
    def _weighed(self) -> Weighed:
        return weigh(self.weighing, [self.built.variable(id) for id in self.built.causes])

    def cause(self, id: str) -> RankedCause | None:
        """One cause of the ranking; None where it cannot be on this machine."""
        return next((cause for cause in self.causes if cause.id == id), None)


def diagnose(knowledge: Knowledge, case: Case) -> Diagnosis:
    """Rank the causes by the case's evidence. Raises ImpossibleEvidence (naming findings in plain words)."""
    read = understood(knowledge, case)
    case = read.case
    counted, unused = _usable(knowledge, case)
    try:
        one = _compiled(knowledge, case, counted)
        built, engine, seen = one.built, one.engine, one.seen
        columns = [built.variable(id) for id in built.causes]
        probabilities = {**_presences(engine, columns), **(one.few.presences.of if one.few else {})}
    except ImpossibleEvidence as error:
        raise ImpossibleEvidence(_in_words(knowledge, name) for name in error.names) from None
    above = roots(engine, columns, copies=copies_of(built))
    behind = _behind(one.few.whole if one.few else built, seen)
    places = likely_places(engine, built)
    ranked = [
        _ranked(
            knowledge,
            built,
            v,
            probabilities[v],
            above.get(v),
            _matters(built, v, probabilities[v], behind),
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
        one.few,
    )


def _presences(engine: Engine, causes: Sequence[int]) -> dict[int, float]:
    """P(each cause is there): exact of those above the evidence; of those that nothing found can speak of
    from their own parents, as if these were independent of each other."""
    return {v: 1 - float(marginal[0]) for v, marginal in rough_marginals(engine, causes).items()}


@dataclass(frozen=True, slots=True, eq=False)
class _Compiled:
    """The network, its engine and the observations that they count; `unused`: words on the others."""

    built: Built
    engine: Engine
    few: FewAtATime | None
    seen: tuple[Seen, ...]
    unused: list[str]


def _compiled(knowledge: Knowledge, case: Case, counted: Sequence[Observation]) -> _Compiled:
    """Exact where there is room; else with unlikely causes counted few at a time. Where even that were too wide,
    the observations that can best be spared are set aside, and named, so that the rest is exact. Raises
    ImpossibleEvidence."""
    built = build_at(knowledge, case.machine, history(knowledge, case, counted))
    try:
        return _engaged(knowledge, built, counted, [])
    except TooWide:
        aside = _set_aside(knowledge, built, case, counted)
    words = [
        f"{observable(knowledge, one.finding).name}: {one.state}; set aside, for too much is tied together"
        for one in aside
    ]
    kept = [one for one in counted if one not in aside]
    built = build_at(knowledge, case.machine, history(knowledge, case, kept))
    return _engaged(knowledge, built, kept, words)


def _set_aside(
    knowledge: Knowledge, built: Built, case: Case, counted: Sequence[Observation]
) -> list[Observation]:
    """The fewest observations, those first that can best be spared, without which the rest is exact (by halving:
    what has room keeps it with fewer)."""
    spare = list(dict.fromkeys([*_repeated(built, counted), *_spare_first(built, case, counted)]))

    def fits(number: int) -> bool:
        seen, _ = _latest(knowledge, built, spare[number:])
        return has_room(built, _evidence(knowledge, built, seen), WIDEST)

    return spare[: bisect_left(range(len(spare)), True, key=fits)]


def _engaged(
    knowledge: Knowledge, built: Built, counted: Sequence[Observation], aside: Sequence[str]
) -> _Compiled:
    seen, overtaken = _latest(knowledge, built, counted)
    built, engine, few = with_engine(built, _evidence(knowledge, built, seen))
    engine.log_probability  # noqa: B018 - raises where the evidence is impossible
    return _Compiled(built, engine, few, seen, [*overtaken, *aside])


def _evidence(knowledge: Knowledge, built: Built, seen: Iterable[Seen]) -> Evidence:
    found = {item.variable: _likelihood(knowledge, item.observation) for item in seen}
    return {**in_the_tree(built, found), **found}


def with_engine(built: Built, evidence: Evidence) -> tuple[Built, Engine, FewAtATime | None]:
    """The network and its engine: exact where there is room, else with unlikely causes counted few at a time.
    Raises TooWide where even that is too wide."""
    try:
        return *with_room(built, evidence, WIDEST), None
    except TooWide:
        pass
    for widest, weakest, fewest in NARROWER:
        try:
            few = few_at_a_time(built, evidence, widest, weakest, fewest)
            return few.built, few.engine, few
        except TooWide as error:
            last = error
    raise last


def _repeated(built: Built, counted: Sequence[Observation]) -> list[Observation]:
    """Observations before a repair that a later one of the same finding repeats: repairs only take causes away, so
    the later one implies them, but for new parts that fail at once."""
    old = [one for one in counted if not built.is_current(one.id, one.epoch)]
    later = {(one.id, one.state) for one in counted if one not in old}
    return [one for one in old if (one.id, one.state) in later]


def _spare_first(built: Built, case: Case, counted: Sequence[Observation]) -> list[Observation]:
    """Observations by how well they can be spared: the complaint last, before it what was found not normal and
    still stands; among equals those first that most causes can bring about."""

    def worth(one: Observation) -> tuple[bool, bool, int]:
        found = _not_normal(built, one)
        above = built.network.ancestors([built.variable(one.id, one.epoch)])
        return found and one.finding in case.came_in_for, found, -len(above)

    return sorted(counted, key=worth)


def _not_normal(built: Built, one: Observation) -> bool:
    """Found not normal, and not overtaken by a repair since."""
    first = built.network.states[built.variable(one.id, one.epoch)][0]
    return one.state != first and built.is_current(one.id, one.epoch)


def history(knowledge: Knowledge, case: Case, counted: Iterable[Observation]) -> History:
    """The repairs of the case and where in time its observations stand."""
    repairs = tuple(_renewals(knowledge, epoch) for epoch in case.epochs[1:])
    plain = frozenset((o.id, o.epoch) for o in counted if not is_away(o.finding))
    return History(repairs, plain, stretches(knowledge, ((o.finding, o.epoch) for o in counted)))


def _renewals(knowledge: Knowledge, epoch: Epoch) -> dict[str, Renewal]:
    """What the repairs of one epoch do to each cause that they cover."""
    done = [knowledge.repairs[id] for id in epoch.repairs if id in knowledge.repairs]
    cures = [(cure.cause, cure.effectiveness.value, repair) for repair in done for cure in repair.cures]
    covered = epoch.causes or tuple(cause for cause, _, _ in cures)
    renewals = {}
    for cause in covered:
        mine = [(effectiveness, repair) for cured, effectiveness, repair in cures if cured == cause]
        left = (
            float(np.prod([1 - effectiveness for effectiveness, _ in mine]))
            if mine
            else 1 - UNNAMED_EFFECTIVENESS
        )
        infant = max((repair.infant.value for _, repair in mine if repair.infant), default=0.0)
        renewals[cause] = Renewal(1 - left, infant)
    return {cause: renewal for cause, renewal in renewals.items() if cause in knowledge.causes}


def _usable(knowledge: Knowledge, case: Case) -> tuple[list[Observation], list[str]]:
    """The observations that the knowledge still understands, and words on the others."""
    counted, unused = [], [f"code {code} is not in the knowledge" for code in case.codes_not_used]
    for seen in case.observations:
        finding = noted(knowledge, seen.finding)
        if finding is None:
            unused.append(f"finding {seen.finding} is no longer in the knowledge")
        elif seen.state not in finding.states:
            unused.append(f"{finding.name}: state {seen.state} is no longer in the knowledge")
        else:
            counted.append(seen)
    return counted, unused


def _latest(
    knowledge: Knowledge, built: Built, counted: Iterable[Observation]
) -> tuple[tuple[Seen, ...], list[str]]:
    """One observation a variable, the latest. A finding that no repair in between touched is one variable."""
    latest: dict[int, Seen] = {}
    overtaken = []
    for observation in counted:
        finding = observable(knowledge, observation.finding)
        variable = built.variable(observation.id, observation.epoch)
        before = latest.pop(variable, None)
        if before and before.observation.state != observation.state:
            overtaken.append(
                f"{finding.name}: {before.observation.state} before, {observation.state} later, "
                "though no repair in between acts on it; the later one counts"
            )
        latest[variable] = Seen(observation, variable, with_place(finding.name, observation.place))
    return tuple(latest.values()), overtaken


def _likelihood(knowledge: Knowledge, observation: Observation) -> Array:
    ratio = LIKELIHOOD_RATIOS[observation.confidence]
    if away := split(knowledge, observation.finding):
        finding, part = away
        return told(len(finding.states), part, observation.state == GONE, ratio)
    states = knowledge.findings[observation.finding].states
    return likelihood(len(states), states.index(observation.state), ratio)


def _in_words(knowledge: Knowledge, name: str) -> str:
    id, place = apart(name.partition("@")[0])
    finding = knowledge.findings.get(id)
    return with_place(finding.name, place) if finding else name


def _ranked(
    knowledge: Knowledge,
    built: Built,
    variable: int,
    probability: float,
    above: int | None,
    relevant: bool,
    places: Mapping[str, str],
) -> RankedCause:
    cause = knowledge.causes[built.network.names[variable]]
    wrecked_by = "" if above is None else built.network.names[above].partition("@")[0]
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


def _behind(built: Built, seen: Sequence[Seen]) -> set[int]:
    """The variables above what was found not normal; all, where nothing was."""
    states = built.network.states
    shown = [item.variable for item in seen if item.observation.state != states[item.variable][0]]
    behind = built.network.ancestors(shown) if shown else set(range(len(states)))
    return behind | machine_wide(built, behind)


def _matters(built: Built, variable: int, probability: float, behind: set[int]) -> bool:
    """Whether the cause can be behind what was found: as it is now, or, where it is likely still there, as it was
    before a repair."""
    if variable in behind:
        return True
    id = built.network.names[variable].partition("@")[0]
    earlier = (built.variable(id, epoch) for epoch in range(len(built.versions[id])))
    return probability >= PERSISTS and any(one in behind for one in earlier)


def _shown(built: Built, seen: Iterable[Seen]) -> list[Seen]:
    """What was found not normal and is the latest of its finding."""
    return [
        item
        for item in seen
        if item.variable == built.variable(item.observation.id)
        and item.observation.state != built.network.states[item.variable][0]
    ]


def _other(built: Built, engine: Engine, seen: Iterable[Seen]) -> float:
    """P(something that the knowledge does not list is behind a complaint that was seen)."""
    asked = [
        built.network.index[built.others[item.observation.id]]
        for item in _shown(built, seen)
        if item.observation.id in built.others
    ]
    if not asked:
        return 0.0
    none, _ = engine.given([dict.fromkeys(asked, 0)], ())
    return 1 - float(none[0])


def _likely_sets(built: Built, engine: Engine, probabilities: Mapping[int, float]) -> list[LikelySet]:
    found = fault_sets(engine, probabilities)
    return [LikelySet(tuple(built.network.names[v] for v in s.causes), s.probability) for s in found[:8]]
