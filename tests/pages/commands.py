"""The page of the commands, made from their own help: `python -m tests.pages` writes docs/commands.md."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from diagnose.cli.main import program

PAGE = Path(__file__).resolve().parents[2] / "docs" / "commands.md"
WIDTH = 90  # columns of the page, wherever it is made
HEAD = """# Commands

This page is made from each command's own `--help`; write it anew with `python -m tests.pages`.
"""


def commands(
    command: click.Command = program, *above: str
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command with the words that call it, each before its own subcommands."""
    words = (*above, command.name or "diagnose") if above else ("diagnose",)
    yield words, command
    if isinstance(command, click.Group):
        context = click.Context(command, info_name=words[-1])
        for name in command.list_commands(context):
            if found := command.get_command(context, name):
                yield from commands(found, *words)


def help_of(words: tuple[str, ...], command: click.Command) -> str:
    """The help text of a command at a fixed width, as under its full name."""
    settings = {**program.context_settings, "terminal_width": WIDTH, "max_content_width": WIDTH}
    parent = None
    for word in words[:-1]:
        parent = click.Context(click.Group(word), info_name=word, parent=parent, **settings)
    return command.get_help(click.Context(command, info_name=words[-1], parent=parent, **settings))


def page() -> str:
    """The whole page."""
    blocks = [f"## {' '.join(words)}\n```\n{help_of(words, command)}\n```\n" for words, command in commands()]
    return "\n".join([HEAD, *blocks])
