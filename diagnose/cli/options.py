"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

FILE = click.Path(exists=True, dir_okay=False, path_type=Path)

case_option = click.option(
    "-c",
    "--case",
    "number",
    type=click.IntRange(1),
    metavar="N",
    help="The case; without it the one last worked on here.",
)
file_option = click.option("-f", "--file", type=FILE, help="A scenario file instead of a stored case.")
json_option = click.option("--json", "as_json", is_flag=True, help="JSON instead of text.")
limit_option = click.option(
    "-n", "--limit", type=click.IntRange(1), metavar="N", help="Show so many.", default=None
)
all_option = click.option("-a", "--all", "everything", is_flag=True, help="Show all.")
force_option = click.option("--force", is_flag=True, help="Overwrite the file if it is there.")
text_option = click.option("--text", default="", metavar="WORDS", help="A remark to keep.")
