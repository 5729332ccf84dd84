"""The commands on the case store itself: verify, rescue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.cases.store import default_path
from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import json_option
from diagnose.cli.show import out
from diagnose.errors import CallError, problem_lines
from diagnose.report.screen_words import count

if TYPE_CHECKING:
    from diagnose.cases.rescue import Rescued


@click.group()
def store() -> None:
    """The file of cases: is it whole, and save it."""


@store.command()
@json_option
@click.pass_obj
def verify(context: CommandContext, /, as_json: bool) -> None:
    """Read every entry again and check its hash.

    Exit code 1 where anything is wrong. It finds accidents and careless changes, not a forger who makes all hashes
    anew.
    """
    path = _there(context)
    with context.store() as file:
        problems = file.verify()
        counted = (0, 0) if problems else _counted([one.events for one in file.cases()])
    whole = f"{path}: {_amount(*counted)}, all whole"
    out(
        "store-verify",
        as_json,
        lambda: (
            {"store": str(path), "whole": not problems, "cases": counted[0], "events": counted[1]}
            | {"problems": [one.to_dict() for one in problems]}
        ),
        lambda: "\n".join(problem_lines(problems)) or whole,
    )
    if problems:
        click.get_current_context().exit(1)


@store.command()
@click.argument("new", metavar="NEW", type=click.Path(dir_okay=False, path_type=Path))
@json_option
@click.pass_obj
def rescue(context: CommandContext, /, new: Path, as_json: bool) -> None:
    """Save what is whole into a new file.

    What is not is listed, and an entry that says so keeps its number. The damaged file is only read. Exit code 1
    where something was lost. Then use the new file: --store NEW, or DIAGNOSE_CASES.
    """
    from diagnose.cases.rescue import rescue as rescued

    path = _there(context)
    found = rescued(path, new)
    out(
        "store-rescue",
        as_json,
        lambda: (
            {"store": str(path), "new": str(new), "cases": found.cases, "events": found.events}
            | {"lost": [one.to_dict() for one in found.lost]}
        ),
        lambda: _rescued(new, found),
    )
    if found.lost:
        click.get_current_context().exit(1)


def _rescued(new: Path, found: Rescued) -> str:
    head = f"Saved in {new}: {_amount(found.cases, found.events)}"
    if not found.lost:
        return f"{head}. Nothing was lost."
    return "\n".join(
        [head, f"Lost: {count(len(found.lost), 'entry', 'entries')}", *problem_lines(found.lost)]
    )


def _there(context: CommandContext) -> Path:
    path = context.store_path or default_path()
    if not path.exists():
        raise CallError(f"There is no case store {path}.")
    return path


def _counted(lengths: list[int]) -> tuple[int, int]:
    return len(lengths), sum(lengths)


def _amount(cases: int, events: int) -> str:
    return f"{count(cases, 'case', 'cases')}, {count(events, 'entry', 'entries')}"
