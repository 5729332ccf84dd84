"""Which case: an open one by number, machine or words, or a new one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import click
from rich.text import Text

from diagnose.cases.kept_advice import KeptAdvice, recall
from diagnose.cases.store import Summary
from diagnose.cli.bay.complaint import AGAIN, ask_complaint
from diagnose.cli.bay.session import BaySession
from diagnose.cli.context import CommandContext
from diagnose.cli.recording import Opening, open_case
from diagnose.cli.talk import Talk
from diagnose.cli.types import HOURS
from diagnose.report.case_list import fitting, in_order, last, state_line
from diagnose.report.text import QUIET, STRONG, Pieces, grid, line

SHOWN = 6
"""Cases on one page: two or three lines each."""
ASKED = "Number, machine or words, n new, a all, q quit:"


def choose_case(context: CommandContext, talk: Talk) -> int | None:
    """The number of a case, old or new; None where nothing was chosen."""
    with context.store() as store:
        cases = [one for one in in_order(store.cases()) if not (one.void or one.problem)]
        told = recall(store.path)
    if not cases:
        return new_case(context, talk)
    found, most = cases, SHOWN
    while True:
        talk.say("", "Which case?", *_list(found[:most], told), *_rest(len(found) - most))
        answer = talk.ask(ASKED)
        if answer.lower() in ("n", "new"):
            return new_case(context, talk)
        if answer.lower() in ("", "a", "all"):
            found, most = cases, len(cases)
        elif answer.isdecimal() and 1 <= int(answer) <= len(found[:most]):
            return found[int(answer) - 1].number
        elif fit := fitting(cases, told, answer.split(), ()):
            if len(fit) == 1:
                return fit[0].number
            found, most = fit, len(fit)
        else:
            talk.say("No case fits. Give one of the numbers, or other words.")


def _list(cases: Sequence[Summary], told: Mapping[int, KeptAdvice]) -> Pieces:
    table = grid("right", "left")
    for number, one in enumerate(cases, 1):
        table.add_row(Text(f"{number}", STRONG), _label(one))
        if not one.closed:
            state = Text(state_line(one, last(one, told)), QUIET, no_wrap=True, overflow="ellipsis")
            table.add_row("", state)
    yield table


def _rest(number: int) -> Pieces:
    if number > 0:
        yield line(f"{number} more: a for all, or type a machine or words", style=QUIET)


def _label(one: Summary) -> str:
    state = ", closed" if one.closed else ""
    return f"{one.machine}: {one.complaint or 'no complaint'} (case {one.number}{state})"


def new_case(context: CommandContext, talk: Talk) -> int | None:
    """Ask for what a case starts with, and open it; an open case of the same machine is offered first."""
    machine = talk.ask("New case. Machine number:")
    if not machine:
        return None
    if (opened := _open_case(context, machine)) and _goes_on(talk, opened):
        return opened.number
    families = list(context.knowledge.families.values())
    kind = talk.choose("What kind of machine is it?", [one.name for one in families]) if families else None
    hours = _hours(talk)
    complaint = talk.ask("What did it come in for (Enter: an inspection)?")
    family = "" if kind is None else families[kind].id
    opening = Opening(machine, complaint, family, hours, inspection=not complaint)
    kept = open_case(context, opening, talk.choose)
    session = BaySession(context, talk, kept.number)
    talk.say(kept.words[0])
    session.tell(kept.events[1:], kept.words[1:])
    talk.say(*(f"Not understood: {words}" for words in kept.not_understood))
    if complaint and not session.complained:
        talk.say("Nothing wrong was understood of that yet.")
        ask_complaint(session, AGAIN)
    return kept.number


def _open_case(context: CommandContext, machine: str) -> Summary | None:
    """The latest open case of this machine."""
    with context.store() as store:
        cases: Iterable[Summary] = in_order(store.cases())
    same = (one for one in cases if one.machine.casefold() == machine.casefold())
    return next((one for one in same if not (one.closed or one.void or one.problem)), None)


def _goes_on(talk: Talk, opened: Summary) -> bool:
    labels = (f"go on with {_label(opened)}", "open another case of it")
    return talk.choose("This machine has an open case:", labels) in (None, 0)


def _hours(talk: Talk) -> float | None:
    while answer := talk.ask("Running hours (Enter if not known):"):
        try:
            return HOURS.convert(answer, None, None)
        except click.BadParameter as error:
            talk.say(error.message)
    return None
