"""The conversation of one exercise, turn by turn; every answer is kept at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from rich.text import Text

from diagnose.cli.context import CommandContext
from diagnose.cli.practice.answers import figures, ids_meant
from diagnose.cli.practice.checking import check_by_system, check_in_words
from diagnose.cli.practice.exercising import OpenExercise
from diagnose.cli.practice.safety import asked_danger, run_on, stop
from diagnose.cli.practice.screens import HELP, known, showed, standing, suspects
from diagnose.cli.show import show
from diagnose.cli.talk import ConversationLeft, Talk
from diagnose.errors import CallError, DiagnoseError
from diagnose.knowledge.records import Repair
from diagnose.planning.options import all_hazards
from diagnose.practice.debrief import Debrief
from diagnose.practice.debrief_words import debrief_screen
from diagnose.practice.judging import in_words
from diagnose.practice.run import ExerciseRun
from diagnose.practice.store import ExerciseEntry, Exercises, practice_path
from diagnose.practice.thinking import guess, hint
from diagnose.report.screen_words import CAUTION, minutes
from diagnose.report.text import STRONG, line

TRYING = re.compile(
    r"(just |try to )?(re)?(crank|start|run|drive|tow)([- ]start)?"
    r"( (it|her|again|up|on|over|the (engine|machine)))*"
)
"""Words for cranking or running the machine, which is no check."""


def hold(context: CommandContext, talk: Talk, number: int) -> None:
    """The whole conversation, until it ends or the person leaves."""
    with Exercises(practice_path(context.store_path)) as kept:
        one = OpenExercise(
            context, talk, ExerciseRun(context.knowledge, context.shop, kept.entries(number), number)
        )
    try:
        talk.say(Text(f"Exercise {number}", STRONG), CAUTION)
        if one.run.beginning.stale and not one.run.ended:
            _cannot_go_on(one)
        else:
            talk.say(*known(one.run))
        while not one.run.ended:
            _turn(one)
        _end(one)
    except (ConversationLeft, KeyboardInterrupt):
        show(Text(f"Everything is kept. diagnose practice resume {number} goes on from here."))


def _cannot_go_on(one: OpenExercise) -> None:
    one.talk.say(
        "The knowledge has changed since this exercise began: its machine would be another one now, so it cannot "
        "go on. Nothing is lost; with the knowledge of then it goes on. Or end it here: it counts as given up."
    )
    if one.talk.ask("End it, and see the debrief (y)?").lower() != "y":
        raise ConversationLeft
    one.keep(ExerciseEntry("given_up", {}))


def _turn(one: OpenExercise) -> None:
    one.talk.say(*standing(one.run))
    answer = one.talk.typed_ahead() or one.talk.ask("What do you do?")
    try:
        _do(one, answer)
    except DiagnoseError as error:
        one.talk.say(line(str(error), style="bold"))


def _do(one: OpenExercise, answer: str) -> None:
    if action := _ACTIONS.get(answer.lower()):
        action(one)
    elif TRYING.fullmatch(answer.lower()):
        _run_on(one)
    elif answer:
        check_in_words(one, answer)


def _known(one: OpenExercise) -> None:
    one.talk.say(*known(one.run))


def _probabilities(one: OpenExercise) -> None:
    talk, run = one.talk, one.run
    talk.say(
        "How likely is each now, in per cent? Several can be there at once, so they need not add up to 100."
    )
    talk.say(suspects(run), "What you leave out counts as 1 %.")
    while answer := talk.ask("As 1 60, 3 20 (or a cause in words and a number):"):
        try:
            entry, graded = guess(run, figures(run.knowledge, answer, run.beginning.suspects))
        except CallError as error:
            talk.say(str(error))
            continue
        one.keep(entry)
        talk.say(line(f"{graded.points:.0f} of 100 points.", style=STRONG), line(in_words(graded)))
        break


def _hint(one: OpenExercise) -> None:
    entry, words = hint(one.run)
    one.keep(entry)
    one.talk.say(line(words, style=STRONG))


def _repair(one: OpenExercise) -> None:
    answer = one.talk.ask("Which repair, in words (several with commas; Enter: none)?")
    done = [r for r in (_one_repair(one, words) for words in answer.split(",") if words.strip()) if r]
    if not done:
        return
    run, names = one.run, " + ".join(r.name for r in done)
    if hazard := run.standing.held_repair(done):
        stop(one.talk, one.keep, run.stopped(hazard, names), hazard)
        return
    price = run.standing.repair_price(done)
    asked = f"{names}: {minutes(price.minutes)}, {run.shop.money(price.money)}. Do it (y)?"
    if one.talk.ask(asked).lower() != "y":
        one.talk.say("Not done.")
        return
    hazards = [id for r in done for id in all_hazards(run.knowledge, r.hazards, r.access)]
    if asked_danger(one.talk, one.keep, run, names, hazards):
        seen = one.run.do_repair(done)
        one.keep(seen.entry)
        one.talk.say("Put together and tried:", *showed(one.run, seen))
        if back := seen.entry.values["comeback"]:
            words = (
                f"It comes back with the complaint: {one.run.shop.money(back)} more, on top of the repair."
            )
            one.talk.say(line(words, style=STRONG))


def _one_repair(one: OpenExercise, words: str) -> Repair | None:
    repairs = one.run.knowledge.repairs
    found = [id for id in ids_meant(one.run.knowledge, words.strip(), ("repairs",)) if id in repairs]
    if len(found) == 1:
        return repairs[found[0]]
    chosen = one.talk.choose(f"Which repair is “{words.strip()}”?", [repairs[i].name for i in found])
    return None if chosen is None else repairs[found[chosen]]


def _run_on(one: OpenExercise) -> None:
    run_on(one.talk, one.keep, one.run)


def _hand_over(one: OpenExercise) -> None:
    if one.talk.ask("Hand over, and end the exercise (y)?").lower() == "y":
        one.keep(one.run.hand_over().entry)


def _give_up(one: OpenExercise) -> None:
    if one.talk.ask("Give up, and see the debrief (y)?").lower() == "y":
        one.keep(ExerciseEntry("given_up", {}))


def _help(one: OpenExercise) -> None:
    one.talk.say(HELP)
    one.talk.pause()


def _end(one: OpenExercise) -> None:
    words = {"repaired": "The complaint is gone.", "handed over": "The specialist found it."}
    one.talk.say(line(words.get(one.run.ended, "Given up."), style=STRONG))
    debrief = Debrief(one.run)
    for piece in debrief_screen(debrief):
        one.talk.say(piece)
    if entry := debrief.to_keep:
        one.keep(entry)


_BY_KEY: Mapping[tuple[str, str], Callable[[OpenExercise], None]] = {
    ("c", "checks"): check_by_system,
    ("n", "known"): _known,
    ("p", "probabilities"): _probabilities,
    ("h", "hint"): _hint,
    ("f", "repair"): _repair,
    ("r", "run"): _run_on,
    ("o", "hand over"): _hand_over,
    ("x", "give up"): _give_up,
    ("?", "help"): _help,
}
_ACTIONS = {key: action for keys, action in _BY_KEY.items() for key in keys}
