"""Questions on a terminal. Where there is none, a question becomes an error that lists the choices."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from typing import TYPE_CHECKING

import click

from diagnose.cases.case import Case, advance
from diagnose.cases.events import Confidence
from diagnose.cli.show import prompted, rendered, say
from diagnose.errors import CallError
from diagnose.hearing import Question, hear
from diagnose.intake.done import learnt
from diagnose.intake.note import note
from diagnose.intake.outcome import Intake, together
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


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of a text: the events, the questions that nobody answered, and what was not understood."""

    intake: Intake
    open: tuple[Question, ...] = ()
    not_understood: tuple[str, ...] = ()


def take(
    knowledge: Knowledge,
    case: Case,
    text: str,
    ask: Choose | None,
    *,
    absent: bool = False,
    confidence: Confidence = "sure",
    state: str = "",
    remark: bool = True,
) -> Taken:
    """Everything that a text says, each doubtful part asked about where somebody is there to answer.

    Raises CallError where nothing of it comes near anything.
    """
    heard = hear(knowledge, case, text, absent=absent, confidence=confidence, state=state, remark=remark)
    case = reduce(advance, heard.intake.events, case)
    told, left = [heard.intake], []
    likeliest = _likeliest_of_all(heard.questions, ask)
    for question in heard.questions:
        answer = 0 if likeliest else ask(question.question, _labels(question)) if ask else None
        if answer is not None:
            found = _answered(knowledge, case, question, answer, ask, confidence)
        elif ask is None or len(question.choices) > 1:
            found = question.meanwhile
        else:
            found = Intake()  # denied
        if answer is None and ask is None:
            left.append(question)
        case = reduce(advance, found.events, case)
        told.append(found)
    return Taken(together(told), tuple(left), heard.not_understood)


def _labels(question: Question) -> list[str]:
    return [choice.label for choice in question.choices]


def _likeliest_of_all(questions: Sequence[Question], ask: Choose | None) -> bool:
    """Whether the likeliest meaning of every doubtful part is taken, by one key."""
    if ask is None or len(questions) < 2:
        return False
    offered = "; ".join(question.choices[0].label for question in questions)
    return ask(f"{len(questions)} parts are doubtful.", [f"take all of these: {offered}", "one by one"]) == 0


def _answered(
    knowledge: Knowledge,
    case: Case,
    question: Question,
    answer: int,
    ask: Choose | None,
    confidence: Confidence,
) -> Intake:
    """What the choice of an answer comes to."""
    chosen, told = question.choices[answer], list[Intake]()
    if chosen.facts:
        told.append(learnt(knowledge, chosen.facts))
        case = reduce(advance, told[-1].events, case)
    told.append(settle(knowledge, case, chosen.text, ask, confidence=confidence, as_written=question.text))
    return together(told)


def settle(
    knowledge: Knowledge,
    case: Case,
    text: str,
    ask: Choose | None,
    *,
    absent: bool = False,
    confidence: Confidence = "sure",
    state: str = "",
    as_written: str = "",
) -> Intake:
    """What a text that names one thing comes to, asking until nothing is open; nothing where none of the choices
    was meant.

    Raises CallError with the choices where nobody can be asked.
    """

    def again(case: Case, chosen: str) -> Intake:
        still = absent and " = " not in chosen
        return note(knowledge, case, chosen, still, confidence, as_written=as_written or text)

    found = note(knowledge, case, text, absent, confidence, state=state, as_written=as_written)
    return settled(knowledge, case, found, ask, again)


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
    """The place of the label chosen by its number; None for none of them (an empty answer). One label: yes
    or no."""
    say(question, err=True)
    if len(labels) == 1:
        say(f"    {labels[0]}", err=True)
        return 0 if next(_answers("y for yes (Enter: no)")).lower() in ("y", "yes", "1") else None
    for number, label in enumerate(labels, 1):
        say(f"{number:3} {label}", err=True)
    for answer in _answers("Which number (Enter for none of these)"):
        if not answer:
            return None
        if answer.isdecimal() and 1 <= int(answer) <= len(labels):
            return int(answer) - 1
        say(f"Please give a number from 1 to {len(labels)}.", err=True)
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
        for piece in screen:
            click.echo(rendered(piece), nl=False, err=True)


def _answers(question: str) -> Iterator[str]:
    while True:
        yield prompted(question)


def _choices(found: Intake) -> str:
    return "\n".join(
        f"  {choice.text}" if choice.text == choice.label else f"  {choice.label}: {choice.text}"
        for choice in found.choices
    )


def family(knowledge: Knowledge, ask: Choose = choose) -> str:
    """The kind of machine, by number; empty where it is none of them."""
    known = list(knowledge.families.values())
    answer = ask("What kind of machine is it?", [one.name for one in known]) if known else None
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
            say(error.message, err=True)
    return None
