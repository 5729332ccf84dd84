"""What was recorded, in the words of both readers; and how sure something is, in words instead of figures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from diagnose.cases.events import (
    Checked,
    Closed,
    Coded,
    Confidence,
    Event,
    Learnt,
    Measured,
    Noted,
    Opened,
    OpenedUp,
    Reopened,
    Repaired,
    Waits,
)
from diagnose.cases.waiting import LATER, is_proof
from diagnose.knowledge.located import with_place
from diagnose.knowledge.observable import noted
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.moves.ending import proof_words
from diagnose.plain import small
from diagnose.report.document.replay import CaseEntry
from diagnose.report.record import waits_words
from diagnose.report.screen_words import listed

LIKELIHOODS = (
    (0.9, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.1, "unlikely"),
    (0.01, "very unlikely"),
)
"""From which probability on a word may be used, of the scale of the Intergovernmental Panel on Climate Change
(Guidance Notes for Lead Authors on Addressing Uncertainties, July 2005). The scale's "virtually certain" is
left out: reckoning alone makes nobody certain."""
_SURE: Mapping[Confidence, str] = {"sure": "", "likely": " (fairly sure)", "unsure": " (not sure)"}


def likelihood(p: float) -> str:
    """A probability in words that have a fixed meaning."""
    return next((words for limit, words in LIKELIHOODS if p >= limit), "exceptionally unlikely")


def name_of(records: Mapping[str, object], id: str) -> str:
    """The name of something of the knowledge; its id where it is no longer there."""
    return str(getattr(records.get(id), "name", id))


def in_a_row(names: Iterable[str]) -> str:
    """Names of things done, as one says them: only the first keeps its capital."""
    first, *others = names
    return listed([first, *map(small, others)])


def fact_words(knowledge: Knowledge, facts: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Facts of the machine by their names."""
    return tuple((name_of(knowledge.facts, fact), value) for fact, value in facts.items())


def renewed_words(knowledge: Knowledge, renewed: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    """Hours run since parts were renewed, by part where it is known."""
    return tuple((_part(knowledge, cause), hours) for cause, hours in renewed.items())


def _part(knowledge: Knowledge, id: str) -> str:
    cause = knowledge.causes.get(id)
    return cause.part or cause.name if cause else id


def seen(finding: Finding, state: str) -> str:
    """A finding in a state as anyone says it: `Cranks too slowly: no`."""
    if finding.states == ("absent", "present"):
        return finding.name if state == "present" else f"{finding.name}: no"
    return f"{finding.name}: {state}"


def noted_words(knowledge: Knowledge, entry: CaseEntry, plain: bool) -> str:
    """The findings that one thing said stands for, with its value and code."""
    events = [event for event in entry.events if isinstance(event, Noted)]
    said = listed(dict.fromkeys(_finding(knowledge, event, plain) for event in events))
    first = events[0]
    value = f" ({value_words(first.value, first.unit)})" if first.value is not None else ""
    code = f"{first.code}: " if first.code else ""
    return f"{code}{said}{value}{_SURE[first.confidence]}"


def value_words(value: float, unit: str) -> str:
    """A value with its unit."""
    return f"{value:g} {unit}".strip()


def _finding(knowledge: Knowledge, event: Noted, plain: bool) -> str:
    finding = noted(knowledge, event.finding)
    if finding is None:
        return f"{event.finding}: {event.state}"
    return with_place(seen(finding, event.state) if plain else finding.in_words(event.state), event.place)


def entry_words(knowledge: Knowledge, entry: CaseEntry, plain: bool = False) -> str:
    """One entry; `plain`: for who does not know the trade."""
    match entry.first:
        case Opened(complaint=complaint):
            return f"Came in: {complaint or 'no complaint given'}"
        case Noted():
            return noted_words(knowledge, entry, plain)
        case Measured(quantity=quantity, value=value, unit=unit):
            return f"Measured: {quantity} {value_words(value, unit)}"
        case Coded(code=code):
            return f"{code}: kept, not used"
        case Checked(check=check, text=text) if is_proof(check):
            mark = "Proof due later" if text == LATER else "Proved"
            return f"{mark}: {proof_words(knowledge, check)}"
        case Waits(reason=reason, text=text):
            return f"{waits_words(reason).capitalize()}{_remark(text)}"
        case Checked(check=check, text=text):
            return f"Check done: {name_of(knowledge.checks, check)}{_remark(text)}"
        case OpenedUp(access=access, text=text):
            return f"Opened: {name_of(knowledge.access, access)}{_remark(text)}"
        case Repaired(text=text):
            return f"Repaired: {in_a_row(repaired_names(knowledge, entry.first) or ('something',))}{_remark(text)}"
        case Learnt(text=text):
            return f"Learnt of the machine: {_learnt(knowledge, entry.first)}{_remark(text)}"
        case Closed():
            return _closed(knowledge, entry.first)
        case Reopened(text=text, comeback=back):
            return f"{'Came back' if back else 'Taken up again; it had not left'}{_remark(text)}"
    return entry.first.kind


def repaired_names(knowledge: Knowledge, event: Repaired) -> tuple[str, ...]:
    """The repairs done, and causes that were dealt with in a way that the knowledge has no repair for."""
    known = [knowledge.repairs[id] for id in event.repairs if id in knowledge.repairs]
    cured = {cure.cause for repair in known for cure in repair.cures}
    others = [name_of(knowledge.causes, id) for id in event.causes if id not in cured]
    return (*(name_of(knowledge.repairs, id) for id in event.repairs), *others)


def typed_words(event: Event) -> str:
    """The words in which a finding was noted; nothing for values, codes and ids, which speak for themselves."""
    if not isinstance(event, Noted) or event.value is not None or event.code or event.text == event.finding:
        return ""
    return event.text


def _learnt(knowledge: Knowledge, event: Learnt) -> str:
    told = [f"{event.hours:g} h run"] if event.hours is not None else []
    told += [f"{name}: {value}" for name, value in fact_words(knowledge, event.facts)]
    told += [f"{part} renewed {hours:g} h ago" for part, hours in renewed_words(knowledge, event.renewed)]
    return "; ".join(told)


def _closed(knowledge: Knowledge, event: Closed) -> str:
    names = [f"{name_of(knowledge.causes, id)} ({event.how(id)})" for id in event.causes]
    proven = "repair proven" if event.proven else "repair not proven"
    return f"Closed: {listed(names) or 'no cause named'}; {proven}{_remark(event.text)}"


def _remark(text: str) -> str:
    return f" (“{text}”)" if text else ""
