"""The network of a case with an engine that has room for it, as exact as can be."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.cases.case import Case, Observation
from diagnose.evidence.counted import CountedObservation, as_evidence, in_words, latest_of_each
from diagnose.evidence.renewals import history
from diagnose.knowledge.observable import observable
from diagnose.knowledge.records import Knowledge
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.messages import TooWide
from diagnose.network.observed import Evidence, ImpossibleEvidence
from diagnose.network.places import build_at
from diagnose.network.thinning import Thinned, thinned
from diagnose.network.ties import has_room, with_room

WIDEST, MOST = 1 << 19, 1 << 20
"""Largest table of the bucket tree with which a case is answered exactly, and numbers of all its tables: seldom
more than a second."""
THINNED = (1 << 16, 1 << 18)
"""The same where links stand on average, for want of room: planning goes on with it."""
SPARED = 1 << 14
"""Largest table where observations are set aside, all ties let go: what is left of hundreds is planned with."""


@dataclass(frozen=True, slots=True, eq=False)
class Engaged:
    """The network, its engine and the observations that they count; `unused`: words on the others."""

    built: Built
    engine: Engine
    thinned: Thinned | None
    seen: tuple[CountedObservation, ...]
    unused: list[str]


def engaged(knowledge: Knowledge, case: Case, counted: Sequence[Observation]) -> Engaged:
    """Exact where there is room; else with some links on average. Where even that were too wide, the observations
    that can best be spared are set aside, and named, so that the rest is exact. Raises ImpossibleEvidence."""
    built = build_at(knowledge, case.machine, history(knowledge, case, counted))
    try:
        return _counting(knowledge, built, counted, [])
    except TooWide:
        aside = _set_aside(knowledge, built, case, counted)
    words = [
        f"{observable(knowledge, one.finding).name}: {one.state}; set aside, for too much is tied together"
        for one in aside
    ]
    kept = [one for one in counted if one not in aside]
    built = build_at(knowledge, case.machine, history(knowledge, case, kept))
    return _counting(knowledge, built, kept, words)


def _set_aside(
    knowledge: Knowledge, built: Built, case: Case, counted: Sequence[Observation]
) -> list[Observation]:
    """The fewest observations, those first that can best be spared, without which the rest is exact (by halving:
    what has room keeps it with fewer)."""
    spare = list(dict.fromkeys([*_repeated(built, counted), *_spare_first(built, case, counted)]))

    def fits(number: int) -> bool:
        seen, _ = latest_of_each(knowledge, built, spare[number:])
        return has_room(built, as_evidence(knowledge, built, seen), SPARED)

    return spare[: bisect_left(range(len(spare)), True, key=fits)]


def _counting(
    knowledge: Knowledge, built: Built, counted: Sequence[Observation], aside: Sequence[str]
) -> Engaged:
    seen, overtaken = latest_of_each(knowledge, built, counted)
    try:
        built, engine, thin = with_engine(built, as_evidence(knowledge, built, seen))
        engine.check()
    except ImpossibleEvidence as error:
        words = [in_words(knowledge, built, v) for v in error.variables]
        raise ImpossibleEvidence(words, error.variables) from None
    return Engaged(built, engine, thin, seen, [*overtaken, *aside])


def with_engine(built: Built, evidence: Evidence) -> tuple[Built, Engine, Thinned | None]:
    """The network and its engine: exact where there is room, else with the links on average that matter least.
    Raises TooWide where even that is too wide."""
    try:
        return *with_room(built, evidence, WIDEST, MOST), None
    except TooWide:
        thin = thinned(built, evidence, *THINNED)
        return thin.built, thin.engine, thin


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
