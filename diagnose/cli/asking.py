"""Questions on a terminal. Where there is none, a question becomes an error that lists the choices."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import reduce
from typing import TYPE_CHECKING

import click

from diagnose.cases.case import Case, advance
from diagnose.cases.events import Confidence
from diagnose.errors import CallError
from diagnose.intake import Intake, learnt, note, together
from diagnose.knowledge.records import Knowledge

if TYPE_CHECKING:
    from rich.console import RenderableType

Choose = Callable[[str, Sequence[str]], int | None]
"""A question and its labels -> the place of the one chosen, None for none of them."""


def on_terminal() -> bool:
    """Whether somebody sits there to answer."""
    return sys.stdin.isatty()


def chooser(as_json: bool) -> Choose | None:
    """How to ask, where somebody is there to answer."""
    return None if as_json or not on_terminal() else choose


def settle(
    knowledge: Knowledge,
    case: Case,
    text: str,
    ask: Choose | None,
    *,
    absent: bool = False,
    confidence: Confidence = "sure",
    state: str = "",
) -> Intake:
    """What a text comes to, asking until nothing is open; nothing where none of the choices was meant.

    Raises CallError with the choices where nobody can be asked.
    """

    def again(case: Case, chosen: str) -> Intake:
        still = absent and " = " not in chosen
        return note(knowledge, case, chosen, still, confidence, as_written=text)

    return settled(knowledge, case, note(knowledge, case, text, absent, confidence, state=state), ask, again)


def settled(
    knowledge: Knowledge,
    case: Case,
    found: Intake,
    ask: Choose | None,
    again: Callable[[Case, str], Intake],
) -> Intake:
    """What was understood once every question of it is answered; `again` takes the text of a choice.

    What the answers tell of the machine is kept before it. Where nobody answers: what can be kept as it is, else
    nothing. Raises CallError with the choices where nobody can be asked and nothing can be kept.
    """
    told: list[Intake] = []
    while found.choices:
        if ask is None and not found.events:
            raise CallError(f"{found.question}\n{_choices(found)}\nNothing was recorded.")
        answer = ask(found.question, [choice.label for choice in found.choices]) if ask else None
        if answer is None:
            found = replace(found, question="", choices=())
        else:
            chosen = found.choices[answer]
            if chosen.facts:
                told.append(learnt(knowledge, chosen.facts))
                case = reduce(advance, told[-1].events, case)
            found = again(case, chosen.text)
    return together((*told, found))


def choose(question: str, labels: Sequence[str]) -> int | None:
    """The place of the label chosen by its number; None for none of them (an empty answer)."""
    click.echo(question, err=True)
    for number, label in enumerate(labels, 1):
        click.echo(f"{number:3} {label}", err=True)
    for answer in _answers("Which number (Enter for none of these)"):
        if not answer:
            return None
        if answer.isdecimal() and 1 <= int(answer) <= len(labels):
            return int(answer) - 1
        click.echo(f"Please give a number from 1 to {len(labels)}.", err=True)
    return None


def ask(question: str) -> str:
    """A line of text; may be empty."""
    return next(_answers(question))


class Terminal:
    """Somebody at the terminal who answers."""

    def ask(self, prompt: str) -> str:
        """The answer to a question, trimmed."""
        return ask(prompt)

    def choose(self, question: str, labels: Sequence[str]) -> int | None:
        """The place of the label chosen; None for none of them."""
        return choose(question, labels)

    def say(self, *screen: RenderableType) -> None:
        """Print something, beside what the command itself prints."""
        from diagnose.cli.show import rendered

        for piece in screen:
            click.echo(rendered(piece), nl=False, err=True)


def _answers(question: str) -> Iterator[str]:
    while True:
        yield str(click.prompt(question, default="", show_default=False, err=True)).strip()


def _choices(found: Intake) -> str:
    return "\n".join(
        f"  {choice.text}" if choice.text == choice.label else f"  {choice.label}: {choice.text}"
        for choice in found.choices
    )


def family(knowledge: Knowledge) -> str:
    """The kind of machine, by number; empty where it is none of them."""
    known = list(knowledge.families.values())
    answer = choose("What kind of machine is it?", [one.name for one in known]) if known else None
    return "" if answer is None else known[answer].id


def hours() -> float | None:
    """Running hours; None where they are not known."""
    from diagnose.cli.types import HOURS

    for answer in _answers("Running hours (Enter if not known)"):
        if not answer:
            return None
        try:
            return HOURS.convert(answer, None, None)
        except click.BadParameter as error:
            click.echo(error.message, err=True)
    return None
