"""The one way out to a screen, standard error too: what a terminal would obey is shown as escapes. As wide as the
terminal; plain when piped or where NO_COLOR is set."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from diagnose.plain import on_screen, typed
from diagnose.report.data import Json, dumps

if TYPE_CHECKING:
    from rich.console import RenderableType

_TRAILING = re.compile(r"[ \t]+((?:\x1b\[0m)?)$", re.MULTILINE)


def out(
    command: str, as_json: bool, values: Callable[[], Json], screen: Callable[[], RenderableType | str]
) -> None:
    """Print what a command shows, as JSON or as a screen; only the one asked for is made."""
    if as_json:
        say(dumps(command, values()))
    else:
        show(screen())


def show(screen: RenderableType | str, width: int | None = None) -> None:
    """Print a screen; plain text as it is, however wide."""
    if isinstance(screen, str):
        say(screen)
    else:
        click.echo(rendered(screen, width), nl=False)


def say(text: str, *, err: bool = False, nl: bool = True) -> None:
    """Print plain text on standard output or error; what a terminal would obey in it is shown as escapes."""
    click.echo(on_screen(text), err=err, nl=nl)


def prompted(question: str) -> str:
    """A line typed after this question."""
    return typed(str(click.prompt(on_screen(question), default="", show_default=False, err=True)))


def rendered(screen: RenderableType, width: int | None = None) -> str:
    """A screen as text, with colours only where standard output is a terminal that has them."""
    from rich.console import Console
    from rich.segment import Segment, Segments

    plain = "NO_COLOR" in os.environ
    console = Console(
        width=width, color_system=None if plain else "auto", highlight=False, markup=False, emoji=False
    )
    with console.capture() as capture:
        for pieces in console.render_lines(screen, pad=False):
            kept = (Segment(on_screen(piece.text), piece.style) for piece in pieces)
            console.print(Segments([*kept, Segment.line()]), crop=False, end="")
    return _TRAILING.sub(r"\1", capture.get())
