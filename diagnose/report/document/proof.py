"""What stands for a repair: the complaint since, and what was looked at before and after it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from diagnose.cases.case import Case, Observation
from diagnose.cases.complained import complained_of
from diagnose.cases.events import Noted, Repaired
from diagnose.cases.understood import without_places
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.report.document.case_record import Compared, Proof
from diagnose.report.document.record_words import value_words
from diagnose.report.document.work_records import Tried


def proof(knowledge: Knowledge, case: Case) -> Proof:
    """The proof of the last repair as far as it was recorded."""
    case = without_places(knowledge, case)
    before = _known(knowledge, _latest(epoch.observations for epoch in case.epochs[:-1]))
    after = _known(knowledge, _latest([case.epochs[-1].observations]))
    of = complained_of(knowledge, case)
    had = {finding.id: finding.name for finding, seen in before if finding.id in of and _shown(finding, seen)}
    since = {finding.id: _shown(finding, seen) for finding, seen in after if finding.id in of}
    there = tuple(finding.name for finding, _ in after if since.get(finding.id))
    if len(case.epochs) == 1:
        return Proof("nothing repaired", there, (), ())
    again = {seen.finding: seen for _, seen in after}
    unread = dict.fromkeys(_title(f) for f, s in before if s.finding not in again and _shown(f, s))
    tried, complaints = _tried(had, since, there)
    if tried == "still there" and _was_gone(knowledge, case):
        tried = "there again"
    return Proof(tried, complaints, tuple(_rows(knowledge, before, again).values()), tuple(unread))


def since(knowledge: Knowledge, case: Case, epoch: int) -> Tried:
    """What was known of the complaint after the repair that began this epoch, when the next was done; else now."""
    last = epoch == len(case.epochs) - 1
    return proof(
        knowledge, case if last else replace(case, epochs=case.epochs[: epoch + 1], history=())
    ).tried


def _tried(
    had: Mapping[str, str], since: Mapping[str, bool], there: tuple[str, ...]
) -> tuple[Tried, tuple[str, ...]]:
    """What is known of the complaints since the repair, and which they are: those still there, else those that
    nobody has noted since, else those that are gone. `had`: their names by id; `since`: whether each is there."""
    if there:
        return "still there", there
    open_yet = tuple(name for id, name in had.items() if id not in since)
    if open_yet or not since:
        return "not tried", open_yet
    return "gone", tuple(had.values())


def _was_gone(knowledge: Knowledge, case: Case) -> bool:
    """Whether a complaint was noted as gone at some time since the last repair."""
    of, gone = complained_of(knowledge, case), False
    for event in case.history:
        if event.sequence in case.withdrawn:
            continue
        if isinstance(event, Repaired):
            gone = False
        if isinstance(event, Noted) and event.finding in of:
            gone = gone or event.state == knowledge.findings[event.finding].normal
    return gone


def _latest(epochs: Iterable[Sequence[Observation]]) -> Mapping[str, Observation]:
    """The latest observation of each finding."""
    return {seen.finding: seen for observations in epochs for seen in observations}


def _known(knowledge: Knowledge, seen: Mapping[str, Observation]) -> list[tuple[Finding, Observation]]:
    findings = knowledge.findings
    return [(findings[id], one) for id, one in seen.items() if id in findings]


def _rows(
    knowledge: Knowledge, before: Sequence[tuple[Finding, Observation]], again: Mapping[str, Observation]
) -> dict[str, Compared]:
    """One row for each thing looked at twice; findings that one value sets are one thing."""
    rows: dict[str, Compared] = {}
    for finding, was in before:
        now = again.get(finding.id)
        if now is None:
            continue
        row = Compared(_title(finding), _words(finding, was), _words(finding, now), was.state != now.state)
        known = rows.get(row.name)
        if known is None or (row.tells and not known.tells):
            rows[row.name] = row
    return rows


def _shown(finding: Finding, seen: Observation) -> bool:
    return seen.state != finding.normal


def _title(finding: Finding) -> str:
    quantity = finding.reading.quantity if finding.reading else ""
    return f"{quantity[:1].upper()}{quantity[1:]}" if quantity else finding.name


def _words(finding: Finding, seen: Observation) -> str:
    """A state as the answer to its finding's name, with the value read."""
    state = {"absent": "no", "present": "yes"}.get(seen.state, seen.state)
    if seen.value is None:
        return state
    value = value_words(seen.value, seen.unit)
    return value if state in ("yes", "no") else f"{value} ({state})"
