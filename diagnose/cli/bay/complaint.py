"""What the machine came in for, asked until something of it is understood."""

from __future__ import annotations

from diagnose.cli.bay.session import BaySession
from diagnose.errors import CallError

AGAIN = "In other words, as seen or heard (Enter: leave it):"


def ask_complaint(session: BaySession, prompt: str = "What did it come in for (Enter: not known)?") -> None:
    """Ask in plain words; an empty answer leaves it open."""
    while answer := session.talk.ask(prompt):
        try:
            if session.note(answer) and session.complained:
                return
        except CallError as error:
            session.talk.say(str(error))
        prompt = AGAIN
