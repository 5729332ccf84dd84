"""The command codes: what a bus log says of fault codes and values, and its way into a case."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import FILE, by_option, case_option, json_option
from diagnose.cli.show import out
from diagnose.codes.dtc import Version
from diagnose.errors import CallError
from diagnose.plain import one_line

LARGE = 20_000_000  # bytes; smaller logs are read before a bar is seen
VERSIONS: dict[str, Version] = {"1": 1, "2": 2, "3": 3}  # the conversion methods of the SPN (SAE J1939-73)


@click.command()
@click.argument("log", type=FILE, metavar="FILE")
@click.option(
    "--note", "to_note", is_flag=True, help="Add the codes to the case (with --readings the readings too)."
)
@case_option
@click.option("--readings", is_flag=True, help="Values on the bus: lowest, highest, and while cranking.")
@click.option(
    "--legacy",
    type=click.Choice(list(VERSIONS)),
    help="The older SPN packing of the modules, where their maker's documents tell which of the three it is.",
)
@by_option
@json_option
@click.pass_obj
def codes(
    context: CommandContext,
    /,
    log: Path,
    to_note: bool,
    number: int | None,
    readings: bool,
    legacy: str | None,
    as_json: bool,
) -> None:
    """The fault codes in a bus log, by module.

    FILE is a log of candump in either form (also packed, .gz), or .asc, .blf, .trc or .csv where python-can is
    installed. Codes come from DM1, DM2, DM6 and DM12 of SAE J1939; what cannot be used is told, never guessed.
    """
    from diagnose.cli.codes_note import into_case
    from diagnose.codes.log_survey import survey
    from diagnose.report.codes_data import survey_data
    from diagnose.report.codes_screen import survey_screen

    if number is not None and not to_note:
        raise CallError("A case is named, but nothing is to be noted: add --note, or leave -c out.")
    if to_note:
        number = context.number(number)
        context.case(number)  # a case that is not there is told before a long log is read
    with bar(log) as told:
        found = survey(log, VERSIONS[legacy] if legacy else None, readings, told)
    name = one_line(log.name)
    kept = into_case(context, number, name, found) if to_note and number is not None else None
    knowledge = context.knowledge
    out(
        "codes",
        as_json,
        lambda: survey_data(knowledge, name, found, kept),
        lambda: survey_screen(knowledge, name, found, kept),
    )


@contextmanager
def bar(log: Path) -> Iterator[Callable[[int], None]]:
    """A bar on standard error for a large file, on a terminal only; it hears how many bytes were read."""
    size = log.stat().st_size
    if size < LARGE or not sys.stderr.isatty():
        yield lambda count: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(30), DownloadColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(f"Reading {log.name}", total=size)
        yield lambda count: progress.update(task, advance=count)
