"""A measured value -> the findings that it sets; the question where a fact decides what it means."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from diagnose.cases.case import Case
from diagnose.cases.events import Measured, Noted
from diagnose.cases.understood import values_known
from diagnose.errors import CallError
from diagnose.intake.done import learnt
from diagnose.intake.outcome import Choice, Intake, Typed, together
from diagnose.knowledge.bands import Given
from diagnose.knowledge.limits import span_words
from diagnose.knowledge.observable import observable
from diagnose.knowledge.readings import Meaning, meaning, open_words, reading_of
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.words.quantity import Quantity, parse_quantity, split_reading


def measured(knowledge: Knowledge, case: Case, quantity: str, text: str) -> Intake:
    """The events that a value with its unit stands for, where the quantity is known. Raises CallError."""
    typed = Typed(text, False, "", "sure", f"{quantity} {text}", "")
    return _set_by(knowledge, case, typed, quantity, parse_quantity(text))


def reading(knowledge: Knowledge, case: Case, typed: Typed) -> Intake | None:
    """What a text comes to that is a measured value; None where it is none."""
    if typed.absent or typed.state:
        return None
    try:
        found = reading_of(knowledge, typed.text)
    except CallError as error:
        return _which_quantity(typed, error)
    return None if found is None else _set_by(knowledge, case, typed, *found)


def _set_by(knowledge: Knowledge, case: Case, typed: Typed, quantity: str, value: Quantity) -> Intake:
    """Every finding that is set from this value, with what it tells of the machine. Where a fact must be known
    first, a question; the value is kept meanwhile. Raises CallError for a value that this machine cannot show."""
    known = meaning(knowledge, quantity, value, case.machine.facts, values_known(knowledge, case))
    if known.problem:
        raise CallError(known.problem)
    if known.missing:
        return _open(knowledge, typed, quantity, value, known.missing)
    if not known.states:
        return _kept(
            knowledge, typed, quantity, value, f"{quantity} {value}: kept, other limits depend on it"
        )
    return together(
        [*_inferred(knowledge, typed, quantity, value, known), *_set(knowledge, typed, value, known)]
    )


def _set(knowledge: Knowledge, typed: Typed, value: Quantity, known: Meaning) -> Iterator[Intake]:
    unless = "".join(f" (unless {_unless(given)}: note it then)" for given in known.unless)
    for id, state in known.states:
        yield _measured(knowledge, typed, observable(knowledge, id), state, value, unless)


def _unless(given: Given) -> str:
    return f"{given.quantity} is {span_words(given.below, given.above, given.unit)}"


def _inferred(
    knowledge: Knowledge, typed: Typed, quantity: str, value: Quantity, known: Meaning
) -> Iterator[Intake]:
    if known.learnt:
        yield learnt(knowledge, known.learnt, f"no other fits {quantity} {value}", typed.now)


def _open(knowledge: Knowledge, typed: Typed, quantity: str, value: Quantity, fact: str) -> Intake:
    """The question for a fact that decides what a value means."""
    asked = knowledge.facts[fact]
    kept = _kept(
        knowledge,
        typed,
        quantity,
        value,
        f"Kept, not used yet. {open_words(knowledge, quantity, value, fact)}",
    )
    again = f"{quantity} {value}"
    choices = tuple(Choice(again, one, {fact: one}) for one in asked.values)
    return replace(kept, question=f"{again}: {asked.question}", choices=choices)


def _kept(knowledge: Knowledge, typed: Typed, quantity: str, value: Quantity, words: str) -> Intake:
    unit = f"{value.unit} {value.reference}".strip()
    event = Measured(
        quantity,
        value.value,
        unit,
        typed.confidence,
        typed.as_written,
        knowledge=knowledge.version,
        time=typed.now,
    )
    return Intake((event,), (words,))


def _which_quantity(typed: Typed, error: CallError) -> Intake:
    """Several quantities fit: a question, where the value itself is sound; anything else stays an error."""
    split = split_reading(typed.text) if error.suggestions else None
    if split is None:
        raise error
    choices = tuple(Choice(f"{name} {split[1]}", f"{name} {split[1]}") for name in error.suggestions)
    return Intake(question=f"Which reading is “{typed.text}”?", choices=choices)


def _measured(
    knowledge: Knowledge, typed: Typed, finding: Finding, state: str, value: Quantity, unless: str
) -> Intake:
    event = Noted(
        finding.id,
        state,
        typed.confidence,
        typed.as_written,
        value.value,
        f"{value.unit} {value.reference}".strip(),
        knowledge=knowledge.version,
        time=typed.now,
    )
    return Intake((event,), (f"{value}: {finding.in_words(state)}{unless}",))
