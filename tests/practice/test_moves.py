"""Practice judges by the moves that every other view tells; a comeback is named; the turning point is read."""

from __future__ import annotations

from itertools import pairwise

import pytest

from diagnose.cases.case import fold
from diagnose.cases.scenario import folder
from diagnose.cli.show import rendered
from diagnose.diagnosis import diagnose
from diagnose.errors import CallError
from diagnose.moves.advice import Advice
from diagnose.moves.standing import REPAIR
from diagnose.practice.debrief import Debrief, Turning, TurningEffect, skills, steps
from diagnose.practice.debrief_words import debrief_screen, reading_words
from diagnose.practice.exercise_sources import of_scenario
from diagnose.practice.expert import best, make, play
from diagnose.practice.paper import papers
from diagnose.practice.run import ExerciseRun, started
from diagnose.practice.thinking import think
from diagnose.report.document.blocks import Paper, Points
from tests import shipped
from tests.practice.small import SHOP, run

FEW = ["starter_grinds_gritter"]
REST = sorted({path.stem for path in folder().glob("*.yaml")} - set(FEW))[::24]


def shipped_bench(name: str) -> ExerciseRun:
    knowledge = shipped.shipped_knowledge()
    return ExerciseRun(
        knowledge, SHOP, [started(knowledge, of_scenario(shipped.scenario(name), knowledge, 0), "")]
    )


def flat(debrief: Debrief, width: int = 60) -> str:
    return " ".join(" ".join(rendered(piece, width).split()) for piece in debrief_screen(debrief))


def check(name: str) -> None:
    """Whoever makes the move that `next` tells loses nothing: also where that is the repair."""
    at = shipped_bench(name)
    for _ in range(6):
        if at.ended:
            break
        told = Advice(at.knowledge, at.case, at.shop).move
        move = best(at)
        if move.kind == REPAIR:
            assert set(told.ids) == set(move.ids)
        assert at.standing.regret(move) == 0.0
        at = at.more(make(at, move).entry)
    assert all(step.regret == 0.0 for step in steps(at))
    assert all(one is None or one == pytest.approx(100) for one in (skills(at).choosing, skills(at).stopping))


@pytest.mark.parametrize("name", FEW)
def test_the_move_that_is_told_is_never_a_detour(name: str) -> None:
    check(name)


@pytest.mark.slow
@pytest.mark.parametrize("name", REST)
def test_the_move_that_is_told_is_never_a_detour_elsewhere(name: str) -> None:
    try:
        check(name)
    except CallError as error:
        pytest.skip(str(error))


def test_the_right_repair_after_a_proven_sensor_error_is_no_detour() -> None:
    """Seen before: called a detour."""
    at = shipped_bench("sensor_lies_library")
    while best(at).kind != REPAIR:
        at = at.more(make(at, best(at)).entry)
    (cause,) = at.beginning.truth.causes
    cures = [r for r in at.knowledge.repairs.values() if any(one.cause == cause for one in r.cures)]
    right = [r for r in cures if at.case.machine.fits(r.only_if)]
    assert min(at.standing.regret(at.standing.repair([r])) for r in right) == 0.0


def offered(sheet: Paper) -> list[str]:
    (section,) = (one for one in sheet.sections if one.title.startswith("3."))
    (points,) = (block for block in section.blocks if isinstance(block, Points))
    return list(points.items)


@pytest.mark.slow
@pytest.mark.parametrize("name", FEW)
def test_the_paper_sheet_offers_the_checks_of_the_best_path(name: str) -> None:
    """Seen before: it left out the one that finds the cause."""
    knowledge = shipped.shipped_knowledge()
    exercise = of_scenario(shipped.scenario(name), knowledge, 0)
    sheet, answers = papers(knowledge, exercise, SHOP)
    path = [step.name for step in steps(play(shipped_bench(name))) if step.kind == "checked"]
    assert set(path) <= set(offered(sheet))
    assert offered(sheet) == sorted(offered(sheet))
    assert len(offered(sheet)) <= max(10, len(path) + 3)
    assert answers.sections[-1].title == "3 to 5. The best path on this machine"


def test_what_a_comeback_cost_is_named() -> None:
    at = run()
    wrong = at.knowledge.repairs["charge_or_replace_batteries"]
    price = at.standing.repair_price([wrong]).money
    entry = at.do_repair([wrong]).entry
    assert entry.values["comeback"] == at.shop.comeback
    assert entry.values["money"] == pytest.approx(price + at.shop.comeback)
    told = Debrief(play(at.more(entry)))
    assert told.steps[0].comeback == at.shop.comeback
    assert "of it 900 EUR for the comeback" in flat(told)
    assert told.steps[-1].comeback == 0.0


def test_safety_is_not_judged_where_nothing_was_done() -> None:
    """Seen before: 100 points for an exercise without a move."""
    assert skills(run()).safety is None
    at = run()
    assert skills(at.more(make(at, best(at)).entry)).safety == 100.0


def test_the_turning_point_is_read_as_the_exact_probabilities_have_it() -> None:
    """The oracle is the diagnosis itself, with the case cut before and after the turning entry."""
    played = play(run())
    told = Debrief(played)
    assert told.best
    turning = told.best.turning
    assert turning
    events = told._last_before_repair.case.history
    knowledge = played.knowledge
    for one in turning.readings:
        found = []
        for end in range(1, len(events) + 1):
            cause = diagnose(knowledge, fold(0, events[:end])).cause(one.cause)
            found.append(cause.probability if cause else 0.0)
        steps_of_it = [pytest.approx(pair, abs=1e-6) for pair in pairwise(found)]
        assert (one.before, one.after) in steps_of_it
    assert turning.readings[0].hidden
    assert turning.readings[0].after > turning.readings[0].before
    assert all(" from " in words for words in reading_words(knowledge, turning))
    assert "(hidden here) rises from" in flat(told)


def test_the_apprentices_own_reading_stands_beside_it() -> None:
    """What was said before the check of the turning point, right and the other way round."""
    for up, says in ((True, "so you said"), (False, "you said that it falls")):
        at = run()
        while not at.ended:
            move = best(at)
            if move.kind == "check":
                option = at.standing.check_option(move.ids[0])
                assert option
                hidden = list(at.beginning.truth.causes)
                at = at.more(think(at, option, hidden if up else [], [] if up else hidden)[0])
            at = at.more(make(at, move).entry)
        told = Debrief(at)
        assert told.best
        assert told.best.turning
        if told.best.turning.asked:
            assert says in flat(told)
        else:  # the first findings turned it: nobody was asked of them
            assert "You did not say beforehand" in flat(told)


def test_a_debrief_that_was_kept_tells_the_same_reading() -> None:
    told = Debrief(play(run()))
    entry = told.to_keep
    assert entry
    assert Debrief(told.run.more(entry)).best == told.best


@pytest.mark.parametrize(
    ("said", "says"), [(1, "; so you said"), (-1, "; you said that it falls"), (0, "; you did not name it")]
)
def test_a_reading_is_compared_with_what_was_said(said: int, says: str) -> None:
    rising = TurningEffect("pump_worn", 0.2, 0.9, hidden=True, said=said)
    (words,) = reading_words(run().knowledge, Turning("Metal", 10.0, (rising,), asked=True))
    assert words == f"Oil pump worn (hidden here) rises from 20 % to 90 %{says}"
    (words,) = reading_words(run().knowledge, Turning("Metal", 10.0, (rising,), asked=False))
    assert words == "Oil pump worn (hidden here) rises from 20 % to 90 %"
