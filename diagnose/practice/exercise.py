"""An exercise: what the apprentice sees at first, and the truth that stays hidden."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event, Repaired
from diagnose.cases.understood import without_places
from diagnose.errors import CallError
from diagnose.knowledge.records import Knowledge
from diagnose.network.build import build
from diagnose.network.built import unlisted
from diagnose.network.network import Array
from diagnose.network.observed import LIKELIHOOD_RATIOS, ImpossibleEvidence, likelihood
from diagnose.practice.world import World, samples

TRIES = 5
"""Machines drawn; the first one whose complaint comes from the hidden causes counts, so that curing them cures it;
else the last, and curing all hidden causes is taken to cure it. All are drawn whatever comes, so that the time
that it takes tells nothing of the truth."""


@dataclass(frozen=True, slots=True)
class SettledFinding:
    """One finding whose result is settled beforehand, by the trainer or by the case that this was."""

    finding: str
    state: str
    confidence: str = "sure"
    value: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class HiddenTruth:
    """What is hidden: the causes that are there (none: something that the knowledge does not list), the results
    settled beforehand, the seed of all the rest; and where it comes from, which is told in the debrief."""

    causes: tuple[str, ...]
    known: tuple[SettledFinding, ...]
    seed: int
    title: str = ""
    about: str = ""

    def to_values(self) -> dict[str, Any]:
        """As plain JSON values."""
        return asdict(self)

    @classmethod
    def from_values(cls, values: Mapping[str, Any]) -> HiddenTruth:
        """From plain JSON values."""
        known = tuple(SettledFinding(**one) for one in values["known"])
        return cls(tuple(values["causes"]), known, values["seed"], values["title"], values["about"])


@dataclass(frozen=True, slots=True)
class Exercise:
    """`opening`: the events that the apprentice is given; `truth`: what is hidden."""

    opening: tuple[Event, ...]
    truth: HiddenTruth

    def case(self, more: Iterable[Event] = ()) -> Case:
        """The case with what happened since."""
        return numbered_case((*self.opening, *more))


def numbered_case(events: Iterable[Event]) -> Case:
    """The case that these events leave, numbered as in a store; its own number is 0."""
    return fold(0, tuple(replace(event, sequence=i) for i, event in enumerate(events, 1)))


def complaints(knowledge: Knowledge, case: Case) -> tuple[str, ...]:
    """What the machine came in for: complaints seen at first; where there is none, all that was not normal."""
    seen = {o.finding: o.state for o in case.observations if o.finding in knowledge.findings}
    wrong = [id for id, state in seen.items() if state != knowledge.findings[id].normal]
    return tuple(id for id in wrong if knowledge.findings[id].other) or tuple(wrong)


def world_of(knowledge: Knowledge, exercise: Exercise) -> World:
    """The hidden machine as it came in. Raises CallError where these causes cannot show the first findings."""
    case = without_places(knowledge, exercise.case())
    built = build(knowledge, case.machine)
    asked = complaints(knowledge, case)
    listed = {id: built.variable(id) if id in built.versions else None for id in exercise.truth.causes}
    present = listed or {unlisted(id): built.others.get(id) for id in asked}
    if missing := [name for name, variable in present.items() if variable is None]:
        raise CallError(f"{missing[0]} cannot be on this machine: another kind, or not in the knowledge.")
    rng = np.random.default_rng(exercise.truth.seed)
    shown = [SettledFinding(o.finding, o.state, o.confidence) for o in case.observations]
    seen = {built.variable(k.finding): _likelihood(knowledge, k) for k in (*exercise.truth.known, *shown)}
    try:
        drawn = samples(built, filter(None, present.values()), seen, rng, TRIES)
        theirs = [world for world in drawn if world.would_be_normal(asked)]
        return theirs[0] if theirs else drawn[-1]
    except ImpossibleEvidence as error:
        ids = [built.variables[v].id for v in error.variables]
        names = [knowledge.findings[id].name for id in ids if id in knowledge.findings]
        raise CallError(f"The hidden cause cannot show this: {', '.join(names) or 'the findings'}.") from None


def _likelihood(knowledge: Knowledge, known: SettledFinding) -> Array:
    states = knowledge.findings[known.finding].states
    return likelihood(len(states), states.index(known.state), LIKELIHOOD_RATIOS[known.confidence])


def after_repairs(knowledge: Knowledge, exercise: Exercise, world: World, since: Iterable[Event]) -> World:
    """The same machine after what was done since: each repair takes its causes away, as surely as it works."""
    for turn, repaired in enumerate(event for event in since if isinstance(event, Repaired)):
        world.remove(_cured(knowledge, exercise, world, repaired, turn))
    return world


def _cured(
    knowledge: Knowledge, exercise: Exercise, world: World, repaired: Repaired, turn: int
) -> list[str]:
    rng = np.random.default_rng([exercise.truth.seed, turn])
    cures = [cure for id in repaired.repairs for cure in knowledge.repairs[id].cures]
    drawn = [(cure.cause, rng.random() < cure.effectiveness.value) for cure in cures]
    return [id for id, gone in drawn if gone and id in world.network.index]
