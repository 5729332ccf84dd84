"""The command `bay`: a guided conversation, screen by screen, that needs no memory of commands."""

from __future__ import annotations

import click
from rich.text import Text

from diagnose.cases.store import Summary
from diagnose.cli.asking import family
from diagnose.cli.bay.conversation import converse
from diagnose.cli.bay.talk import Leave, Talk
from diagnose.cli.bay.visit import Visit
from diagnose.cli.desk import Desk
from diagnose.cli.jot import Opening, open_case
from diagnose.cli.options import by_option
from diagnose.cli.show import show
from diagnose.cli.types import HOURS
from diagnose.report.text import STRONG, numbered
from diagnose.report.words import CAUTION

SHOWN = 8  # cases offered by number


@click.command()
@by_option
@click.pass_obj
def bay(desk: Desk) -> None:
    """A guided talk beside the machine.

    Choose a case, say what was seen, do the next check, tell its result; no command need be remembered.
    Every answer is kept at once; q, Ctrl-C or a lost line lose nothing.
    """
    hold(desk, Talk())


def hold(desk: Desk, talk: Talk) -> None:
    """The whole conversation, until the person leaves."""
    number = None
    try:
        talk.say(Text("Diagnose, in the bay", STRONG), CAUTION)
        while True:
            number = _choose(desk, talk)
            if number is not None:
                converse(Visit(desk, talk, number))
    except Leave:
        where = f"Everything is kept in case {number}. " if number else ""
        show(Text(f"{where}diagnose bay goes on from here."))


def _choose(desk: Desk, talk: Talk) -> int | None:
    """The number of a case, old or new."""
    with desk.store() as store:
        cases = [one for one in reversed(store.cases()) if not one.void]
    if not cases:
        return _new(desk, talk)
    talk.say("", "Which case?", numbered(_label(one) for one in cases[:SHOWN]))
    answer = talk.ask("Number, or n for a new case (q quits):").lower()
    if answer in ("n", "new"):
        return _new(desk, talk)
    if answer.isdecimal() and 1 <= int(answer) <= len(cases[:SHOWN]):
        return cases[int(answer) - 1].number
    talk.say("Give one of the numbers, or n.")
    return None


def _label(one: Summary) -> str:
    state = ", closed" if one.closed else ""
    return f"{one.machine}: {one.complaint or 'no complaint'} (case {one.number}{state})"


def _new(desk: Desk, talk: Talk) -> int | None:
    """Ask for what a case starts with, and open it."""
    machine = talk.ask("New case. Machine number:")
    if not machine:
        return None
    kind = family(desk.knowledge, talk.choose)
    hours = _hours(talk)
    complaint = talk.ask("What did it come in for (Enter: an inspection)?")
    opening = Opening(machine, complaint, kind, hours, inspection=not complaint)
    kept = open_case(desk, opening, talk.choose)
    talk.say(*kept.words)
    return kept.number


def _hours(talk: Talk) -> float | None:
    while answer := talk.ask("Running hours (Enter if not known):"):
        try:
            return HOURS.convert(answer, None, None)
        except click.BadParameter as error:
            talk.say(error.message)
    return None
