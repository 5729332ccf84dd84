"""The commands on closed cases: learn, learn calibration, learn export; and many cases ranked in one call."""

from __future__ import annotations

import json
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import FILE, all_option, force_option, json_option, limit_option
from diagnose.cli.show import out, say, show
from diagnose.cli.types import Finite
from diagnose.errors import CallError
from diagnose.knowledge.records import Knowledge
from diagnose.plain import json_safe
from diagnose.saving import free, save, save_text

if TYPE_CHECKING:
    from diagnose.learning.case_sources import CaseSource
    from diagnose.learning.changes import Change
    from diagnose.learning.learn import LearntNumbers
    from diagnose.learning.lesson import Lesson

files_option = click.option(
    "-f",
    "--file",
    "files",
    type=FILE,
    multiple=True,
    help="File of cases (.jsonl, .csv, .parquet) instead of the case store; can be repeated.",
)
processes_option = click.option(
    "--processes",
    type=click.IntRange(1),
    metavar="N",
    help="Processes to work with; all processors without it.",
)


@click.group(invoke_without_command=True, subcommand_metavar="[COMMAND] [ARGS]...")
@files_option
@click.option("--write", is_flag=True, help="Put what was learnt in force without asking.")
@click.option("--undo", is_flag=True, help="Take back what was put in force last.")
@click.option("--all-cases", is_flag=True, help="Count also cases that hardly fit their causes.")
@click.option(
    "--passes", type=click.IntRange(1), metavar="N", help="Passes at most (20; 8 of 20,000 cases or more)."
)
@click.option(
    "--fleet-hours",
    type=Finite(0, min_open=True),
    metavar="H",
    help="Running hours of all machines in the time of these cases; teaches the level of rates.",
)
@processes_option
@limit_option
@all_option
@json_option
@click.pass_context
def learn(ctx: click.Context, /, **said: Any) -> None:
    """Learn from closed cases.

    Counts what the confirmed causes of closed cases say about how common causes are, and how often they show
    what, and proposes new numbers beside the old ones. Nothing changes until it is written (--write, or when
    asked); even then only a file of its own beside the shop's overlay, which --undo takes back.
    """
    if ctx.invoked_subcommand and any(value not in (None, False, ()) for value in said.values()):
        name = ctx.invoked_subcommand
        raise CallError(f"Options of {name} stand behind it: diagnose learn {name} ...")
    if ctx.invoked_subcommand is None:
        context = ctx.ensure_object(CommandContext)
        if said["undo"]:
            _undo(context, said["as_json"])
        else:
            _learn(context, **said)


def _learn(
    context: CommandContext,
    files: tuple[Path, ...],
    write: bool,
    undo: bool,
    all_cases: bool,
    passes: int | None,
    fleet_hours: float | None,
    processes: int | None,
    limit: int | None,
    everything: bool,
    as_json: bool,
) -> None:
    from diagnose.knowledge import loader
    from diagnose.learning.changes import changes as changed
    from diagnose.learning.learn import learn as learnt_from
    from diagnose.learning.parallel import processors
    from diagnose.report import lessons

    signal.signal(
        signal.SIGTERM, signal.default_int_handler
    )  # so that what was spooled is taken away then too
    knowledge = unlearnt(context)
    with cases_of(context, files) as source, told() as tell:
        found = learnt_from(
            knowledge,
            source,
            passes=passes,
            set_aside=not all_cases,
            fleet_hours=fleet_hours,
            processes=processes or processors(),
            told=tell,
        )
    changes, notices = changed(found), loader.notices(context.knowledge_folder, context.overlay_path)
    shown = None if everything else limit or lessons.CHANGES_SHOWN
    if not as_json and not write:
        show(lessons.learn_screen(found, changes, shown, None, False, notices))
        if not changes or not _wanted():
            return
    path = _put(context, found, changes) if changes and (write or not as_json) else None
    written = path is not None
    screen = partial(lessons.learn_screen, found, changes, shown, path, written, notices)
    if as_json or write:
        out("learn", as_json, lambda: lessons.learn_data(found, changes, path, written, notices), screen)
    else:
        say(f"Written: {path}. diagnose learn --undo takes it back.")


def _wanted() -> bool:
    """Ask, where there is somebody to ask."""
    import sys

    return sys.stdin.isatty() and click.confirm("Put these numbers in force?", err=True)


def _put(context: CommandContext, found: LearntNumbers, changes: list[Change]) -> Path:
    from diagnose.learning import overlay_file
    from diagnose.learning.overlay_text import overlay_text

    first, last = found.survey.first, found.survey.last
    span = f", closed {first} to {last}" if first else ""
    path = overlay_file.place_of_learnt(context.overlay_path, context.knowledge_folder)
    text = overlay_text(found.knowledge, changes, found.counted, span)
    overlay_file.write(path, text, context.overlay_path, context.knowledge_folder)
    return path


