"""The command why: one cause explained, or two of them set against each other."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import case_option, file_option, json_option
from diagnose.cli.show import out, show
from diagnose.cli.types import CAUSE_WORDS
from diagnose.cli.view import meant, of_case
from diagnose.explaining.contrast import contrast
from diagnose.explaining.explanation import explain
from diagnose.report.brief import brief, brief_screen
from diagnose.report.contrasted import contrast_screen
from diagnose.report.explanation_data import why as why_data
from diagnose.report.reasoning import why_screen


@click.command()
@click.argument("words", nargs=-1, type=CAUSE_WORDS, metavar="[CAUSE]")
@click.option(
    "--rather-than",
    "other",
    type=CAUSE_WORDS,
    metavar="CAUSE",
    help="What decides between it and another cause, and what would.",
)
@case_option
@file_option
@click.option(
    "-a", "--all", "everything", is_flag=True, help="All there is to say, with weights and numbers."
)
@json_option
@click.pass_obj
def why(
    context: CommandContext,
    words: tuple[str, ...],
    other: str | None,
    number: int | None,
    file: Path | None,
    everything: bool,
    as_json: bool,
) -> None:
    """Why one cause stands where it stands.

    What speaks for and against it, what would settle it, what it is often mistaken for. With --all also how each
    finding moved it, what cures it, how far its probability can be trusted and what would change its place. CAUSE
    is its number in the ranking, its id, or words; without it the first.
    """
    diagnosis = of_case(context, number, file)
    ranked = meant(diagnosis, " ".join(words) or "1")
    against = contrast(diagnosis, ranked, meant(diagnosis, other)) if other else None
    if against and not as_json:
        show(contrast_screen(diagnosis, against, everything))
        return
    if not (everything or as_json):
        show(brief_screen(diagnosis, brief(diagnosis, ranked)))
        return
    told = explain(diagnosis, ranked)
    out("why", as_json, lambda: why_data(diagnosis, told, against), lambda: why_screen(diagnosis, told))
