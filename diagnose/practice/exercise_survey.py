"""For the trainer: can an exercise be solved, how hard is it, and what does it teach?"""

from __future__ import annotations

from dataclasses import dataclass, replace

from diagnose.knowledge.records import Knowledge
from diagnose.planning.shop import Shop
from diagnose.practice.exercise import Exercise
from diagnose.practice.expert import Difficulty, difficulty, play
from diagnose.practice.run import ExerciseRun, started
from diagnose.practice.thinking import mistakes

TURNS = 2
"""How many machines with the same faults and other noise are worked to the end."""
ASTRAY = 0.1  # a mistake that moves a cause by as much is a trap (judgement)


@dataclass(frozen=True, slots=True)
class ExerciseSurvey:
    """`solved`: how many of the machines tried were repaired by the best policy, of `tried`. `rank`: place of the
    (worst placed) true cause by the first findings, 0 where it is not listed. `path`: the best policy's moves.
    `money`, `minutes`: what they took. `traps`: mistakes that would lead the figures astray. `hazards`: names of
    what must be ruled out on the way."""

    solved: int
    tried: int
    difficulty: Difficulty
    rank: int
    path: tuple[str, ...]
    money: float
    minutes: float
    traps: tuple[str, ...]
    hazards: tuple[str, ...]


def survey(knowledge: Knowledge, exercise: Exercise, shop: Shop, turns: int = TURNS) -> ExerciseSurvey:
    """Work the exercise as the best policy would. Raises CallError where its truth cannot show the findings."""
    played = [_played(knowledge, exercise, shop, exercise.truth.seed + turn) for turn in range(turns)]
    first = played[0]
    order = [cause.id for cause in first.beginning.advice.diagnosis.causes]
    places = [order.index(id) + 1 for id in exercise.truth.causes if id in order]
    fresh = ExerciseRun(knowledge, shop, first.entries[:1])
    return ExerciseSurvey(
        sum(run.ended == "repaired" for run in played),
        turns,
        difficulty(fresh, first),
        max(places, default=0),
        tuple(entry.values["name"] for entry in first.entries[1:]),
        first.money,
        first.minutes,
        _traps(first),
        tuple(hazard.name for hazard in fresh.standing.hazards),
    )


def _played(knowledge: Knowledge, exercise: Exercise, shop: Shop, seed: int) -> ExerciseRun:
    turned = replace(exercise, truth=replace(exercise.truth, seed=seed))
    return play(ExerciseRun(knowledge, shop, [started(knowledge, turned, "")]))


def _traps(played: ExerciseRun) -> tuple[str, ...]:
    """The mistakes that would move a listed cause clearly, at the first findings or before the first repair."""
    end = next((i for i, e in enumerate(played.entries) if e.kind != "checked" and i), len(played.entries))
    found: dict[str, None] = {}
    for stop in dict.fromkeys((1, end)):
        diagnosis = ExerciseRun(played.knowledge, played.shop, played.entries[:stop]).standing.diagnosis
        causes = [diagnosis.built.variable(id) for id in played.beginning.suspects]
        exact = {v: 1 - float(diagnosis.engine.marginal(v)[0]) for v in causes}
        for name, figures in mistakes(diagnosis, causes).items():
            if max((abs(figures[v] - exact[v]) for v in causes), default=0.0) > ASTRAY:
                found[name] = None
    return tuple(found)
