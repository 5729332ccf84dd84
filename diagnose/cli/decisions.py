"""The commands that decide: repair, plan; and shop, which shows the rates that they reckon with."""

from __future__ import annotations

from pathlib import Path

import click

from diagnose.cli.context import CommandContext
from diagnose.cli.progress_bar import waiting
from diagnose.cli.shared_options import (
    all_option,
    case_option,
    file_option,
    force_option,
    json_option,
    limit_option,
)
from diagnose.cli.show import out
from diagnose.cli.types import Finite
from diagnose.cli.view import of_case
from diagnose.errors import CallError
from diagnose.moves.advice import advised
from diagnose.planning.decide import Decision
from diagnose.planning.shop_file import file_in_force, shop_file
from diagnose.report import decision_data as data
from diagnose.report.plan_text import plan_screen
from diagnose.report.prices import shop_screen, unknown_parts
from diagnose.report.remedy import repair_screen
from diagnose.saving import free, save

REPAIRS_SHOWN = 3  # the best and two beside it; all on request
PICTURES = (".svg", ".png")


@click.command()
@case_option
@file_option
@limit_option
@all_option
@json_option
@click.pass_obj
def repair(
    context: CommandContext,
    number: int | None,
    file: Path | None,
    limit: int | None,
    everything: bool,
    as_json: bool,
) -> None:
    """What to repair, and what to do together while it is open.

    The set of repairs with the lowest cost in all: parts, labour with dismantling paid once, a comeback if it is
    still broken, wear of parts left in, damage by what may be left. Cautions stand first, the proof of the repair
    last. After a repair is noted the complaint must be noted again, as it is then.
    """
    advice = advised(of_case(context, number, file), context.shop)
    choices = advice.repairs()
    most = len(choices) if everything else limit or REPAIRS_SHOWN
    out(
        "repair",
        as_json,
        lambda: data.repairs(advice, choices, most),
        lambda: repair_screen(advice, choices, most, everything),
    )
    context.keep_told(advice)


@click.command()
@case_option
@file_option
@click.option(
    "--think",
    type=Finite(0.1, 600),
    default=2.0,
    show_default=True,
    metavar="SECONDS",
    help="How long to look for a better plan.",
)
@click.option(
    "--picture",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Draw it to a .svg or .png for the wall (A3, needs matplotlib).",
)
@force_option
@all_option
@json_option
@click.pass_obj
def plan(
    context: CommandContext,
    number: int | None,
    file: Path | None,
    think: float,
    picture: Path | None,
    force: bool,
    everything: bool,
    as_json: bool,
) -> None:
    """The way from here to a proven repair, result by result.

    The likeliest result of each step goes straight down, the others stand indented; what comes less often than in
    two of a hundred is left out unless all is asked for. Money is what each step costs and what is to be expected
    from there on.
    """
    if picture and picture.suffix.lower() not in PICTURES:
        raise CallError(f"A picture is named {' or '.join(f'*{ending}' for ending in PICTURES)}.")
    if picture:
        free(picture, force)
    diagnosis = of_case(context, number, file)
    advice = advised(diagnosis, context.shop)
    with waiting("Thinking", think, as_json):
        decision = advice.decide(think)
    if picture:
        _draw(
            context, decision, picture, force, f"{diagnosis.case.machine.number}: {diagnosis.case.complaint}"
        )
    out(
        "plan",
        as_json,
        lambda: data.plan(advice, decision),
        lambda: plan_screen(advice, decision, everything),
    )
    context.keep_told(advice)


def _draw(context: CommandContext, decision: Decision, file: Path, force: bool, title: str) -> None:
    try:
        from diagnose.report.plan_picture import draw
    except ModuleNotFoundError as error:
        raise CallError("A picture needs matplotlib: pip install 'diesel-diagnose[plots]'") from error
    save(
        file,
        lambda new: draw(context.knowledge, decision, context.shop, title, new),
        force=force,
        private=True,
    )


@click.command()
@json_option
@click.pass_obj
def shop(context: CommandContext, as_json: bool) -> None:
    """The shop's rates and prices, and where they come from.

    They stand in a file of their own: the one of --shop, of DIAGNOSE_SHOP, or shop.yaml in the user's
    configuration folder.
    """
    rates, file = context.shop, file_in_force(context.shop_path)
    unknown = unknown_parts(context.knowledge, rates)
    out(
        "shop",
        as_json,
        lambda: data.shop(rates, file, unknown),
        lambda: shop_screen(rates, file, shop_file(), unknown),
    )
