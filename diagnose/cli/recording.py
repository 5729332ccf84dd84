"""What is recorded in one call: words and options -> events, appended all or none."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from pathlib import Path

from diagnose.cases.case import Case, advance, fold
from diagnose.cases.events import (
    CONFIDENCES,
    NOTHING,
    Confidence,
    Learnt,
    Opened,
    Waiting,
    Waits,
    Withdrawn,
)
from diagnose.cli.asking import Choose, Taken, take
from diagnose.cli.context import CommandContext
from diagnose.errors import CallError
from diagnose.intake.done import checked, opened, remarked, repaired
from diagnose.intake.note import followed, grouped, tells_more
from diagnose.intake.outcome import Intake
from diagnose.knowledge.records import Knowledge
from diagnose.plain import one_line
from diagnose.report.kept import Kept


@dataclass(frozen=True)
class Jotting:
    """Everything that one `note` says. What is learnt and done stands before what was then seen."""

    texts: tuple[str, ...] = ()
    absent: bool = False
    confidence: Confidence = "sure"
    state: str = ""
    checks: tuple[str, ...] = ()
    opened: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=dict)
    renewed: Mapping[str, float] = field(default_factory=dict)
    hours: float | None = None
    last_right: float | None = None
    waits: Waiting | None = None
    remark: str = ""


def jot(context: CommandContext, number: int, jotting: Jotting, ask: Choose | None) -> Kept:
    """Record what was said. Raises CallError, with nothing recorded, where any of it is not clear, and
    ImpossibleFacts where no machine has such facts together."""
    case = context.case(number)
    if jotting.facts:
        _can_be(context.knowledge, {**case.machine.facts, **jotting.facts})
    taken = list(_taken(context.knowledge, case, jotting, ask))
    said = [one.intake for one in taken]
    if jotting.remark.strip() and not _kept(jotting.remark, said):
        said.append(remarked(context.knowledge, jotting.remark))
    left = tuple(question for one in taken for question in one.open)
    unknown = tuple(words for one in taken for words in one.not_understood)
    events = tuple(event for intake in said for event in intake.events)
    if not events and left:
        return Kept(number, (), (), (), left, unknown)
    if not events:
        raise CallError("Nothing was noted. Say what was seen, or see: diagnose note --help")
    words = tuple(line for intake in said for line in intake.words)
    sequences = context.record(number, events)
    told = followed(context.knowledge, case, context.case(number)) if tells_more(events) else ()
    return Kept(number, sequences, events, (*words, *told), left, unknown)


def _kept(remark: str, said: Iterable[Intake]) -> bool:
    """Whether an entry holds the remark as its text."""
    return any(getattr(event, "text", "") == one_line(remark) for one in said for event in one.events)


def _can_be(knowledge: Knowledge, facts: Mapping[str, str]) -> None:
    """Raise ImpossibleFacts where no machine has these facts together."""
    from diagnose.network.facts import Facts  # brings numpy

    Facts(knowledge.facts, facts).consistent()


def confidence_of(unsure: str | None) -> Confidence:
    """How sure an observation is; sure where nothing is said."""
    return next((known for known in CONFIDENCES if known == unsure), "sure")


def _taken(knowledge: Knowledge, case: Case, said: Jotting, ask: Choose | None) -> Iterator[Taken]:
    for about in _learnt(knowledge, said):
        case = reduce(advance, about.events, case)
        yield Taken(about)
    if said.repaired:
        yield Taken(repaired(knowledge, said.repaired, said.remark))
        case = replace(case, access_open=(), epochs=(*case.epochs, replace(case.epochs[-1], observations=())))
    yield from (Taken(opened(knowledge, access)) for access in said.opened)
    yield from (Taken(checked(knowledge, case, check, said.remark)) for check in said.checks)
    texts = grouped(knowledge, said.texts) if said.texts else ()
    if said.state and len(texts) > 1:
        raise CallError("--state goes with one finding; note the others in a call of their own.")
    for text in texts:
        found = take(
            knowledge,
            case,
            text,
            ask,
            absent=said.absent,
            confidence=said.confidence,
            state=said.state,
        )
        case = reduce(advance, found.intake.events, case)
        yield found
    if said.waits is not None:
        yield Taken(_waits(knowledge, said))


def _waits(knowledge: Knowledge, said: Jotting) -> Intake:
    """What the case waits for; last, since whoever goes on with it does not wait."""
    from diagnose.report.record import event_words

    event = Waits(said.waits or NOTHING, said.remark, knowledge=knowledge.version)
    return Intake((event,), (event_words(knowledge, event),))


def _learnt(knowledge: Knowledge, said: Jotting) -> Iterator[Intake]:
    if said.facts or said.renewed or said.hours is not None or said.last_right is not None:
        event = Learnt(
            said.facts, said.hours, said.renewed, said.remark, said.last_right, knowledge=knowledge.version
        )
        told = [f"{said.hours:g} h"] if said.hours is not None else []
        told += [f"last right {said.last_right:g} h ago"] if said.last_right is not None else []
        told += [f"{knowledge.facts[fact].name}: {value}" for fact, value in said.facts.items()]
        told += [f"{knowledge.causes[c].name}: renewed {run:g} h ago" for c, run in said.renewed.items()]
        yield Intake((event,), (f"Machine: {'; '.join(told)}",))


@dataclass(frozen=True)
class Opening:
    """What a new case starts with."""

    machine: str
    complaint: str = ""
    family: str = ""
    hours: float | None = None
    facts: Mapping[str, str] = field(default_factory=dict)
    renewed: Mapping[str, float] = field(default_factory=dict)
    last_right: float | None = None
    inspection: bool = False


def open_case(context: CommandContext, opening: Opening, ask: Choose | None) -> Kept:
    """Open a case; what the complaint clearly says is noted as findings, the rest stays as words."""
    knowledge = context.knowledge
    event = _opened(knowledge, opening)
    if opening.facts:
        _can_be(knowledge, event.facts)
    taken = _complaint(knowledge, fold(0, [event]), ask)
    events = (event, *taken.intake.events)
    number = context.open_case(event, events[1:])
    return Kept(
        number,
        tuple(range(1, len(events) + 1)),
        events,
        (f"Opened: {opening.machine}", *taken.intake.words),
        taken.open,
        taken.not_understood,
    )


def _opened(knowledge: Knowledge, opening: Opening) -> Opened:
    inherited = knowledge.families[opening.family].facts if opening.family else {}
    return Opened(
        opening.machine,
        opening.family,
        {**inherited, **opening.facts},
        opening.hours,
        opening.renewed,
        opening.complaint,
        opening.last_right,
        opening.inspection,
        knowledge=knowledge.version,
    )


def _complaint(knowledge: Knowledge, case: Case, ask: Choose | None) -> Taken:
    """What the complaint says; its words stand in the case anyway."""
    if not case.complaint.strip():
        return Taken(Intake())
    try:
        return take(knowledge, case, case.complaint, ask, remark=False)
    except CallError:
        return Taken(Intake(), (), (case.complaint,))


def open_scenario(context: CommandContext, path: Path) -> Kept:
    """Start a stored case from a scenario."""
    from diagnose.cases.scenario import load

    scenario = load(path, context.knowledge)
    first, *rest = scenario.events
    assert isinstance(first, Opened)
    number = context.open_case(first, rest)
    sequences = tuple(range(1, len(scenario.events) + 1))
    return Kept(number, sequences, scenario.events, (f"Opened: {first.machine}: {scenario.title}",))


def take_back(context: CommandContext, number: int, entries: Sequence[int], remark: str) -> Kept:
    """Withdraw entries by their numbers; withdrawing a withdrawal restores what it took back."""
    from diagnose.report.record import event_words

    case = context.case(number)
    by_number = {event.sequence: event for event in case.history}
    for entry in entries:
        if entry not in by_number:
            raise CallError(f"Case {number} has no entry {entry}; see: diagnose cases {number}")
        if entry in case.withdrawn:
            raise CallError(f"Entry {entry} of case {number} is withdrawn already.")
    version = context.knowledge.version
    events = tuple(Withdrawn(entry, remark, knowledge=version) for entry in dict.fromkeys(entries))
    words = [f"Withdrawn: {event_words(context.knowledge, by_number[event.event])}" for event in events]
    return Kept(number, context.record(number, events), events, tuple(words))
