"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.types import CASE_NUMBER


def _signs(context: click.Context, name: str | None) -> None:
    """What this call records is signed with the name. Raises BadParameter where it is none."""
    if name is None:
        return
    if not name.strip() or len(name.strip()) > LONGEST_NAME:
        raise click.BadParameter(f"a name has 1 to {LONGEST_NAME} letters.", context)
    context.ensure_object(CommandContext).by = name.strip()


LONGEST_NAME = 40  # letters: a name or initials, not a sentence
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)

case_option = click.option(
    "-c",
    "--case",
    "number",
    type=CASE_NUMBER,
    metavar="N",
    help="The case; without it the one last worked on here.",
)
file_option = click.option("-f", "--file", type=FILE, help="A scenario file instead of a stored case.")
json_option = click.option("--json", "as_json", is_flag=True, help="JSON instead of text.")
by_option = click.option(
    "--by",
    metavar="NAME",
    expose_value=False,
    callback=lambda context, _, name: _signs(context, name),
    help="Who notes it; else the shop file's `by`.",
)
limit_option = click.option(
    "-n", "--limit", type=click.IntRange(1), metavar="N", help="Show so many.", default=None
)
all_option = click.option("-a", "--all", "everything", is_flag=True, help="Show all.")
force_option = click.option("--force", is_flag=True, help="Overwrite the file if it is there.")
text_option = click.option("--text", default="", metavar="WORDS", help="A remark to keep.")
