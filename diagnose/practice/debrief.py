"""After an exercise: the own path beside the best one, what each detour cost, and what should have turned it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.located import with_place
from diagnose.knowledge.observable import observable
from diagnose.moves.standing import CHECK
from diagnose.network.weighing import DECIBANS
from diagnose.network.weighing import story as odds_story
from diagnose.practice.expert import Difficulty, best_path, difficulty
from diagnose.practice.judging import CLEARLY
from diagnose.practice.run import ExerciseRun
from diagnose.practice.store import ExerciseEntry

MOVES = ("checked", "repaired", "handed_over")
LINES, LOOKED_AT = 4, 24
"""How many causes the probability story and the turning point tell of, the true ones first; and are looked at."""
DANGER, MISSED = 50.0, 20.0
"""Points that a dangerous move, and a danger not known, take off safety (judgement)."""


@dataclass(frozen=True, slots=True)
class DebriefStep:
    """One move: what it took, what it is expected to have cost beyond the best one (`regret`, money), the same in
    minutes of the shop's time, and what would have been best. `comeback`: of the money, what it cost that the
    machine came back with its complaint."""

    name: str
    kind: str
    minutes: float
    money: float
    regret: float
    regret_minutes: float
    best: str
    comeback: float = 0.0


@dataclass(frozen=True, slots=True)
class Skills:
    """Points from 0 to 100; None where there was nothing to judge. The formulas stand in docs/practice.md."""

    choosing: float | None
    updating: float | None
    safety: float | None
    stopping: float | None


@dataclass(frozen=True, slots=True)
class TurningEffect:
    """What the turning point makes of one cause: its probability before and after; `hidden`: whether it is there.
    `said`: what the apprentice said of it before the result, 1 that it would rise, -1 fall, 0 nothing."""

    cause: str
    before: float
    after: float
    hidden: bool
    said: int = 0


@dataclass(frozen=True, slots=True)
class Turning:
    """The finding that speaks most for the truth, in decibans, given those before it; `readings`: of the causes
    that it moves most, the hidden ones first. `asked`: whether the apprentice said what would rise and fall."""

    name: str
    decibans: float
    readings: tuple[TurningEffect, ...] = ()
    asked: bool = False


@dataclass(frozen=True, slots=True)
class Point:
    """The posterior after a step. `said`: the own figures of the same moment."""

    after: str
    probabilities: Mapping[str, float]
    said: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Best:
    """The same machine worked by the best policy: the names of its moves and what they took; how hard that makes
    it, and what should have turned it."""

    path: tuple[str, ...]
    minutes: float
    money: float
    difficulty: Difficulty
    turning: Turning | None


class Debrief:
    """All that is told of an exercise that has ended, from its entries; under other knowledge all but the best path
    where that was never worked out."""

    def __init__(self, run: ExerciseRun):
        self.run = run

    @property
    def truth(self) -> tuple[str, ...]:
        """The hidden causes, by id."""
        return self.run.beginning.truth.causes

    @cached_property
    def steps(self) -> tuple[DebriefStep, ...]:
        """The own path."""
        return steps(self.run)

    @property
    def regret(self) -> float:
        """Money that the detours were expected to cost."""
        return sum(step.regret for step in self.steps)

    @property
    def quick(self) -> bool:
        """Whether nothing is left to be worked out."""
        return self.run.beginning.stale or self._kept is not None

    @cached_property
    def best(self) -> Best | None:
        """The best path: as it was kept, else worked out; None under other knowledge."""
        if self._kept is not None:
            return _best(self.run.opened(self._kept.values["best"]))
        return None if self.run.beginning.stale else self._worked_out()

    @property
    def to_keep(self) -> ExerciseEntry | None:
        """What spares working out the best path once more; None where that is kept or cannot be done."""
        if self._kept is not None or self.best is None:
            return None
        return ExerciseEntry("debriefed", {"best": self.run.hidden(asdict(self.best))})

    @property
    def _kept(self) -> ExerciseEntry | None:
        return next((entry for entry in self.run.entries if entry.kind == "debriefed"), None)

    def _worked_out(self) -> Best:
        best = best_path(self.run)
        names = tuple(entry.values["name"] for entry in best.entries if "verdict" in entry.values)
        return Best(names, best.minutes, best.money, difficulty(self.run, best), self._turning)

    @property
    def _turning(self) -> Turning | None:
        """What should have turned it; None where no finding speaks for the truth."""
        diagnosis = self._last_before_repair.standing.diagnosis
        columns = [diagnosis.built.variable(id) for id in self.truth if diagnosis.cause(id)]
        if not columns or not diagnosis.evidence:
            return None
        gains = odds_story(diagnosis.weighing, columns)
        steps = (gains[1:] - gains[:-1]).sum(axis=1)
        place = int(steps.argmax())
        seen = diagnosis.evidence[place].observation
        if steps[place] <= 0:
            return None
        words = observable(self.run.knowledge, seen.finding).in_words(seen.state)
        name = with_place(words, seen.place)
        said = self._said_of(seen.finding)
        readings = self._readings(diagnosis, place, said or {})
        return Turning(name, float(steps[place]), readings, said is not None)

    def _readings(
        self, diagnosis: Diagnosis, place: int, said: Mapping[str, int]
    ) -> tuple[TurningEffect, ...]:
        """How the item of evidence at this place moves the causes, by the exact probabilities."""
        region = diagnosis.engine.region
        ids = [c.id for c in diagnosis.causes if c.relevant and diagnosis.built.variable(c.id) in region]
        ids = list(dict.fromkeys([*(id for id in self.truth if diagnosis.cause(id)), *ids[:LOOKED_AT]]))
        columns = [diagnosis.built.variable(id) for id in ids]
        odds = np.exp(odds_story(diagnosis.weighing, columns)[[place, place + 1]] / DECIBANS)
        before, after = odds / (1 + odds)
        found = [
            TurningEffect(id, float(b), float(a), id in self.truth, said.get(id, 0))
            for id, b, a in zip(ids, before, after, strict=True)
        ]
        found.sort(key=lambda one: (not one.hidden, -abs(one.after - one.before)))
        return tuple(one for one in found if one.hidden or abs(one.after - one.before) >= CLEARLY)[:LINES]

    def _said_of(self, finding: str) -> Mapping[str, int] | None:
        """What the apprentice said would rise and fall before the check that showed the finding; None where nothing
        was said."""
        said: Mapping[str, int] | None = None
        for entry in self.run.entries:
            if entry.kind == "said":
                said = dict.fromkeys(entry.values["up"], 1) | dict.fromkeys(entry.values["down"], -1)
            elif entry.kind == "checked":
                if any(one.get("finding") == finding for one in entry.values["events"]):
                    return said
                said = None
        return None

    @cached_property
    def story(self) -> tuple[Point, ...]:
        """The posterior of the followed causes from the first findings on, as it stood before each move."""
        found = list(self._moments)
        peaks: dict[str, float] = {}
        for _, before, _ in found:
            peaks |= {id: max(p, peaks.get(id, 0.0)) for id, p in before.items()}
        leading = sorted(peaks, key=lambda id: (id not in self.truth, -peaks[id]))[:LINES]
        return tuple(
            Point(name, {id: before.get(id, 0.0) for id in leading}, said) for name, before, said in found
        )

    @property
    def skills(self) -> Skills:
        """The points of the exercise."""
        return skills(self.run)

    @property
    def _last_before_repair(self) -> ExerciseRun:
        """Where it stood before the first repair: what was seen then is what there was to reason with."""
        entries = self.run.entries
        end = next((i for i, e in enumerate(entries) if e.kind == "repaired"), len(entries))
        return self.run.with_entries(entries[:end])

    @property
    def _moments(self) -> Iterator[tuple[str, Mapping[str, float], Mapping[str, float]]]:
        """After what, the probabilities then, and the own figures said of them."""
        after, said = "first findings", {}
        for entry in self.run.entries[1:]:
            if entry.kind == "guessed":
                said = entry.values["said"]
            elif "verdict" in entry.values:
                yield after, self.run.verdict(entry)["before"], said
                after, said = entry.values["name"], {}


def _best(values: Mapping[str, Any]) -> Best:
    """From plain JSON values."""
    turning = values["turning"]
    return Best(
        tuple(values["path"]),
        values["minutes"],
        values["money"],
        Difficulty(**values["difficulty"]),
        Turning(**turning | {"readings": tuple(TurningEffect(**one) for one in turning.get("readings", ()))})
        if turning
        else None,
    )


def steps(run: ExerciseRun) -> tuple[DebriefStep, ...]:
    """The moves of an exercise, in order."""
    hour = run.shop.time(1.0)
    found = []
    for e in (e for e in run.entries if e.kind in MOVES):
        verdict, told = run.verdict(e), e.values
        regret = verdict["regret"]
        found.append(
            DebriefStep(
                told["name"],
                e.kind.replace("_", " "),
                told["minutes"],
                told["money"],
                regret,
                regret / hour if hour else 0.0,
                verdict["best"],
                float(told.get("comeback", 0.0)),
            )
        )
    return tuple(found)


def skills(run: ExerciseRun) -> Skills:
    """Points by skill, from the entries alone."""
    moves = [(e.kind, run.verdict(e)) for e in run.entries if e.kind in MOVES]
    choosing = [v for kind, v in moves if kind == "checked" and v["best_kind"] == CHECK]
    stopping = [v for kind, v in moves if not (kind == "checked" and v["best_kind"] == CHECK)]
    start = max(float(moves[0][1]["value"]), 1.0) if moves else 1.0
    guesses = [e.values["points"] for e in run.entries if e.kind == "guessed"]
    stopped, missed = run.count("stopped"), run.count("missed")
    return Skills(
        _share(start, choosing),
        sum(guesses) / len(guesses) if guesses else None,
        max(0.0, 100.0 - DANGER * stopped - MISSED * missed) if moves or stopped or missed else None,
        _share(start, stopping) if run.ended and run.ended != "given up" else None,
    )


def _share(start: float, judged: Sequence[Mapping[str, Any]]) -> float | None:
    """100 V / (V + regret): V is what the machine was expected to cost at the start by the best plan."""
    return 100.0 * start / (start + sum(float(v["regret"]) for v in judged)) if judged else None
