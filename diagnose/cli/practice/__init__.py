"""The commands `practice`: exercises with a hidden cause, their debrief, and what a trainer needs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import force_option, json_option
from diagnose.cli.show import out, say, show
from diagnose.errors import CallError
from diagnose.saving import free, save_text

if TYPE_CHECKING:
    from diagnose.practice.run import ExerciseRun
    from diagnose.practice.store import Exercises

PAPERS = ("exercise.html", "answers.html")
WRITTEN = click.Path(dir_okay=False, path_type=Path)
WORKING = "Working it as the best moves would"
EXPECTED = 6.0
"""Seconds that the best path mostly takes."""
number_argument = click.argument("number", required=False, type=click.IntRange(1), metavar="[N]")


@click.group()
def practice() -> None:
    """Practise on machines whose fault is hidden.

    Results come from the hidden fault by the odds of the knowledge; time and money run; dangerous moves are
    stopped. Always follow the engine maker's service information, local codes and licensed practice.
    """


@practice.command()
@click.argument("scenario", required=False)
@click.option("--name", default="", metavar="NAME", help="Who practises: a name or initials.")
@click.option(
    "-c", "--case", "case", type=click.IntRange(1), metavar="N", help="A closed case, made anonymous."
)
@click.option("--draw", is_flag=True, help="Draw a machine from the knowledge.")
@click.option("--system", default="", metavar="SYSTEM", help="With --draw: where the (first) fault is.")
@click.option("--faults", type=click.IntRange(1, 2), default=1, help="With --draw: one fault or two.")
@click.option("--old-code", is_flag=True, help="With --draw: an old code that has nothing to do with it.")
@click.option("--level", type=click.Choice(["easy", "medium", "hard"]), help="With --draw: how hard.")
@click.option("--seed", type=click.IntRange(0), metavar="N", help="The same exercise again, for a class.")
@click.pass_obj
def start(
    context: CommandContext,
    scenario: str | None,
    name: str,
    case: int | None,
    draw: bool,
    system: str,
    faults: int,
    old_code: bool,
    level: str | None,
    seed: int | None,
) -> None:
    """Begin an exercise: a guided talk.

    SCENARIO is a file, or a number of the list that is shown without one. Every answer is kept at once; q,
    Ctrl-C or a lost line lose nothing, `practice resume` goes on.
    """
    from diagnose.cli.practice.conversation import hold
    from diagnose.cli.practice.exercise_choice import Asked, chosen
    from diagnose.cli.talk import ConversationLeft, Talk

    talk = Talk()
    try:
        asked = Asked(scenario, case, draw, system, faults, old_code, level, seed)
        exercise = chosen(context, talk, asked)
        name = name or talk.ask("Your name or initials:") or "nobody"
    except ConversationLeft:
        show("No exercise was begun.")
        return
    from diagnose.practice.exercise import world_of
    from diagnose.practice.run import started

    world_of(context.knowledge, exercise)  # raises where its truth cannot show the first findings
    with _exercises(context) as kept:
        number = kept.begin(started(context.knowledge, exercise, name))
    hold(context, talk, number)


@practice.command()
@number_argument
@click.pass_obj
def resume(context: CommandContext, number: int | None) -> None:
    """Go on with an exercise, else the last one."""
    from diagnose.cli.practice.conversation import hold
    from diagnose.cli.talk import Talk

    hold(context, Talk(), _number(context, number))


@practice.command("list")
@json_option
@click.pass_obj
def list_(context: CommandContext, as_json: bool) -> None:
    """The exercises so far."""
    from diagnose.report.text import numbered

    benches = _benches(context)
    rows = [
        {
            "exercise": b.number,
            "apprentice": b.beginning.apprentice,
            "complaint": b.case.complaint,
            "ended": b.ended,
            "minutes": b.minutes,
            "money": b.money,
        }
        for b in benches
    ]
    words = [f"{b.beginning.apprentice}: {b.case.complaint} ({b.ended or 'going on'})" for b in benches]
    out(
        "practice-list",
        as_json,
        lambda: {"exercises": rows},
        lambda: numbered(words) if words else "No exercise yet.",
    )


@practice.command()
@number_argument
@click.option("--plot", type=WRITTEN, metavar="FILE.svg", help="Draw how the probabilities went.")
@force_option
@json_option
@click.pass_obj
def debrief(
    context: CommandContext, number: int | None, plot: Path | None, force: bool, as_json: bool
) -> None:
    """The hidden cause, your path, and the best.

    Regret is the money that a move was expected to cost beyond the best one, by what could be known then.
    """
    from rich.console import Group

    from diagnose.cli.progress_bar import waiting
    from diagnose.practice.debrief import Debrief
    from diagnose.practice.debrief_words import debrief_data, debrief_screen, story_picture

    run = _bench(context, _number(context, number))
    if not run.ended:
        raise CallError(
            f"Exercise {run.number} still goes on: diagnose practice resume {run.number} "
            "(or give it up there, with x)."
        )
    found = Debrief(run)
    with waiting("Working out the best path", 0.0 if found.quick else EXPECTED, as_json):
        values = debrief_data(found)
    if entry := found.to_keep:
        with _exercises(context) as kept:
            kept.append(run.number, entry)
    out("practice-debrief", as_json, lambda: values, lambda: Group(*debrief_screen(found)))
    if plot:
        _write(plot, story_picture(found), force)


@practice.command()
@click.option("--csv", "csv_file", type=WRITTEN, metavar="FILE", help="Write the rows as CSV.")
@click.option("--html", type=WRITTEN, metavar="FILE", help="Write the sheet as a page.")
@force_option
@json_option
@click.pass_obj
def sheet(
    context: CommandContext, csv_file: Path | None, html: Path | None, force: bool, as_json: bool
) -> None:
    """Apprentices by skill, and their progress.

    The trainer's sheet of a class.
    Points from 0 to 100 for choosing checks, updating, safety and stopping.
    """
    from dataclasses import asdict

    from diagnose.practice.debrief_words import sheet_screen
    from diagnose.practice.sheet import as_csv, as_html, progress, row

    rows = [row(run) for run in _benches(context)]
    out(
        "practice-sheet",
        as_json,
        lambda: {
            "exercises": [asdict(one) for one in rows],
            "progress": [asdict(one) for one in progress(rows)],
        },
        lambda: sheet_screen(rows),
    )
    if csv_file:
        _write(csv_file, as_csv(rows), force)
    if html:
        _write(html, as_html(rows, context.shop.currency), force)


@practice.command()
@click.argument("file")
@json_option
@click.pass_obj
def check(context: CommandContext, file: str, as_json: bool) -> None:
    """Can it be solved, how hard, what for?

    For the trainer. Tells the hidden cause's place and the best path: not for the eyes of those who practise.
    """
    from dataclasses import asdict

    from diagnose.cli.practice.exercise_choice import from_file
    from diagnose.cli.progress_bar import waiting
    from diagnose.practice.debrief_words import survey_screen
    from diagnose.practice.exercise_survey import survey

    with waiting(WORKING, EXPECTED, as_json):
        found = survey(context.knowledge, from_file(context, file, 0), context.shop)
    out("practice-check", as_json, lambda: asdict(found), lambda: survey_screen(found, context.shop))


@practice.command()
@click.argument("file")
@click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    help="Where to write them; here, if not said.",
)
@click.option(
    "--seed", type=click.IntRange(0), default=0, metavar="N", help="Another machine of the same fault."
)
@force_option
@click.pass_obj
def paper(context: CommandContext, file: str, folder: Path, seed: int, force: bool) -> None:
    """An exercise on paper, with its answers.

    The files are exercise.html and answers.html, to be printed from any browser.
    """
    from diagnose.cli.practice.exercise_choice import from_file
    from diagnose.cli.progress_bar import waiting
    from diagnose.practice.paper import papers
    from diagnose.report.document.html import html

    for name in PAPERS:
        free(folder / name, force)
    with waiting(WORKING, EXPECTED):
        sheets = papers(context.knowledge, from_file(context, file, seed), context.shop)
    folder.mkdir(parents=True, exist_ok=True)
    for name, sheet in zip(PAPERS, sheets, strict=True):
        _write(folder / name, html(sheet), force)


def _exercises(context: CommandContext) -> Exercises:
    from diagnose.practice.store import Exercises, practice_path

    kept = Exercises(practice_path(context.store_path))
    for words in kept.told:
        say(f"{kept.path}: {words}", err=True)
    return kept


def _bench(context: CommandContext, number: int) -> ExerciseRun:
    from diagnose.practice.run import ExerciseRun

    with _exercises(context) as kept:
        return ExerciseRun(context.knowledge, context.shop, kept.entries(number), number)


def _benches(context: CommandContext) -> list[ExerciseRun]:
    with _exercises(context) as kept:
        numbers = kept.numbers()
    return [_bench(context, number) for number in numbers]


def _number(context: CommandContext, number: int | None) -> int:
    if number is not None:
        return number
    with _exercises(context) as kept:
        numbers = kept.numbers()
    if not numbers:
        raise CallError("There is no exercise yet. Begin one: diagnose practice start")
    return numbers[-1]


def _write(path: Path, text: str, force: bool) -> None:
    """What names an apprentice or tells the answers is for its user alone."""
    save_text(path, text, force=force, private=True)
    say(f"Written: {path}", err=True)
