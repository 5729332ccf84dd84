"""What a repair leaves to do: try it, prove it, close. Read from the case alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from diagnose.cases.case import Case
from diagnose.cases.complained import complained_of
from diagnose.cases.events import Checked
from diagnose.cases.understood import without_places
from diagnose.cases.waiting import LATER, PROOF
from diagnose.knowledge.records import Finding, Knowledge, Repair

A_SHIFT = 5.0
"""Running hours from which a proof is not waited for with the machine in the shop (judgement)."""


@dataclass(frozen=True, slots=True)
class ProofStep:
    """One step that proves a repair. `number`: its place among the steps of this, from 1; `later`: it was put off,
    and falls due after some hours; `hours`: of work or standing before it can be done."""

    repair: str
    number: int
    words: str
    later: bool = False
    hours: float = 0.0

    @property
    def id(self) -> str:
        """As it stands among the checks done of a case."""
        return f"{PROOF}{self.repair}:{self.number}"

    @property
    def takes_hours(self) -> bool:
        """Whether it is not waited for with the machine in the shop."""
        return self.hours >= A_SHIFT


def complaint_to_note(knowledge: Knowledge, case: Case) -> bool:
    """Whether a complaint was seen before the last repair and nobody has said since whether it is still there."""
    of = complained_of(knowledge, case)
    *before, last = ({o.finding for o in epoch.observations if o.finding in of} for epoch in case.epochs)
    return any(before) and not last


def complaints(knowledge: Knowledge, case: Case) -> tuple[Finding, ...]:
    """What was complained of and was last seen to be there."""
    last = {seen.finding: seen.state for seen in without_places(knowledge, case).observations}
    found = ((knowledge.findings[id], last[id]) for id in complained_of(knowledge, case) if id in last)
    return tuple(finding for finding, state in found if state != finding.normal)


def to_see_later(knowledge: Knowledge, case: Case) -> tuple[Finding, ...]:
    """Complaints from before the last repair that can only be seen again after a shift's work or a night: whether
    they are gone nobody can say in the shop."""
    now = {o.finding for o in case.epochs[-1].observations}
    there = complaints(knowledge, case) if repaired(case) else ()
    return tuple(one for one in there if one.after_hours >= A_SHIFT and one.id not in now)


def to_try_now(knowledge: Knowledge, case: Case) -> tuple[Finding, ...]:
    """The complaints last seen to be there that show as soon as it runs; all, where none does."""
    later = to_see_later(knowledge, case)
    there = complaints(knowledge, case)
    return tuple(one for one in there if one not in later) or there


def waits_for_work(knowledge: Knowledge, case: Case) -> bool:
    """Whether nothing is left of the complaint but what can only be seen later."""
    later = to_see_later(knowledge, case)
    return bool(later) and later == complaints(knowledge, case)


def gone(knowledge: Knowledge, case: Case) -> bool:
    """Whether something was repaired, a complaint was tried after it, and none is there any more."""
    of = complained_of(knowledge, case)
    tried = any(o.finding in of for o in case.epochs[-1].observations)
    return bool(repaired(case)) and tried and not complaints(knowledge, case)


def tried(knowledge: Knowledge, case: Case) -> bool:
    """Whether it was repaired and is now to be run: nobody has tried it since, or its complaint is gone."""
    waits = complaint_to_note(knowledge, case) or waits_for_work(knowledge, case)
    return bool(repaired(case)) and (waits or gone(knowledge, case))


def repaired(case: Case) -> tuple[str, ...]:
    """The repairs of this visit, each once."""
    return tuple(dict.fromkeys(id for epoch in case.epochs[1 + case.visits[-1] :] for id in epoch.repairs))


def proofs(knowledge: Knowledge, case: Case) -> tuple[ProofStep, ...]:
    """What proves the repairs of this visit and was not ticked since the last of them."""
    told = {
        event.check: event.text
        for event in case.history
        if isinstance(event, Checked) and event.sequence not in case.withdrawn
    }
    ticked = {id: text for id, text in told.items() if id in case.epochs[-1].checks}
    steps = {
        one.words: replace(one, later=ticked.get(one.id) == LATER)
        for id in repaired(case)
        if id in knowledge.repairs
        for one in _steps(knowledge.repairs[id])
    }
    return tuple(one for one in steps.values() if one.id not in ticked or one.later)


def _steps(repair: Repair) -> Iterator[ProofStep]:
    """The proofs of a repair in their order."""
    hours = repair.proven_after or (0.0,) * len(repair.verify)
    for number, (words, after) in enumerate(zip(repair.verify, hours, strict=True), 1):
        yield ProofStep(repair.id, number, words, hours=after)


def proof_words(knowledge: Knowledge, id: str) -> str:
    """The step of this id; the id itself where the knowledge has it no more."""
    steps = (one for repair in knowledge.repairs.values() for one in _steps(repair))
    return next((one.words for one in steps if one.id == id), id)
