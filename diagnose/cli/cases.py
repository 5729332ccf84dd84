"""The command cases: what is in the shop, and the history of one case."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cases.kept_advice import recall
from diagnose.cases.waiting import LATER_PROOF
from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import all_option, file_option, json_option, limit_option
from diagnose.cli.show import out
from diagnose.cli.types import CASE
from diagnose.cli.waits import WAITS
from diagnose.errors import DiagnoseError
from diagnose.report import data

SHOWN = 12
"""Cases shown where nobody says how many: some three screens."""


@click.command()
@click.argument("words", nargs=-1, type=CASE, metavar="[N | MACHINE | WORDS]...")
@file_option
@click.option("--open", "opened", is_flag=True, help="Only those that are open.")
@click.option(
    "--waits-for",
    "waiting",
    multiple=True,
    type=click.Choice([*WAITS, LATER_PROOF.replace(" ", "-"), "anything"]),
    help="Only those that wait for this; can be repeated.",
)
@limit_option
@all_option
@json_option
@click.pass_obj
def cases(
    context: CommandContext,
    /,
    words: tuple[str, ...],
    file: Path | None,
    opened: bool,
    waiting: tuple[str, ...],
    limit: int | None,
    everything: bool,
    as_json: bool,
) -> None:
    """All cases, those of a machine, or the history of one.

    With a number or a scenario file: everything recorded in that case. With a machine's number: its cases. With
    words: the cases that hold them all. Open ones come first, the latest first, each with what was last told of it:
    the leading cause and the next move.
    """
    from diagnose.report.case_list import cases_data, cases_screen, fitting, in_order

    with context.store() as store:
        found, told = store.cases(), recall(store.path)
    number = _number(words, {one.number for one in found}, {one.machine for one in found})
    if file or number is not None:
        _history(context, number, file, as_json)
        return
    wanted = [
        word.replace("-", " ") for one in waiting for word in (_ANYTHING if one == "anything" else [one])
    ]
    chosen = in_order(fitting(found, told, words, wanted))
    chosen = [one for one in chosen if not opened or not (one.closed or one.void)]
    most = None if everything else limit or SHOWN
    out(
        "cases",
        as_json,
        lambda: cases_data(chosen[:limit], told),
        lambda: cases_screen(
            chosen, told, lambda id: _name(context, id), most, bool(words or waiting or opened)
        ),
    )
    if any(one.problem for one in chosen):
        click.get_current_context().exit(1)


def _name(context: CommandContext, cause: str) -> str:
    """The name of a cause; its id where the knowledge cannot be read or has it no more. Only closed cases ask."""
    try:
        return str(getattr(context.knowledge.causes.get(cause), "name", cause))
    except DiagnoseError:
        return cause


_ANYTHING = (*WAITS, LATER_PROOF)


def _number(words: tuple[str, ...], numbers: set[int], machines: set[str]) -> int | None:
    """The case named by its number alone, unless only a machine has that number."""
    if len(words) != 1 or not words[0].isdecimal():
        return None
    number = int(words[0])
    return None if number not in numbers and words[0] in machines else number


def _history(context: CommandContext, number: int | None, file: Path | None, as_json: bool) -> None:
    from diagnose.report.record import case_screen

    case = context.case(number, file)
    out("cases", as_json, lambda: data.case(case), lambda: case_screen(context.knowledge, case))
