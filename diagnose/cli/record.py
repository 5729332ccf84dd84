"""The commands that record: new, note, withdraw, close, reopen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
from rich.console import Group

from diagnose.cases.events import CONFIRMED, Confirmed, Event, Learnt, Reopened
from diagnose.cli import asking
from diagnose.cli.context import CommandContext
from diagnose.cli.recording import Jotting, Opening, confidence_of, jot, open_case, open_scenario, take_back
from diagnose.cli.shared_options import FILE, by_option, case_option, json_option, text_option
from diagnose.cli.show import out
from diagnose.cli.types import ACCESS, CHECK, FACT, FAMILY, FOUND, HOURS, RENEWED, REPAIR, SEEN
from diagnose.cli.waits import GOES_ON, WAITS
from diagnose.errors import CallError
from diagnose.hearing import questions_data
from diagnose.report import data
from diagnose.report.kept import Kept

OPEN = 3
"""Exit code where something that was said is not recorded: doubtful, with nobody to ask, or not understood."""

facts_option = click.option(
    "--fact", "facts", type=FACT, multiple=True, help="A fact of the machine; can be repeated."
)
renewed_option = click.option(
    "--renewed", type=RENEWED, multiple=True, help="Hours run since this cause's part was last replaced."
)
last_right_option = click.option(
    "--last-right",
    type=HOURS,
    metavar="HOURS",
    help="Running hours since it was last known right (500 where nobody says).",
)
hours_option = click.option("--hours", type=HOURS, metavar="HOURS", help="Running hours of the machine.")


@click.command()
@click.argument("machine", required=False)
@click.argument("complaint", nargs=-1)
@click.option("--family", type=FAMILY, metavar="FAMILY", help="The kind of machine.")
@hours_option
@last_right_option
@click.option("--inspection", is_flag=True, help="Nobody complains of anything: look whether all is right.")
@facts_option
@renewed_option
@click.option("--scenario", type=FILE, help="Start from this scenario file instead.")
@by_option
@json_option
@click.pass_obj
def new(
    context: CommandContext,
    /,
    machine: str | None,
    complaint: tuple[str, ...],
    scenario: Path | None,
    as_json: bool,
    **about: Any,
) -> None:
    """Start a case.

    COMPLAINT is what the machine came in for, in the driver's words.

    What the complaint clearly says is noted as findings at once. On a terminal, what is missing is asked for.
    """
    if scenario and (machine or complaint):
        raise CallError("A scenario brings its own machine and complaint.")
    ask = asking.chooser(as_json)
    kept = (
        open_scenario(context, scenario)
        if scenario
        else open_case(context, _opening(context, machine, " ".join(complaint), about, bool(ask)), ask)
    )
    step = "diagnose note WORDS (what else was seen), diagnose next (what to check)"
    tell("new", kept, as_json, step, _opened(context, kept.number))


def _opening(
    context: CommandContext, machine: str | None, complaint: str, about: dict[str, Any], ask: bool
) -> Opening:
    """What the case starts with; on a terminal what is missing is asked for."""
    if ask:
        machine = machine or asking.ask("Machine number")
        about["family"] = about["family"] or asking.family(context.knowledge)
        about["hours"] = asking.hours() if about["hours"] is None else about["hours"]
        if not about["inspection"]:
            complaint = complaint or asking.ask("What did it come in for (the driver's words)")
    if not machine or not machine.strip():
        raise CallError("A case needs the machine's number: diagnose new MACHINE COMPLAINT")
    return Opening(
        machine.strip(),
        complaint,
        about["family"] or "",
        about["hours"],
        dict(about["facts"]),
        dict(about["renewed"]),
        about["last_right"],
        about["inspection"],
    )


NOTE_HELP = """Note what was seen, read or done.

\b
diagnose note cranks but will not start
diagnose note "white smoke" "SPN 164 FMI 18" "battery at rest 12.4 V"
diagnose note --not white smoke
diagnose note "oil pressure = low" --likely

\b
diagnose note "no power uphill and black smoke, no leaks, since the filter change"

