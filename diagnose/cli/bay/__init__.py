"""The command `bay`: a guided conversation, screen by screen, that needs no memory of commands."""

from __future__ import annotations

import click
from rich.text import Text

from diagnose.cli.bay.case_choice import choose_case
from diagnose.cli.bay.case_screens import converse
from diagnose.cli.bay.session import BaySession
from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import by_option
from diagnose.cli.show import show
from diagnose.cli.talk import ConversationLeft, Talk
from diagnose.report.screen_words import CAUTION
from diagnose.report.text import STRONG


@click.command()
@by_option
@click.pass_obj
def bay(context: CommandContext) -> None:
    """A guided talk beside the machine.

    Choose a case, say what was seen, do the next check, tell its result; no command need be remembered.
    Every answer is kept at once; q, Ctrl-C or a lost line lose nothing.
    """
    hold(context, Talk())


def hold(context: CommandContext, talk: Talk) -> None:
    """The whole conversation, until the person leaves."""
    number = None
    try:
        talk.say(Text("Diagnose, in the bay", STRONG), CAUTION)
        while True:
            number = choose_case(context, talk)
            if number is not None:
                converse(BaySession(context, talk, number))
    except ConversationLeft:
        where = f"Everything is kept in case {number}. " if number else ""
        show(Text(f"{where}diagnose bay goes on from here."))
