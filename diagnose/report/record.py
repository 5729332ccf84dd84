"""The screens of the record: the history of a case, and what was just recorded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.cases.case import Case
from diagnose.cases.events import (
    COOLING,
    CUSTOMER,
    NOTHING,
    Checked,
    Closed,
    Coded,
    Event,
    Learnt,
    Measured,
    Noted,
    Opened,
    OpenedUp,
    Reopened,
    Repaired,
    Waits,
    Withdrawn,
)
from diagnose.cases.times import jumps, stamp
from diagnose.cases.understood import understood
from diagnose.cases.waiting import LATER, is_proof
from diagnose.knowledge.located import with_place
from diagnose.knowledge.observable import is_look, looked_for, noted, observable
from diagnose.knowledge.records import Knowledge
from diagnose.moves.ending import proof_words
from diagnose.report.screen_words import count, listed
from diagnose.report.text import QUIET, STRONG, foot, grid, head, line


def case_screen(knowledge: Knowledge, case: Case) -> RenderableType:
    """Everything recorded in a case, and what to do next."""
    step = "diagnose withdraw NUMBER takes an entry back" if case.number else "diagnose causes -f FILE"
    return Group(*head(knowledge, case), Text(""), history(knowledge, case), *foot(step))


def history(knowledge: Knowledge, case: Case) -> RenderableType:
    """Every entry, numbered; what was withdrawn stays to be seen."""
    table = grid("right", "left", "left")
    now, clock = read_anew(knowledge, case), jumps(case.history)
    for event in case.history:
        gone = event.sequence in case.withdrawn
        words = event_words(knowledge, event) + (" (withdrawn)" if gone else now.get(event.sequence, ""))
        words += f" ({clock[event.sequence]})" if event.sequence in clock else ""
        words += f" [{event.by}]" if event.by else ""
        style = QUIET if gone else ""
        table.add_row(Text(str(event.sequence), style), Text(stamp(event.time), style), Text(words, style))
    return table


def read_anew(knowledge: Knowledge, case: Case) -> dict[int, str]:
    """By number of the entry: what a value means now, where that is not what it was noted as."""
    before = {(seen.event, seen.id): seen.state for seen in case.observations}
    now: dict[int, list[str]] = {}
    for seen in understood(knowledge, case).case.observations:
        if before.get((seen.event, seen.id)) != seen.state:
            words = observable(knowledge, seen.finding).in_words(seen.state)
            now.setdefault(seen.event, []).append(with_place(words, seen.place))
    return {number: f" (now: {listed(words)})" for number, words in now.items()}


def event_words(knowledge: Knowledge, event: Event) -> str:
    """One event in words, also where its ids are no longer in the knowledge."""
    match event:
        case Opened():
            return f"opened: {event.complaint or 'no complaint given'}{_facts(event)}"
        case Noted():
            return _noted(knowledge, event)
        case Measured():
            return f"measured: {event.quantity} {event.value:g} {event.unit}{_sure(event.confidence)}"
        case Coded():
            return f"code {event.code} (not used)"
        case Checked() if is_proof(event.check):
            mark = "proof due later" if event.text == LATER else "proved"
            return f"{mark}: {proof_words(knowledge, event.check)}"
        case Checked() if is_look(event.check):
            return f"asked: {_name(knowledge.findings, looked_for(event.check))}{_remark(event.text)}"
        case Checked():
            return f"done: {_name(knowledge.checks, event.check)}{_remark(event.text)}"
        case OpenedUp():
            return f"open: {_name(knowledge.access, event.access)}{_remark(event.text)}"
        case Repaired():
            return f"repaired: {_repaired(knowledge, event)}{_remark(event.text)}"
        case Learnt() if event.text and not _facts(event):
            return event.text if event.text.startswith("said: ") else f"remark: {event.text}"
        case Learnt():
            return f"machine:{_facts(event)}{_remark(event.text)}"
        case Withdrawn():
            return f"withdrew number {event.event}{_remark(event.text)}"
        case Closed():
            return _closed(knowledge, event)
        case Reopened():
            return f"{'came back' if event.comeback else 'reopened'}{_remark(event.text)}"
        case Waits():
            return f"{waits_words(event.reason)}{_remark(event.text)}"
    return event.kind


def waits_words(reason: str) -> str:
    """That a case waits from here on, or goes on."""
    return "waits no more" if reason == NOTHING else f"waits for {waiting_words(reason)}"


def waiting_words(reason: str) -> str:
    """What a case waits for, as it is said."""
    words: dict[str, str] = {CUSTOMER: "the customer", COOLING: "it to cool down"}
    return words.get(reason, reason)


def _noted(knowledge: Knowledge, event: Noted) -> str:
    finding = noted(knowledge, event.finding)
    words = finding.in_words(event.state) if finding else f"{event.finding}: {event.state}"
    words = with_place(words, event.place)
    value = f" [{event.value:g} {event.unit}]" if event.value is not None else ""
    code = f" [{event.code}]" if event.code else ""
    return f"{words}{value}{code}{_sure(event.confidence)}"


def _sure(confidence: str) -> str:
    return "" if confidence == "sure" else f" ({confidence})"


def _repaired(knowledge: Knowledge, event: Repaired) -> str:
    cured = {
        cure.cause for id in event.repairs if id in knowledge.repairs for cure in knowledge.repairs[id].cures
    }
    names = [_name(knowledge.repairs, id) for id in event.repairs]
    return listed(names + [_name(knowledge.causes, id) for id in event.causes if id not in cured])


def _closed(knowledge: Knowledge, event: Closed) -> str:
    names = listed(f"{_name(knowledge.causes, id)} ({event.how(id)})" for id in event.causes)
    proven = "repair proven" if event.proven else "repair not proven"
    return f"closed: {names or 'no cause named'}; {proven}{_remark(event.text)}"


def _facts(event: Opened | Learnt) -> str:
    told = [f"{event.hours:g} h"] if event.hours is not None else []
    told += [f"last right {event.last_right:g} h ago"] if event.last_right is not None else []
    told += [f"{fact} = {value}" for fact, value in event.facts.items()]
    told += [f"{cause} renewed {run:g} h ago" for cause, run in event.renewed.items()]
    return f" [{', '.join(told)}]" if told else ""


def _name(records: Mapping[str, object], id: str) -> str:
    return str(getattr(records.get(id), "name", id))


def _remark(text: str) -> str:
    return f" ({text})" if text else ""


def open_screen(
    questions: Iterable[tuple[str, Iterable[str]]], not_understood: Iterable[str]
) -> Iterator[RenderableType]:
    """What was said and is not recorded: doubtful parts with what they may be, and what was not understood."""
    for question, choices in questions:
        yield line(f"Not recorded: {question}")
        yield from (line(choice, 2) for choice in choices)
    for words in not_understood:
        yield line(f"Not understood: {words}")


def recorded_screen(
    number: int, sequences: Iterable[int], words: Iterable[str], next_step: str, of: str = ""
) -> RenderableType:
    """What was just recorded, with the numbers to withdraw it by."""
    numbers = tuple(sequences)
    table = grid("right", "left")
    for place, said in enumerate(words):
        table.add_row(Text(str(numbers[place]) if place < len(numbers) else "", QUIET), said)
    title = f"Case {number}{f' ({of})' if of else ''}: {count(len(numbers), 'entry', 'entries')} kept"
    return Group(Text(title, STRONG), table, line(f"Next: {next_step}", style=QUIET))
