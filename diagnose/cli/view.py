"""The commands that look: causes, next."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import FILE, all_option, case_option, file_option, json_option, limit_option
from diagnose.cli.show import out
from diagnose.diagnosis import Diagnosis, RankedCause, diagnose
from diagnose.errors import CallError
from diagnose.moves.advice import advised
from diagnose.planning.checks import MOST_CHECKS
from diagnose.report import diagnosis_data as data
from diagnose.report.checklist import checks_screen
from diagnose.report.data import Json
from diagnose.report.ranking import causes_screen

if TYPE_CHECKING:
    from diagnose.explaining.intervals import Interval

CAUSES_SHOWN, CHECKS_SHOWN = 8, 4  # what a screen of 24 lines holds; all on request
OPINION_ON = 10  # causes; each takes pgmpy a query of its own


@click.command()
@case_option
@file_option
@limit_option
@all_option
@click.option(
    "-i",
    "--interval",
    is_flag=True,
    help="How far each probability can be trusted (with --all and --json always).",
)
@click.option("--second-opinion", is_flag=True, help="Let pgmpy work it out too and compare (takes seconds).")
@click.option(
    "--batch", type=FILE, help="Rank every case of this file (.jsonl, .csv, .parquet), a line of JSON each."
)
@json_option
@click.pass_obj
def causes(
    context: CommandContext,
    number: int | None,
    file: Path | None,
    limit: int | None,
    everything: bool,
    interval: bool,
    second_opinion: bool,
    batch: Path | None,
    as_json: bool,
) -> None:
    """What has most likely failed, and why.

    A cause that another one has most likely wrecked is told so. What stands in no list of the knowledge has
    its own line.
    """
    if batch:
        if number or file or second_opinion or interval:
            raise CallError("--batch goes with --limit, --all and nothing else.")
        from diagnose.cli.learn import batch as rank

        rank(context, batch, None if everything else limit or CAUSES_SHOWN)
        return
    diagnosis = of_case(context, number, file)
    opinion = opinion_on(diagnosis) if second_opinion else None
    advice = advised(diagnosis, context.shop)
    ranges = _ranges(diagnosis) if interval or everything or as_json else {}
    shown = None if everything else limit or CAUSES_SHOWN
    out(
        "causes",
        as_json,
        lambda: data.causes(advice, ranges) | _opinion_data(opinion),
        lambda: causes_screen(advice, shown, opinion, ranges),
    )
    context.keep_told(advice)


@click.command("next")
@case_option
@file_option
@limit_option
@all_option
@json_option
@click.pass_obj
def next_(
    context: CommandContext,
    number: int | None,
    file: Path | None,
    limit: int | None,
    everything: bool,
    as_json: bool,
) -> None:
    """What to check next.

    Those checks first that save the most: the expected cost of repair without the check less that with it and
    its own cost. Cautions stand before the steps. Minutes to open and close count only for what is not open yet.
    A bit is what a yes-or-no question with even chances tells.
    """
    advice = advised(of_case(context, number, file), context.shop)
    most = len(advice.situation.checks) if everything else limit or (MOST_CHECKS if as_json else CHECKS_SHOWN)
    found = advice.next_checks(most)
    out(
        "next",
        as_json,
        lambda: data.checks(advice, found if limit is None else found[:limit]),
        lambda: checks_screen(advice, found, most, everything),
    )
    context.keep_told(advice)


def _ranges(diagnosis: Diagnosis) -> Mapping[str, Interval]:
    """How far each probability can be trusted; nothing where the case is too tangled to tell."""
    from diagnose.explaining.explanation import opened
    from diagnose.explaining.intervals import intervals

    numbers = opened(diagnosis)
    return intervals(numbers, [cause.id for cause in diagnosis.causes]) if numbers else {}


def of_case(context: CommandContext, number: int | None, file: Path | None) -> Diagnosis:
    """The diagnosis of the case chosen, or of the scenario file."""
    return diagnose(context.knowledge, context.case(number, file))


def meant(diagnosis: Diagnosis, text: str) -> RankedCause:
    """The cause meant by a rank, an id or words. Raises CallError with those that come near."""
    if text.isdecimal():
        if not 1 <= int(text) <= len(diagnosis.causes):
            raise CallError(f"The ranking has {len(diagnosis.causes)} causes; there is no number {text}.")
        return diagnosis.causes[int(text) - 1]
    from diagnose.cli.types import CAUSE

    id = CAUSE.meant(diagnosis.knowledge, text)
    found = diagnosis.cause(id)
    if found is None:
        name = diagnosis.knowledge.causes[id].name
        raise CallError(f"“{name}” cannot be on this machine, by what is known of it.")
    return found


def opinion_on(diagnosis: Diagnosis) -> tuple[int, float]:
    """How many leading causes pgmpy was asked about, and the largest difference in probability."""
    from diagnose.network import pgmpy_bridge

    asked = diagnosis.causes[:OPINION_ON]
    columns = {cause.id: diagnosis.built.variable(cause.id) for cause in asked}
    try:
        opinion = pgmpy_bridge.second_opinion(
            diagnosis.built.network, diagnosis.engine.evidence, columns.values()
        )
    except ModuleNotFoundError as error:
        raise CallError("The second opinion needs pgmpy: pip install 'diesel-diagnose[pgmpy]'") from error
    return len(asked), max(
        abs(1 - float(opinion.marginals[columns[cause.id]][0]) - cause.probability) for cause in asked
    )


def _opinion_data(opinion: tuple[int, float] | None) -> Json:
    if opinion is None:
        return {}
    return {"second_opinion": {"causes": opinion[0], "largest_difference": opinion[1]}}