def _undo(context: CommandContext, as_json: bool) -> None:
    from diagnose.learning import overlay_file

    path = overlay_file.place_of_learnt(context.overlay_path, context.knowledge_folder)
    still = overlay_file.undo(path)
    words = (
        "What was learnt before is in force again."
        if still
        else "Nothing that was learnt is in force any more."
    )
    out(
        "learn",
        as_json,
        lambda: {"overlay": str(path), "undone": True, "learnt": still},
        lambda: f"{words} ({path})",
    )


@learn.command()
@files_option
@click.option(
    "--svg", "picture", type=click.Path(dir_okay=False, path_type=Path), help="Write the diagram here."
)
@force_option
@click.option("-a", "--all", "everything", is_flag=True, help="Judge all cases, not 2000 spread over them.")
@processes_option
@json_option
@click.pass_obj
def calibration(
    context: CommandContext,
    files: tuple[Path, ...],
    picture: Path | None,
    force: bool,
    everything: bool,
    processes: int | None,
    as_json: bool,
) -> None:
    """Whether the program was right.

    What it calls of closed cases, from what was seen before the repair, against what they were: the
    reliability diagram, Brier and logarithmic score, drift over time, and the cases that surprised most. With
    numbers that were learnt from the same cases it looks better than it will be on new ones.
    """
    from diagnose.learning.calibrate import SAMPLE, calibrate
    from diagnose.learning.parallel import processors
    from diagnose.report import calibration as screens

    if picture:
        free(picture, force)
    with cases_of(context, files) as source, told() as tell:
        found = calibrate(
            context.knowledge,
            source,
            sample=None if everything else SAMPLE,
            processes=processes or processors(),
            told=tell,
        )
    if picture:
        from diagnose.report.reliability_picture import reliability_svg

        save_text(picture, reliability_svg(found.leading, "The leading cause"), force=force)
    out(
        "learn-calibration",
        as_json,
        lambda: screens.calibration_data(found),
        lambda: screens.calibration_screen(context.knowledge, found),
    )


@learn.command()
@click.argument("target", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@files_option
@click.option("--named", is_flag=True, help="As they are: with machine numbers, remarks and days.")
@click.option(
    "--salt",
    metavar="WORD",
    help="Names cases alike in all exports with this salt of 32 letters or more; keep it.",
)
@click.option("--closed", is_flag=True, help="Closed cases only.")
@force_option
@click.pass_obj
def export(
    context: CommandContext,
    target: Path,
    files: tuple[Path, ...],
    named: bool,
    salt: str | None,
    closed: bool,
    force: bool,
) -> None:
    """Write cases to a file (.jsonl, .csv, .parquet).

    Without machine numbers, remarks, readings and days: only what the knowledge itself can name, hours
    rounded, days as quarters, cases under new names. Whoever knows the shop may still recognise a rare case:
    look before you send.
    """
    from diagnose.learning.export import salted, written

    free(target, force)
    with cases_of(context, files) as source:
        lessons: Iterator[Lesson] = (one for chunk in source.chunks(1000) for one in chunk.read())
        kept = (one for one in lessons if one.is_closed or not closed)
        chosen = kept if named else salted(context.knowledge, kept, salt)
        count: list[int] = []
        save(
            target, lambda new: count.append(written(new, target.suffix, chosen)), force=force, private=named
        )
    say(f"{target}: {count[0]} cases{'' if named else ', without names'}")


def batch(context: CommandContext, file: Path, limit: int | None, processes: int | None = None) -> None:
    """Rank every case of a file, one line of JSON each, in the order of the file."""
    from diagnose.learning.case_sources import from_files
    from diagnose.learning.many_cases import rank_all
    from diagnose.learning.parallel import processors
    from diagnose.report.lessons import ranked_data

    source = from_files([file])
    with told() as tell:
        of = source.count()
        for done, ranked in enumerate(
            rank_all(context.knowledge, source, limit, processes or processors()), 1
        ):
            values = {"schema": "diagnose.causes-batch/1"} | ranked_data(context.knowledge, ranked)
            say(json_safe(json.dumps(values, ensure_ascii=False)))
            tell("Ranking cases", done, of)


def unlearnt(context: CommandContext) -> Knowledge:
    """The knowledge with the shop's overlay, and without what was learnt: learning starts anew each time."""
    from diagnose.knowledge.loader import load

    return load(context.knowledge_folder, context.overlay_path, learnt=False)


@contextmanager
def cases_of(context: CommandContext, files: tuple[Path, ...]) -> Iterator[CaseSource]:
    """The cases of the files, or those of the store."""
    from diagnose.learning.case_sources import StoreSource, from_files

    if files:
        yield from_files(files)
        return
    passed_over: dict[str, None] = {}
    with context.store() as store:
        yield StoreSource(store, context.knowledge, lambda error: passed_over.setdefault(str(error)))
    for words in passed_over:
        say(f"Passed over: {words}", err=True)


@contextmanager
def told() -> Iterator[Callable[[str, int, int], None]]:
    """A bar on standard error for work in several steps; on a terminal only."""
    from diagnose.cli.progress_bar import steps

    with steps() as tell:
        yield tell
