"""After an exercise: the own path beside the best one, what each detour cost, and what should have turned it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

from diagnose.knowledge.located import with_place
from diagnose.knowledge.observable import observable
from diagnose.moves.standing import CHECK
from diagnose.network.weighing import story as odds_story
from diagnose.practice.bench import Bench
from diagnose.practice.expert import Difficulty, best_path, difficulty
from diagnose.practice.store import Entry

MOVES = ("checked", "repaired", "handed_over")
LINES = 4
"""How many causes the probability story follows, the true ones first."""
DANGER, MISSED = 50.0, 20.0
"""Points that a dangerous move, and a danger not known, take off safety (judgement)."""


@dataclass(frozen=True, slots=True)
class Step:
    """One move: what it took, what it is expected to have cost beyond the best one (`regret`, money), the same in
    minutes of the shop's time, and what would have been best."""

    name: str
    kind: str
    minutes: float
    money: float
    regret: float
    regret_minutes: float
    best: str


@dataclass(frozen=True, slots=True)
class Skills:
    """Points from 0 to 100; None where there was nothing to judge. The formulas stand in docs/practice.md."""

    choosing: float | None
    updating: float | None
    safety: float
    stopping: float | None


@dataclass(frozen=True, slots=True)
class Turning:
    """The finding that speaks most for the truth, in decibans, given those before it."""

    name: str
    decibans: float


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

    def __init__(self, bench: Bench):
        self.bench = bench

    @property
    def truth(self) -> tuple[str, ...]:
        """The hidden causes, by id."""
        return self.bench.truth.causes

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The own path."""
        return steps(self.bench)

    @property
    def regret(self) -> float:
        """Money that the detours were expected to cost."""
        return sum(step.regret for step in self.steps)

    @property
    def quick(self) -> bool:
        """Whether nothing is left to be worked out."""
        return self.bench.stale or self._kept is not None

    @cached_property
    def best(self) -> Best | None:
        """The best path: as it was kept, else worked out; None under other knowledge."""
        if self._kept is not None:
            return _best(self.bench.opened(self._kept.values["best"]))
        return None if self.bench.stale else self._worked_out()

    @property
    def to_keep(self) -> Entry | None:
        """What spares working out the best path once more; None where that is kept or cannot be done."""
        if self._kept is not None or self.best is None:
            return None
        return Entry("debriefed", {"best": self.bench.hidden(asdict(self.best))})

    @property
    def _kept(self) -> Entry | None:
        return next((entry for entry in self.bench.entries if entry.kind == "debriefed"), None)

    def _worked_out(self) -> Best:
        best = best_path(self.bench)
        names = tuple(entry.values["name"] for entry in best.entries if "verdict" in entry.values)
        return Best(names, best.minutes, best.money, difficulty(self.bench, best), self._turning)

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
        words = observable(self.bench.knowledge, seen.finding).in_words(seen.state)
        name = with_place(words, seen.place)
        return Turning(name, float(steps[place])) if steps[place] > 0 else None

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
        return skills(self.bench)

    @property
    def _last_before_repair(self) -> Bench:
        """Where it stood before the first repair: what was seen then is what there was to reason with."""
        entries = self.bench.entries
        end = next((i for i, e in enumerate(entries) if e.kind == "repaired"), len(entries))
        return self.bench.with_entries(entries[:end])

    @property
    def _moments(self) -> Iterator[tuple[str, Mapping[str, float], Mapping[str, float]]]:
        """After what, the probabilities then, and the own figures said of them."""
        after, said = "first findings", {}
        for entry in self.bench.entries[1:]:
            if entry.kind == "guessed":
                said = entry.values["said"]
            elif "verdict" in entry.values:
                yield after, self.bench.verdict(entry)["before"], said
                after, said = entry.values["name"], {}


def _best(values: Mapping[str, Any]) -> Best:
    """From plain JSON values."""
    turning = values["turning"]
    return Best(
        tuple(values["path"]),
        values["minutes"],
        values["money"],
        Difficulty(**values["difficulty"]),
        Turning(**turning) if turning else None,
    )


def steps(bench: Bench) -> tuple[Step, ...]:
    """The moves of an exercise, in order."""
    hour = bench.shop.time(1.0)
    found = []
    for e in (e for e in bench.entries if e.kind in MOVES):
        verdict, told = bench.verdict(e), e.values
        regret = verdict["regret"]
        found.append(
            Step(
                told["name"],
                e.kind.replace("_", " "),
                told["minutes"],
                told["money"],
                regret,
                regret / hour if hour else 0.0,
                verdict["best"],
            )
        )
    return tuple(found)


def skills(bench: Bench) -> Skills:
    """Points by skill, from the entries alone."""
    moves = [(e.kind, bench.verdict(e)) for e in bench.entries if e.kind in MOVES]
    choosing = [v for kind, v in moves if kind == "checked" and v["best_kind"] == CHECK]
    stopping = [v for kind, v in moves if not (kind == "checked" and v["best_kind"] == CHECK)]
    start = max(float(moves[0][1]["value"]), 1.0) if moves else 1.0
    guesses = [e.values["points"] for e in bench.entries if e.kind == "guessed"]
    return Skills(
        _share(start, choosing),
        sum(guesses) / len(guesses) if guesses else None,
        max(0.0, 100.0 - DANGER * bench.count("stopped") - MISSED * bench.count("missed")),
        _share(start, stopping) if bench.ended and bench.ended != "given up" else None,
    )


def _share(start: float, judged: Sequence[Mapping[str, Any]]) -> float | None:
    """100 V / (V + regret): V is what the machine was expected to cost at the start by the best plan."""
    return 100.0 * start / (start + sum(float(v["regret"]) for v in judged)) if judged else None
