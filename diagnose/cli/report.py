"""The command `report`: the record of a case on paper, for the customer or for the next technician."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.progress_bar import progress
from diagnose.cli.shared_options import case_option, file_option, force_option, json_option
from diagnose.cli.show import say, show
from diagnose.errors import CallError
from diagnose.report.data import dumps
from diagnose.saving import free, save

if TYPE_CHECKING:
    from diagnose.report.document.blocks import Paper
    from diagnose.report.document.case_record import CaseReport
    from diagnose.report.document.html import Sheet

READERS = ("technician", "customer")
SHEETS = ("a4", "letter")
SCREEN = "screen"
KINDS: Mapping[str, str] = {
    ".html": "html",
    ".htm": "html",
    ".md": "markdown",
    ".markdown": "markdown",
    ".pdf": "pdf",
    ".json": "json",
}


@click.command()
@case_option
@file_option
@click.option(
    "--for",
    "reader",
    type=click.Choice(READERS),
    default="technician",
    show_default=True,
    help="Who reads it: the technician everything, the customer plain words.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write it to a .html, .pdf, .md or .json file.",
)
@force_option
@click.option(
    "--paper", type=click.Choice(SHEETS), default="a4", show_default=True, help="Size of a PDF's sheets."
)
@json_option
@click.pass_obj
def report(
    context: CommandContext,
    /,
    number: int | None,
    file: Path | None,
    reader: str,
    output: Path | None,
    force: bool,
    paper: str,
    as_json: bool,
) -> None:
    """The record of a case on paper.

    The complaint, what was found in order and what it told, the causes excluded and why, the repair with its
    reasons, money and parts, what proves it, and what is still in doubt. Without a file it is shown as text.
    A case that is not finished can be told too, and says so.
    """
    kind = _kind(output, force, as_json)
    case = context.case(number, file)
    from diagnose.report.document.gather import case_report

    made = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    with progress("Going through the case") as tell:
        told = case_report(context.knowledge, case, context.shop, made, tell)
    if kind == SCREEN:
        from diagnose.report.document.screen import paper_screen

        show(paper_screen(_told_to(told, reader)))
        return
    content = _PAPERS[kind](told, reader, paper)
    if output is None:
        say(content.decode(), nl=False)
    else:
        save(output, lambda new: new.write_bytes(content), force=force, private=True)
        say(f"Written: {output} (for the {reader})" if kind != "json" else f"Written: {output}", err=True)


def _kind(output: Path | None, force: bool, as_json: bool) -> str:
    """The kind of paper; looked at before any work is done."""
    if output is None:
        return "json" if as_json else SCREEN
    kind = KINDS.get(output.suffix.lower(), "")
    if not kind or (as_json and kind != "json"):
        endings = "*.json" if as_json else "*.html, *.pdf, *.md or *.json"
        raise CallError(f"A report is named {endings}.")
    free(output, force)
    return kind


def _json(told: CaseReport, reader: str, paper: str) -> bytes:
    from diagnose.report.document.record_data import report_data

    return (dumps("report", report_data(told)) + "\n").encode()


def _markdown(told: CaseReport, reader: str, paper: str) -> bytes:
    from diagnose.report.document.markdown import markdown

    return markdown(_told_to(told, reader)).encode()


def _html(told: CaseReport, reader: str, paper: str) -> bytes:
    from diagnose.report.document.html import html

    return html(_told_to(told, reader)).encode()


def _pdf(told: CaseReport, reader: str, paper: str) -> bytes:
    from diagnose.report.document.html import NoPdf, pdf

    try:
        return pdf(_told_to(told, reader), cast("Sheet", paper))
    except NoPdf as error:
        raise CallError(
            "A PDF needs WeasyPrint: pip install 'diesel-diagnose[pdf]'; on Debian also: apt-get install "
            f"libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0. Or print the .html. ({error})"
        ) from error


_PAPERS: Mapping[str, Callable[[CaseReport, str, str], bytes]] = {
    "json": _json,
    "markdown": _markdown,
    "html": _html,
    "pdf": _pdf,
}


def _told_to(told: CaseReport, reader: str) -> Paper:
    if reader == "customer":
        from diagnose.report.document.customer import customer_paper

        return customer_paper(told)
    from diagnose.report.document.technician import technician_paper

    return technician_paper(told)
