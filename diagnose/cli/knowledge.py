"""The commands on the knowledge itself: check, show, find, graph, stress, arrivals, export, schema."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.progress_bar import progress
from diagnose.cli.shared_options import case_option, file_option, force_option, json_option, limit_option
from diagnose.cli.show import out, say
from diagnose.cli.types import ANYTHING, FAMILY, HOURS
from diagnose.errors import CallError
from diagnose.knowledge import provenance
from diagnose.knowledge.lookup import SECTIONS, find_any
from diagnose.knowledge.lookup import find as find_findings
from diagnose.knowledge.records import Knowledge
from diagnose.report import almanac, data
from diagnose.report.data import Json
from diagnose.saving import free, save, save_text
from diagnose.words.likeness import Match

SAMPLES, FULL = 20, 500
"""Cases drawn at most for each cause, as a rule and with --full."""
FORMATS = {"bif": (".bif",), "xmlbif": (".xmlbif", ".bifxml", ".xml")}


@click.group()
def knowledge() -> None:
    """Check the knowledge, look into it, hand it on."""


@knowledge.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("--deep", is_flag=True, help="Also study what the knowledge can tell apart (a minute or two).")
@click.option("--full", is_flag=True, help="With --deep: 500 cases a cause, and every pair in the JSON.")
@click.option(
    "--samples", type=click.IntRange(1), metavar="N", help="With --deep: so many cases a cause (20)."
)
@click.option(
    "--seed", type=click.IntRange(0), default=0, metavar="N", help="With --deep: seed of the cases."
)
@limit_option
@json_option
@click.pass_context
def check(
    ctx: click.Context,
    folder: Path | None,
    deep: bool,
    full: bool,
    samples: int | None,
    seed: int,
    limit: int | None,
    as_json: bool,
) -> None:
    """Print everything wrong in the files.

    One problem a line, as file:line:column: CODE message; exit code 1 if there is any. With --deep, if nothing is
    wrong: pairs of causes that no check separates, findings that never matter, needless checks, and causes that
    never come first in cases of their own.
    """
    from diagnose.knowledge import loader

    context = ctx.ensure_object(CommandContext)
    found, problems = loader.check(folder or context.knowledge_folder, context.overlay_path)
    counts = data.knowledge_counts(found) if found else {}
    notices = loader.notices(folder or context.knowledge_folder, context.overlay_path)
    values = {
        "problems": [problem.to_dict() for problem in problems],
        "notices": [notice.to_dict() for notice in notices],
        "counts": counts,
    }
    if found and (deep or full or samples):
        _deep(found, samples or (FULL if full else SAMPLES), seed, full, limit, as_json, values)
    else:
        out(
            "knowledge-check",
            as_json,
            lambda: values,
            lambda: almanac.check_screen(counts, problems, notices),
        )
    ctx.exit(1 if problems else 0)


def _deep(
    found: Knowledge,
    samples: int,
    seed: int,
    every: bool,
    limit: int | None,
    as_json: bool,
    values: dict[str, Any],
) -> None:
    """Study the knowledge and show what was found."""
    from diagnose.report import studies
    from diagnose.study.deep import deep

    with progress("Looking at each cause") as told:
        report = deep(found, samples, seed, told)
    out(
        "knowledge-check",
        as_json,
        lambda: values | {"deep": studies.deep_data(report, every)},
        lambda: studies.deep_screen(found, report, limit or studies.SHOWN),
    )


@knowledge.command()
@click.argument("id", type=ANYTHING)
@json_option
@click.pass_obj
def show(context: CommandContext, id: str, as_json: bool) -> None:
    """One record by its id, cautions first."""
    id = almanac.holder(context.knowledge, id)
    section = almanac.section_of(context.knowledge, id)
    if section is None:
        close = [match.id for match in _matches(context, id)[:4]]
        raise CallError(f"“{id}” is no id of the knowledge.", close)
    out(
        "knowledge-show",
        as_json,
        lambda: _record_data(context.knowledge, section, id),
        lambda: almanac.record_screen(context.knowledge, section, id),
    )


def _record_data(known: Knowledge, section: str, id: str) -> Json:
    record = getattr(known, section)[id]
    numbers = [asdict(one) for one in provenance.numbers(known, record)]
    return {"section": section, "record": asdict(record), "numbers": numbers}


@knowledge.command()
@click.argument("words", nargs=-1, required=True)
@limit_option
@json_option
@click.pass_obj
def find(context: CommandContext, words: tuple[str, ...], limit: int | None, as_json: bool) -> None:
    """What words may mean.

    Looks for findings first, then for causes, checks, repairs, access states, hazards and machine facts.
    """
    found = _by_kind(context, " ".join(words), limit or 12)
    if not found:
        raise CallError(f"Nothing in the knowledge comes near “{' '.join(words)}”.")
    out(
        "knowledge-find",
        as_json,
        lambda: {"matches": [asdict(match) for match in found]},
        lambda: almanac.matches_screen(context.knowledge, found),
    )


@knowledge.command()
@click.argument("id", type=ANYTHING)
@click.option(
    "--depth", type=click.IntRange(1, 6), default=1, show_default=True, help="Links away from the record."
)
@click.option("-o", "--out", "file", type=click.Path(dir_okay=False, path_type=Path), help="File to write.")
@force_option
@json_option
@click.pass_obj
def graph(
    context: CommandContext, id: str, depth: int, file: Path | None, force: bool, as_json: bool
) -> None:
    """A picture (SVG) of what stands around a record.

    ID is a cause, condition or finding. The picture goes to standard output, or to the file.
    """
    from diagnose.report.graph_picture import picture
    from diagnose.study.neighbours import neighbourhood

    if almanac.section_of(context.knowledge, id) not in ("causes", "conditions", "findings"):
        close = [match.id for match in _matches(context, id)[:4]]
        raise CallError(f"“{id}” is no cause, condition or finding.", close)
    hood = neighbourhood(context.knowledge, id, depth)
    svg = picture(context.knowledge, hood)
    if file:
        save_text(file, svg, force=force)
    shown = f"{file}: {len(hood.ids)} records, {len(hood.edges)} links" if file else svg
    out("knowledge-graph", as_json, lambda: asdict(hood) | {"depth": depth, "svg": svg}, lambda: shown)


@knowledge.command()
@case_option
@file_option
@limit_option
@json_option
@click.pass_obj
def stress(
    context: CommandContext, number: int | None, file: Path | None, limit: int | None, as_json: bool
) -> None:
    """Which guessed numbers the answer rests on most.

    Moves each number above the evidence alone, by as much as it is uncertain, and tells where the first place goes.
    """
    from diagnose.diagnosis import diagnose
    from diagnose.report import studies
    from diagnose.study.stress import stress as stressed

    report = stressed(diagnose(context.knowledge, context.case(number, file)))
    screen = partial(studies.stress_screen, context.knowledge, report, limit or 10)
    out("knowledge-stress", as_json, lambda: studies.stress_data(report), screen)


@knowledge.command()
@click.option("--family", type=FAMILY, metavar="FAMILY", help="Only machines of this family.")
@click.option("--hours", type=HOURS, metavar="H", help="Their running hours; without it parts of every age.")
@click.option("--machines", type=click.IntRange(2), metavar="N", help="So many that come in (2000).")
@click.option("--seed", type=click.IntRange(0), default=0, metavar="N", help="Seed of the draw.")
@limit_option
@json_option
@click.pass_obj
def arrivals(
    context: CommandContext,
    family: str | None,
    hours: float | None,
    machines: int | None,
    seed: int,
    limit: int | None,
    as_json: bool,
) -> None:
    """What machines come in with, drawn from the knowledge.

    How many faults are behind the complaints of a machine, of which systems, and which most often.
    """
    from diagnose.report import arriving
    from diagnose.study import arrivals as study

    with progress("Drawing machines") as told:
        found = study.all_arrivals(
            context.knowledge, [family] if family else (), hours, machines or study.MACHINES, seed, told
        )
    out(
        "arrivals",
        as_json,
        lambda: arriving.arrivals_data(context.knowledge, found),
        lambda: arriving.arrivals_screen(context.knowledge, found, limit or arriving.SHOWN),
    )


@knowledge.command()
@click.option("--format", "kind", type=click.Choice(list(FORMATS)), required=True, help="Exchange format.")
@click.option("--family", type=FAMILY, metavar="FAMILY", help="The network for machines of this family.")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@force_option
@click.pass_obj
def export(context: CommandContext, kind: str, family: str | None, file: Path, force: bool) -> None:
    """Write the network to a file.

    BIF or XMLBIF, by pgmpy, which must be installed.
    """
    if not file.name.removesuffix(".gz").endswith(FORMATS[kind]):
        raise CallError(f"A {kind} file is named {' or '.join(f'*{ending}' for ending in FORMATS[kind])}.")
    free(file, force)
    count = _write(context, family or "", file, force)
    say(f"{file}: {count} variables")


@knowledge.command()
def schema() -> None:
    """The JSON Schema of a knowledge file.

    For editors that complete and check while one writes.
    """
    from diagnose.knowledge.schema import schema as made

    say(json.dumps(made(), indent=1))


def _matches(context: CommandContext, text: str) -> tuple[Match, ...]:
    """Findings and everything else, best first."""
    findings = {match.id: match for match in find_findings(context.knowledge, text, 12)}
    for match in _understood(context, text):
        if match.id not in findings or findings[match.id].score < match.score:
            findings[match.id] = match
    both = (*findings.values(), *find_any(context.knowledge, text, (*SECTIONS, "hazards"), 12))
    return tuple(sorted(both, key=lambda match: -match.score))


SURE, LEAST = 98.0, 50.0
"""Scores of what a text says clearly, and of what it may say."""


def _understood(context: CommandContext, text: str) -> Iterator[Match]:
    """The findings that a sentence speaks of."""
    from diagnose.knowledge.observable import observable
    from diagnose.understanding import findings_in

    for id, likelihood in findings_in(context.knowledge, text).items():
        score = round(LEAST + (SURE - LEAST) * likelihood, 1)
        yield Match(id, score, text, observable(context.knowledge, id).kind)


def _by_kind(context: CommandContext, text: str, limit: int) -> tuple[Match, ...]:
    """Findings, best first, in at least half of the places where there are as many; then everything else."""
    found = _matches(context, text)
    findings = [match for match in found if match.kind not in (*SECTIONS, "hazards")]
    others = [match for match in found if match.kind in (*SECTIONS, "hazards")]
    kept = findings[: max(limit - len(others), (limit + 1) // 2)]
    return (*kept, *others[: limit - len(kept)])


def _write(context: CommandContext, family: str, file: Path, force: bool) -> int:
    """Write the network before anything is seen; the number of its variables."""
    from diagnose.network import pgmpy_bridge
    from diagnose.network.build import build
    from diagnose.network.machine import Machine

    facts = context.knowledge.families[family].facts if family else {}
    network = build(context.knowledge, Machine(family=family, facts=facts)).network
    try:
        save(file, lambda new: pgmpy_bridge.write_file(network, new), force=force)
    except ModuleNotFoundError as error:
        raise CallError("Export needs pgmpy: pip install 'diesel-diagnose[pgmpy]'") from error
    return len(network.names)
