"""Working an exercise to its end by a policy, and how hard it is for one who reasons without a flaw."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import log2

from diagnose.moves.standing import CHECK, REPAIR, Action
from diagnose.practice.run import ExerciseRun, MoveResult
from diagnose.practice.store import ExerciseEntry

MOST_MOVES, LONG = 16, 9  # moves until a play is given up; moves worked to tell how hard an exercise is
LEVELS = EASY, MEDIUM, HARD = "easy", "medium", "hard"
FEW_CHECKS, FEW_BITS = 3, 2.0
"""Up to which an exercise is easy."""
MOST_CHECKS, MOST_BITS = 6, 5.0
"""From which on it is hard."""
Policy = Callable[[ExerciseRun], Action]


@dataclass(frozen=True, slots=True)
class Difficulty:
    """`checks`: how many the best policy does; `misleading`: log2 of how much likelier the leading cause is than
    the true one by the first findings, 0 where they already point to it; `level`: in one word."""

    checks: int
    misleading: float
    level: str


def best(run: ExerciseRun) -> Action:
    """The policy that takes the best move."""
    return run.standing.best


def make(run: ExerciseRun, move: Action) -> MoveResult:
    """Make a move."""
    if move.kind == CHECK:
        option = run.standing.check_option(move.ids[0])
        assert option is not None, f"{move.ids[0]} is done already"
        return run.do_check(option)
    if move.kind == REPAIR:
        return run.do_repair([run.knowledge.repairs[id] for id in move.ids])
    return run.hand_over()


def play(run: ExerciseRun, policy: Policy = best, most: int = MOST_MOVES) -> ExerciseRun:
    """The exercise worked to its end by a policy; handed over after so many moves."""
    for _ in range(most):
        if run.ended:
            return run
        run = run.more(make(run, policy(run)).entry)
    return run if run.ended else run.more(run.hand_over().entry)


def best_path(run: ExerciseRun) -> ExerciseRun:
    """The exercise worked by the best policy, taken up where the own path first left it."""
    entries = run.entries
    left = next((i for i, e in enumerate(entries) if "verdict" in e.values and not _was_best(run, e)), None)
    own = entries if left is None else entries[:left]
    kept = [e for e in own if e.kind == "started" or "verdict" in e.values]
    return play(run.with_entries(kept))


def _was_best(run: ExerciseRun, entry: ExerciseEntry) -> bool:
    return bool(run.verdict(entry)["best"] == entry.values["name"])


def misleading(run: ExerciseRun) -> float:
    """How far the first findings lead astray, in bits. Something not listed counts by its own probability."""
    diagnosis = run.beginning.advice.diagnosis
    present = {cause.id: cause.probability for cause in diagnosis.causes if cause.relevant}
    truth = [present.get(id, 0.0) for id in run.beginning.exercise.truth.causes] or [diagnosis.other_cause]
    leading = max(present.values(), default=1.0)
    return max(0.0, log2(max(leading, 1e-9) / max(min(truth), 1e-9)))


def difficulty(run: ExerciseRun, played: ExerciseRun) -> Difficulty:
    """How hard the exercise is; `played`: the same worked by the best policy."""
    bits, checks = misleading(run), played.count("checked")
    return Difficulty(checks, bits, _level(bits, checks))


def first_level(fresh: ExerciseRun) -> str:
    """How hard the first findings alone make it; the checks that it takes can only make it harder."""
    return _level(misleading(fresh), 0)


def is_level(fresh: ExerciseRun, level: str) -> bool:
    """Whether an exercise not yet begun is surely so hard: worked by the best policy no further than it takes to
    tell, and no when that takes long."""
    bits, run = misleading(fresh), fresh
    for _ in range(LONG):
        so_far = _level(bits, run.count("checked"))
        if run.ended or so_far == HARD or LEVELS.index(so_far) > LEVELS.index(level):
            return so_far == level
        run = run.more(make(run, best(run)).entry)
    return False


def _level(bits: float, checks: int) -> str:
    """More checks never make it easier."""
    if checks > MOST_CHECKS or bits > MOST_BITS:
        return HARD
    return EASY if checks <= FEW_CHECKS and bits <= FEW_BITS else MEDIUM
