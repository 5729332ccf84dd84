"""What the stored codes say together, once they were read. Pure."""

from __future__ import annotations

from diagnose.cases.case import Case
from diagnose.cases.events import Noted
from diagnose.codes.circuits import circuits
from diagnose.intake.outcome import Intake
from diagnose.knowledge.records import Finding, Knowledge


def codes_say(knowledge: Knowledge, case: Case) -> Intake:
    """The findings that so many circuit codes show, there or not; those noted before are left as they are."""
    seen = case.epochs[-1].observations
    told = {one.finding for one in seen}
    count = circuits(one.code for one in seen if one.state != "absent")
    asked = [one for one in knowledge.findings.values() if one.circuit_codes and one.id not in told]
    asked = [one for one in asked if case.machine.fits(one.only_if)]
    events = tuple(Noted(one.id, _state(one, count), knowledge=knowledge.version) for one in asked)
    return Intake(events, tuple(one.in_words(_state(one, count)) for one in asked))


def _state(finding: Finding, count: int) -> str:
    return finding.states[int(count >= (finding.circuit_codes or 0))]
