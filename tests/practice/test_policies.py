"""Who follows the best moves loses nothing; who follows `next` stands at the top; who guesses, at the bottom."""

from __future__ import annotations

from statistics import mean

import numpy as np
import pytest

from diagnose.moves.standing import Action
from diagnose.planning.checks import next_checks
from diagnose.practice.debrief import Debrief, skills, steps
from diagnose.practice.expert import LEVELS, Policy, best, difficulty, first_level, is_level, play
from diagnose.practice.run import ExerciseRun
from tests.practice.small import run

MACHINES = [(cause, seed) for cause in ("pump_worn", "seal_out", "batteries_flat") for seed in (1, 2)]


def follows_next(at: ExerciseRun) -> Action:
    """The first check of `next` while one saves money, then the best repair."""
    checks = next_checks(at.standing.diagnosis, at.standing.situation)
    free = [c for c in checks if c.value > 0 and not c.held_back and at.standing.check_option(c.id)]
    if free:
        option = at.standing.check_option(free[0].id)
        assert option is not None
        return at.standing.check(option)
    return next(move for move in at.standing.actions if move.kind != "check")


def random(seed: int) -> Policy:
    rng = np.random.default_rng(seed)

    def choose(at: ExerciseRun) -> Action:
        checks = [at.standing.check(o) for o in at.standing.checks if not at.standing.held(o.hazards, o.id)]
        repairs = [at.standing.repair([r]) for r in at.knowledge.repairs.values()]
        moves = [*checks, *repairs]
        return moves[int(rng.integers(len(moves)))]

    return choose


def regret(played: ExerciseRun) -> float:
    return sum(step.regret for step in steps(played))


@pytest.mark.parametrize(("cause", "seed"), MACHINES)
def test_the_best_moves_have_no_regret(cause: str, seed: int) -> None:
    played = play(run(cause, seed))
    assert regret(played) == 0.0
    told = skills(played)
    assert {told.choosing, told.stopping, told.safety} <= {100.0, None}


def test_following_next_is_at_the_top_and_chance_at_the_bottom() -> None:
    policies: dict[str, Policy] = {"best": best, "next": follows_next, "random": random(3)}
    lost = {
        name: mean(regret(play(run(cause, seed), policy)) for cause, seed in MACHINES)
        for name, policy in policies.items()
    }
    assert lost["best"] == 0.0
    assert lost["next"] <= 0.05 * lost["random"]


def test_debrief_of_a_detour_names_it_and_the_better_move() -> None:
    at = run()
    detour = at.standing.repair([at.knowledge.repairs["charge_or_replace_batteries"]])
    at = at.more(at.do_repair([at.knowledge.repairs["charge_or_replace_batteries"]]).entry)
    told = Debrief(play(at))
    assert told.steps[0].name == detour.name
    assert told.steps[0].regret > 0
    assert told.steps[0].regret_minutes == pytest.approx(told.steps[0].regret / at.shop.time(1.0))
    assert told.steps[0].best == run().standing.best.name
    assert told.best is not None
    assert told.best.money <= told.run.money
    assert sum(told.story[0].probabilities.values()) <= len(told.story[0].probabilities)


def test_best_path_is_worked_out_once_and_kept() -> None:
    at = run()
    at = at.more(at.do_repair([at.knowledge.repairs["charge_or_replace_batteries"]]).entry)
    told = Debrief(play(at))
    entry = told.to_keep
    assert entry is not None
    assert not told.quick
    later = Debrief(told.run.more(entry))
    assert later.quick
    assert later.best == told.best
    assert later.to_keep is None
    assert later.run.ended == told.run.ended


@pytest.mark.parametrize(("cause", "seed"), MACHINES)
def test_level_is_told_without_working_it_to_the_end(cause: str, seed: int) -> None:
    """As told by the whole best path."""
    at = run(cause, seed)
    whole = difficulty(at, play(at))
    assert [level for level in LEVELS if is_level(at, level)] == [whole.level]
    assert LEVELS.index(first_level(at)) <= LEVELS.index(whole.level)


def test_suspected_stop_hazard_is_ruled_out_first_and_counts_as_best() -> None:
    from diagnose.cases.events import Noted

    at = run("seal_out", 1, Noted("hard_stop", "present"))
    assert at.standing.best.ids == ("bar_by_hand",)
    assert at.standing.regret(at.standing.best) == 0.0
    held = at.standing.check_option("look_under_cover")
    assert held is not None
    assert at.standing.held(held.hazards, held.id) is not None
