"""The commands on the knowledge itself: check, show, find, export, schema."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import click

from diagnose.cli.desk import Desk
from diagnose.cli.options import json_option, limit_option
from diagnose.cli.show import out
from diagnose.cli.types import FAMILY
from diagnose.errors import CallError
from diagnose.knowledge.words import SECTIONS, Match, find_any
from diagnose.knowledge.words import find as find_findings
from diagnose.report import almanac, data

FORMATS = {"bif": (".bif",), "xmlbif": (".xmlbif", ".bifxml", ".xml")}


@click.group()
def knowledge() -> None:
    """Check the knowledge, look into it, hand it on."""


@knowledge.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@json_option
@click.pass_context
def check(ctx: click.Context, folder: Path | None, as_json: bool) -> None:
    """Print everything wrong in the files.

    One problem a line, as file:line:column: CODE message; exit code 1 if there is any.
    """
    from diagnose.knowledge import loader

    desk = ctx.ensure_object(Desk)
    found, problems = loader.check(folder or desk.knowledge_folder, desk.overlay_path)
    counts = data.knowledge_counts(found) if found else {}
    values = {"problems": [problem.to_dict() for problem in problems], "counts": counts}
    out("knowledge-check", as_json, values, lambda: almanac.check_screen(counts, problems))
    ctx.exit(1 if problems else 0)


@knowledge.command()
@click.argument("id")
@json_option
@click.pass_obj
def show(desk: Desk, id: str, as_json: bool) -> None:
    """One record by its id, cautions first."""
    section = almanac.section_of(desk.knowledge, id)
    if section is None:
        close = [match.id for match in _matches(desk, id)[:4]]
        raise CallError(f"“{id}” is no id of the knowledge.", close)
    record = asdict(getattr(desk.knowledge, section)[id])
    values = {"section": section, "record": record}
    out("knowledge-show", as_json, values, lambda: almanac.record_screen(desk.knowledge, section, id))


@knowledge.command()
@click.argument("words", nargs=-1, required=True)
@limit_option
@json_option
@click.pass_obj
def find(desk: Desk, words: tuple[str, ...], limit: int | None, as_json: bool) -> None:
    """What words may mean.

    Looks for findings, causes, checks, repairs, access states, hazards and machine facts.
    """
    found = _matches(desk, " ".join(words))[: limit or 12]
    if not found:
        raise CallError(f"Nothing in the knowledge comes near “{' '.join(words)}”.")
    values = {"matches": [asdict(match) for match in found]}
    out("knowledge-find", as_json, values, lambda: almanac.matches_screen(desk.knowledge, found))


@knowledge.command()
@click.option("--format", "kind", type=click.Choice(list(FORMATS)), required=True, help="Exchange format.")
@click.option("--family", type=FAMILY, metavar="FAMILY", help="The network for machines of this family.")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.pass_obj
def export(desk: Desk, kind: str, family: str | None, file: Path) -> None:
    """Write the network to a file.

    BIF or XMLBIF, by pgmpy, which must be installed.
    """
    if not file.name.removesuffix(".gz").endswith(FORMATS[kind]):
        raise CallError(f"A {kind} file is named {' or '.join(f'*{ending}' for ending in FORMATS[kind])}.")
    count = _write(desk, family or "", file)
    click.echo(f"{file}: {count} variables")


@knowledge.command()
def schema() -> None:
    """The JSON Schema of a knowledge file.

    For editors that complete and check while one writes.
    """
    from diagnose.knowledge.schema import schema as made

    click.echo(json.dumps(made(), indent=1))


def _matches(desk: Desk, text: str) -> tuple[Match, ...]:
    """Findings and everything else, best first."""
    both = (
        *find_findings(desk.knowledge, text, 12),
        *find_any(desk.knowledge, text, (*SECTIONS, "hazards"), 12),
    )
    return tuple(sorted(both, key=lambda match: -match.score))


def _write(desk: Desk, family: str, file: Path) -> int:
    """Write the network before anything is seen; the number of its variables."""
    from diagnose.network import pgmpy_bridge
    from diagnose.network.build import build
    from diagnose.network.machine import Machine

    facts = desk.knowledge.families[family].facts if family else {}
    network = build(desk.knowledge, Machine(family=family, facts=facts)).network
    try:
        pgmpy_bridge.write_file(network, file)
    except ModuleNotFoundError as error:
        raise CallError("Export needs pgmpy: pip install 'diesel-diagnose[pgmpy]'") from error
    return len(network.names)
