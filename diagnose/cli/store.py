"""The commands on what is kept, verify and rescue: the case store, and the file of exercises beside it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose.cases.store import Store, default_path
from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import json_option
from diagnose.cli.show import out
from diagnose.errors import CallError, DataError, Problem, problem_lines
from diagnose.practice.store import Exercises, practice_path
from diagnose.report.screen_words import count

if TYPE_CHECKING:
    from diagnose.append_only.log import Log

    Kind = type[Log[Any, Any]]


@click.group()
def store() -> None:
    """Cases and exercises as kept: are they whole?"""


@store.command()
@json_option
@click.pass_obj
def verify(context: CommandContext, /, as_json: bool) -> None:
    """Read every entry again and check its hash.

    Of the cases, and of the exercises beside them. Exit code 1 where anything is wrong. It finds accidents and
    careless changes, not a forger who makes all hashes anew.
    """
    _tell("store-verify", as_json, [_verified(kind, path) for kind, path in _there(context)])


@store.command()
@click.argument("new", metavar="NEW", type=click.Path(dir_okay=False, path_type=Path))
@json_option
@click.pass_obj
def rescue(context: CommandContext, /, new: Path, as_json: bool) -> None:
    """Save what is whole into a new file.

    The exercises go into the file beside it. What is not whole is listed, and an entry that says so keeps its
    number. The damaged file is only read. Exit code 1 where something was lost. Then use the new file: --store NEW,
    or DIAGNOSE_CASES.
    """
    from diagnose.append_only.rescue import must_be_free

    targets = [(kind, path, new if kind is Store else practice_path(new)) for kind, path in _there(context)]
    for _, _, into in targets:
        must_be_free(into)
    _tell("store-rescue", as_json, [_rescued(*target) for target in targets])


def _tell(command: str, as_json: bool, told: list[tuple[dict[str, Any], str, tuple[Problem, ...]]]) -> None:
    """What came of each file: as JSON that of the first and, below `files`, of all."""
    files = [values for values, _, _ in told]
    out(
        command,
        as_json,
        lambda: files[0] | {"files": files},
        lambda: "\n".join(words for _, words, _ in told),
    )
    if any(problems for _, _, problems in told):
        click.get_current_context().exit(1)


def _verified(kind: Kind, path: Path) -> tuple[dict[str, Any], str, tuple[Problem, ...]]:
    lengths: list[int] = []
    try:
        with kind(path) as file:
            if not (problems := file.verify()):
                lengths = [len(file.entries(number)) for number in file.numbers()]
    except DataError as error:  # the other file is looked at all the same
        problems = error.problems
    values = {"store": str(path), "whole": not problems, **_counted(kind, len(lengths), sum(lengths))}
    words = f"{path}: {_amount(kind, len(lengths), sum(lengths))}, all whole"
    return values | {"problems": _plain(problems)}, "\n".join(problem_lines(problems)) or words, problems


def _rescued(kind: Kind, path: Path, new: Path) -> tuple[dict[str, Any], str, tuple[Problem, ...]]:
    from diagnose.append_only.rescue import Rescued, rescue

    try:
        found = rescue(kind, path, new)
        head = f"Saved in {new}: {_amount(kind, found.streams, found.entries)}"
    except DataError as error:  # the other file is saved all the same
        found, head = Rescued(0, 0, error.problems), f"Nothing was saved of {path}"
    values = {"store": str(path), "new": str(new), **_counted(kind, found.streams, found.entries)}
    lost = [f"Lost: {count(len(found.lost), 'entry', 'entries')}", *problem_lines(found.lost)]
    words = "\n".join([head, *lost]) if found.lost else f"{head}. Nothing was lost."
    return values | {"lost": _plain(found.lost)}, words, found.lost


def _there(context: CommandContext) -> list[tuple[Kind, Path]]:
    """The files that there are."""
    path = context.store_path or default_path()
    both: list[tuple[Kind, Path]] = [(Store, path), (Exercises, practice_path(path))]
    if found := [(kind, file) for kind, file in both if file.exists()]:
        return found
    raise CallError(f"There is no case store {path}.")


def _counted(kind: Kind, streams: int, entries: int) -> dict[str, int]:
    return {f"{kind.format.stream}s": streams, "events": entries}


def _amount(kind: Kind, streams: int, entries: int) -> str:
    one = kind.format.stream
    return f"{count(streams, one, f'{one}s')}, {count(entries, 'entry', 'entries')}"


def _plain(problems: tuple[Problem, ...]) -> list[dict[str, object]]:
    return [one.to_dict() for one in problems]
