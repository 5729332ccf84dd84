"""Talking line by line: what is said comes in short pages, what is asked is answered by one line.

No cursor tricks: it works over a slow terminal. Input comes from one small function, which tests can replace.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from shutil import get_terminal_size

import click
from rich.console import RenderableType

from diagnose.cli.show import rendered
from diagnose.plain import on_screen, typed

FEWEST = 10
"""Lines of a page, however low the terminal."""


def page() -> int:
    """Lines between two prompts that this terminal shows at once, with two for the prompt and what is typed."""
    return max(FEWEST, get_terminal_size((60, 24)).lines - 2)


GOES_ON = "-- Enter goes on --"


class ConversationLeft(Exception):
    """The person goes: by q, by Ctrl-C, or because the line is closed."""


def numbers(count: int) -> str:
    """What can be answered where so many are listed."""
    return f"Give a number from 1 to {count}"


def read_line(prompt: str) -> str:
    """One line from the terminal."""
    return typed(input(on_screen(prompt)))


@dataclass
class Talk:
    """One conversation. `lines`: how many were printed since the last question."""

    read: Callable[[str], str] = read_line
    lines: int = field(default=0, init=False)
    ahead: str = field(default="", init=False)

    def ask(self, prompt: str) -> str:
        """The answer to a question, trimmed; what was typed while the screen still came is one. Raises
        ConversationLeft on q, Ctrl-C and the end of input."""
        self.lines = 0
        if early := self.typed_ahead():
            click.echo(f"{prompt} {early}")
            return early
        return self.wait(prompt)

    def wait(self, prompt: str) -> str:
        """The same for what must be answered now."""
        self.lines = 0
        try:
            answer = self.read(f"{prompt} ").strip()
        except (EOFError, KeyboardInterrupt) as end:
            click.echo()
            raise ConversationLeft from end
        if answer.lower() in ("q", "quit"):
            raise ConversationLeft
        return answer

    def say(self, *screen: RenderableType) -> None:
        """Print something, waiting after each full page."""
        for piece in screen:
            for text in rendered(piece).splitlines():
                if self.lines >= page() and not self.ahead:
                    self.ahead = self.wait("-- Enter for more --")
                click.echo(text)  # `rendered` has been through the gate
                self.lines += 1

    def pause(self) -> None:
        """Wait until it was read. What is typed instead of Enter is kept for `typed_ahead`."""
        self.ahead = self.wait(GOES_ON)

    def typed_ahead(self) -> str:
        """What was typed at the last pause, once."""
        self.ahead, answer = "", self.ahead
        return answer

    def choose(self, question: str, labels: Sequence[str]) -> int | None:
        """The place of the label chosen by its number, or by words that only it has; None for none of them. One
        label: yes or no."""
        from diagnose.report.text import line, numbered

        if len(labels) == 1:
            self.say(line(question), line(labels[0], 4))
            return 0 if self.ask("y for yes (Enter: no):").lower() in ("y", "yes", "1") else None
        self.say(line(question), numbered(labels))
        return self.place("Number (Enter: none of these):", len(labels), labels)

    def place(self, prompt: str, count: int, labels: Sequence[str] = ()) -> int | None:
        """The place of one of so many, by its number or by words that only its label has; None where only Enter was
        pressed."""
        while answer := self.ask(prompt):
            if answer.isdecimal() and 1 <= int(answer) <= count:
                return int(answer) - 1
            fits = [n for n, label in enumerate(labels) if answer.casefold() in label.casefold()]
            if len(fits) == 1 and not answer.isdecimal():
                return fits[0]
            self.say(f"{numbers(count)}, or press Enter.")
        return None
