"""What an exercise began with, and how its case stands: worked out once for all entries that change neither."""

from __future__ import annotations

import json
from collections.abc import Iterable
from functools import cached_property
from typing import Any

from diagnose.cases.case import Case
from diagnose.cases.events import Event, from_json
from diagnose.errors import CallError
from diagnose.knowledge.records import Knowledge
from diagnose.moves.advice import Advice
from diagnose.planning.shop import Shop
from diagnose.practice.exercise import Exercise, HiddenTruth, after_repairs, complaints, world_of
from diagnose.practice.seal import unseal
from diagnose.practice.store import ExerciseEntry
from diagnose.practice.world import World

SUSPECTS = 8
"""How many causes the apprentice is asked about (those likeliest at first, in alphabetical order)."""
_HIDDEN = HiddenTruth((), (), 0)


class Beginning:
    """The first entry of an exercise, and what holds throughout."""

    def __init__(self, knowledge: Knowledge, shop: Shop, entry: ExerciseEntry):
        self.knowledge, self.shop = knowledge, shop
        self.apprentice = str(entry.values["apprentice"])
        self.key = entry.values["key"]
        self._version, self._sealed = entry.values["knowledge"], entry.values["sealed"]
        self.opening = events_of(entry.values["opening"])

    @property
    def stale(self) -> bool:
        """Whether it was begun under other knowledge: its machine would be another one now."""
        return bool(self._version != self.knowledge.version)

    @property
    def truth(self) -> HiddenTruth:
        """What is hidden."""
        return HiddenTruth.from_values(unseal(self._sealed, self.key))

    @property
    def exercise(self) -> Exercise:
        """The exercise with its hidden truth. Raises CallError where it was begun under other knowledge."""
        if self.stale:
            raise CallError("The knowledge has changed since this exercise began. Start a new one.")
        return Exercise(self.opening, self.truth)

    @cached_property
    def advice(self) -> Advice:
        """How it stood at first."""
        return Advice(self.knowledge, Exercise(self.opening, _HIDDEN).case(), self.shop)

    @cached_property
    def suspects(self) -> tuple[str, ...]:
        """The causes that the apprentice is asked about, by name."""
        likely = [cause.id for cause in self.advice.diagnosis.causes if cause.relevant][:SUSPECTS]
        return tuple(sorted(likely, key=lambda id: self.knowledge.causes[id].name))

    @cached_property
    def complaints(self) -> tuple[str, ...]:
        """What the machine came in for."""
        return complaints(self.knowledge, Exercise(self.opening, _HIDDEN).case())

    @cached_property
    def machine(self) -> World:
        """The hidden machine as it came in."""
        return world_of(self.knowledge, self.exercise)

    def world(self, since: Iterable[Event]) -> World:
        """The hidden machine after what was done since."""
        return after_repairs(self.knowledge, self.exercise, self.machine.as_it_came(), since)


class Course:
    """The case of an exercise after the events since its beginning."""

    def __init__(self, beginning: Beginning, since: tuple[Event, ...]):
        self.beginning, self.since = beginning, since

    @cached_property
    def case(self) -> Case:
        """The case as it stands."""
        return Exercise(self.beginning.opening, _HIDDEN).case(self.since)

    @cached_property
    def standing(self) -> Advice:
        """What can be said of the next move."""
        began = self.beginning
        return Advice(began.knowledge, self.case, began.shop) if self.since else began.advice

    @cached_property
    def world(self) -> World:
        """The hidden machine."""
        return self.beginning.world(self.since)


def events_of(values: Iterable[Any]) -> tuple[Event, ...]:
    """The events that an entry keeps as their own JSON."""
    return tuple(from_json(json.dumps(one)) for one in values)
