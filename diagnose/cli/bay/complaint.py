"""What the machine came in for, asked until something of it is understood."""

from __future__ import annotations

from diagnose.cli.bay.visit import Visit
from diagnose.errors import CallError

AGAIN = "In other words, as seen or heard (Enter: leave it):"


def ask_complaint(visit: Visit, prompt: str = "What did it come in for (Enter: not known)?") -> None:
    """Ask in plain words; an empty answer leaves it open."""
    while answer := visit.talk.ask(prompt):
        try:
            if visit.note(answer) and visit.complained:
                return
        except CallError as error:
            visit.talk.say(str(error))
        prompt = AGAIN
