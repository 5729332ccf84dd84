"""What each finding weighs for a cause, whether or not the findings come from it."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.evidence.counted import CountedObservation
from diagnose.knowledge.located import with_place
from diagnose.knowledge.observable import observable
from diagnose.network.weighing import Weighing, weigh

WORTH_SAYING = 0.5
"""Decibans below which evidence is not worth a word (judgement: half a deciban is 12 % of the odds)."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One item of evidence and its weight for the cause, given all the other items, in decibans."""

    finding: str
    words: str
    decibans: float


def seen_words(diagnosis: Diagnosis, seen: CountedObservation) -> str:
    """An observation in words, with how sure it is where it is not."""
    observation = seen.observation
    words = observable(diagnosis.knowledge, observation.finding).in_words(observation.state)
    words = with_place(words, observation.place)
    sure = "" if observation.confidence == "sure" else f" ({observation.confidence})"
    before = " (before the repair)" if observation.epoch < len(diagnosis.case.epochs) - 1 else ""
    return f"{words}{sure}{before}"


def reasons(diagnosis: Diagnosis, cause: RankedCause) -> tuple[Reason, ...]:
    """The evidence by what it weighs for this cause, the heaviest first."""
    found = [
        Reason(seen.observation.finding, seen_words(diagnosis, seen), weight)
        for seen, weight in zip(diagnosis.evidence, weights_of(diagnosis, cause.id), strict=True)
    ]
    return tuple(sorted(found, key=lambda reason: -abs(reason.decibans)))


def weights_of(diagnosis: Diagnosis, id: str) -> tuple[float, ...]:
    """What each item of evidence, in order, weighs for a cause given all others; also where the findings do not
    come from it."""
    column = diagnosis.built.variable(id)
    if column in diagnosis.engine.region:
        return diagnosis.weights(id)
    return tuple(map(float, weigh(weighing(diagnosis, column), [column]).weights[:, 0]))


def weighing(diagnosis: Diagnosis, column: int) -> Weighing:
    """The evidence in a tree that holds the cause: one that the findings do not come from may yet have been brought
    about by one that they do."""
    if column in diagnosis.engine.region:
        return diagnosis.weighing
    return Weighing(diagnosis.engine, diagnosis.weighing.items, [column])