A whole sentence is taken apart. What is noted along with --repaired counts as seen after the repair. Words that
can mean several things are asked about, never guessed; where nobody can be asked, the clear parts are recorded,
the rest is reported, and the exit code is 3.
"""


@click.command(help=NOTE_HELP)
@click.argument("texts", nargs=-1, type=SEEN, metavar="[WORDS]...")
@case_option
@click.option("--not", "absent", is_flag=True, help="Looked for, and not there.")
@click.option("--sure", "confidence", flag_value="sure", help="Seen for certain (the default).")
@click.option("--likely", "confidence", flag_value="likely", help="Fairly sure of it.")
@click.option("--unsure", "confidence", flag_value="unsure", help="Not sure of it.")
@click.option("--state", default="", metavar="STATE", help="Which of its states the finding is in.")
@click.option("--check", "checks", type=CHECK, multiple=True, metavar="CHECK", help="Done with this check.")
@click.option("--opened", type=ACCESS, multiple=True, metavar="ACCESS", help="Dismantled as far as this.")
@click.option(
    "--repaired", type=REPAIR, multiple=True, metavar="REPAIR", help="Repair done, or cause dealt with."
)
@facts_option
@renewed_option
@hours_option
@last_right_option
@click.option(
    "--waits-for", "waits", type=click.Choice([*WAITS, *GOES_ON]), help="What it waits for from here on."
)
@text_option
@by_option
@json_option
@click.pass_obj
def note(
    context: CommandContext,
    /,
    number: int | None,
    confidence: str | None,
    text: str,
    as_json: bool,
    **said: Any,
) -> None:
    """Note what was seen, read or done."""
    said["waits"] = {**WAITS, **GOES_ON}[said["waits"]] if said["waits"] else None
    said |= {"facts": dict(said["facts"]), "renewed": dict(said["renewed"]), "remark": text}
    jotting = Jotting(confidence=confidence_of(confidence), **said)
    kept = jot(context, context.open_number(number), jotting, asking.chooser(as_json))
    tell("note", kept, as_json, _after_note(context, kept.number), case_words(context, kept.number))


def case_words(context: CommandContext, number: int) -> str:
    """The machine and what it came in for: which case a reply speaks of."""
    case = context.case(number)
    return ": ".join(words for words in (case.machine.number, case.complaint) if words)


def _opened(context: CommandContext, number: int) -> str:
    """The new case, and the others of its machine that are still open."""
    with context.store() as store:
        found = [one for one in store.cases() if not (one.void or one.closed)]
    machine = next((one.machine for one in found if one.number == number), "")
    others = [
        f"{one.number} ({one.complaint})" for one in found if one.machine == machine and one.number != number
    ]
    also = f"; still open on this machine: case {', '.join(others)}" if others else ""
    return f"{case_words(context, number)}{also}"


def _after_note(context: CommandContext, number: int) -> str:
    """What to do after a note; after a repair that is to try it."""
    from diagnose.moves.ending import complaint_to_note

    if complaint_to_note(context.knowledge, context.case(number)):
        return "try it with everything together and note the complaint again, or with --not if it is gone"
    return "diagnose next (what to check), diagnose causes (the ranking)"


@click.command()
@click.argument("entries", nargs=-1, required=True, type=click.IntRange(1), metavar="ENTRY...")
@case_option
@text_option
@by_option
@json_option
@click.pass_obj
def withdraw(
    context: CommandContext, /, entries: tuple[int, ...], number: int | None, text: str, as_json: bool
) -> None:
    """Take back entries of a case.

    Their numbers stand in diagnose cases N.
    Nothing is erased: a withdrawn entry stays in the history and no longer counts. Withdrawing the withdrawal
    restores it.
    """
    kept = take_back(context, context.number(number), entries, text)
    step = f"diagnose withdraw {kept.sequences[-1]} restores it"
    tell("withdraw", kept, as_json, step, case_words(context, kept.number))


NO_CAUSE = (
    "Name what it was (diagnose close CAUSE), or say in words why it is closed without one: "
    'diagnose close --text "not found, customer took it back"'
)


@click.command()
@click.argument("found", nargs=-1, type=FOUND, metavar="[CAUSE[=HOW]]...")
@case_option
@click.option(
    "--confirmed",
    type=click.Choice([word.replace(" ", "-") for word in CONFIRMED]),
    help="How the causes were confirmed; assumed where nothing is said.",
)
@click.option("--repaired", type=REPAIR, multiple=True, metavar="REPAIR", help="Done, and not noted before.")
@click.option("--proven/--not-proven", default=None, help="Whether the repair was proven by its own test.")
@text_option
@by_option
@json_option
@click.pass_obj
def close(
    context: CommandContext,
    /,
    found: tuple[tuple[str, Confirmed | None], ...],
    number: int | None,
    confirmed: str | None,
    repaired: tuple[str, ...],
    proven: bool | None,
    text: str,
    as_json: bool,
) -> None:
    """Close a case with what it really was.

    HOW a cause was confirmed is by-sight (the fault itself was seen), by-repair (it was put right and the complaint
    went) or assumed. Without a cause it wants words (--text). On a terminal, what is missing
    is asked for.

    For example: diagnose close pump_worn debris=assumed --confirmed by-sight --proven
    """
    from diagnose.cli.closing import Ending, close_case

    how = next((word for word in CONFIRMED if word.replace(" ", "-") == confirmed), None)
    said = Ending(
        tuple(cause for cause, _ in found) or None,
        how,
        {cause: one for cause, one in found if one},
        repaired,
        proven=proven,
        text=text,
    )
    talk = asking.Terminal() if asking.chooser(as_json) else None
    if talk is None and not found and not text:
        context.number(number)
        raise CallError(NO_CAUSE)
    kept = close_case(context, context.number(number), said, talk)
    step = "diagnose report (the record), diagnose reopen (should it come back)"
    tell("close", kept, as_json, step, case_words(context, kept.number))


@click.command()
@click.argument("words", nargs=-1)
@case_option
@click.option("--too-early", is_flag=True, help="It has not been out: the case was closed too early.")
@hours_option
@by_option
@json_option
@click.pass_obj
def reopen(
    context: CommandContext,
    /,
    words: tuple[str, ...],
    number: int | None,
    too_early: bool,
    hours: float | None,
    as_json: bool,
) -> None:
    """Take a closed case up again: the machine came back.

    WORDS say why. What was done and found before stays and counts; note the complaint as it is now.
    """
    from diagnose.report.record import event_words

    chosen = context.number(number)
    if not context.case(chosen).closed:
        raise CallError(f"Case {chosen} is not closed.")
    version = context.knowledge.version
    events: list[Event] = [Reopened(" ".join(words), not too_early, knowledge=version)]
    events += [Learnt(hours=hours, knowledge=version)] if hours is not None else []
    told = tuple(event_words(context.knowledge, event) for event in events)
    kept = Kept(chosen, context.record(chosen, events), tuple(events), told)
    step = "diagnose note WORDS (what is seen now), diagnose causes"
    tell("reopen", kept, as_json, step, case_words(context, kept.number))


def tell(command: str, kept: Kept, as_json: bool, next_step: str, of: str = "") -> None:
    """Say what was recorded, and what is open; exit 3 where something is."""
    from diagnose.report.record import open_screen, recorded_screen

    out(
        command,
        as_json,
        lambda: (
            data.recorded(kept.number, kept.sequences, kept.events, kept.words)
            | {"open": questions_data(kept.open), "not_understood": list(kept.not_understood)}
        ),
        lambda: Group(
            recorded_screen(kept.number, kept.sequences, kept.words, next_step, of),
            *open_screen(
                [(one.question, [f"{c.label}: {c.text}" for c in one.choices]) for one in kept.open],
                kept.not_understood,
            ),
        ),
    )
    lost = kept.not_understood and command != "new"  # a new case keeps the complaint's words anyway
    if kept.open or (lost and not asking.on_terminal()):
        click.get_current_context().exit(OPEN)
