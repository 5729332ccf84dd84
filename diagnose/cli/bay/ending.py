"""After a repair, and when the case is done."""

from __future__ import annotations

from diagnose.cli.bay.results import ask_results
from diagnose.cli.bay.visit import Visit
from diagnose.cli.closing import Ending, ask_ending, ending_events, leading
from diagnose.cli.types import REPAIR
from diagnose.diagnosis import Diagnosis
from diagnose.intake import repaired
from diagnose.knowledge.records import Finding
from diagnose.report.text import item, numbered
from diagnose.report.words import CAUTION


def repair(visit: Visit, diagnosis: Diagnosis | None) -> None:
    """Which repair was done; then how to prove it, and whether the complaint is still there."""
    done = _repair_done(visit, diagnosis)
    if done is None:
        return
    asked = _complaints(visit)
    visit.keep(repaired(visit.knowledge, [done]))
    if record := visit.knowledge.repairs.get(done):
        visit.talk.say(*(item("prove it:", step) for step in record.verify), CAUTION)
    if asked:
        visit.talk.say("", "Now tried again, with everything together. Is it still so?")
        ask_results(visit, asked)


def _repair_done(visit: Visit, diagnosis: Diagnosis | None) -> str | None:
    """The repair chosen by number among those of the leading causes, or told in words."""
    ranked = leading(diagnosis)
    fitting = [r for r in visit.knowledge.repairs.values() if any(c.cause in ranked for c in r.cures)]
    visit.talk.say("Which repair was done?", numbered(one.name for one in fitting))
    answer = visit.talk.ask("Number, or the repair or part in words (Enter: none):")
    if answer.isdecimal() and 1 <= int(answer) <= len(fitting):
        return fitting[int(answer) - 1].id
    return REPAIR.meant(visit.knowledge, answer) if answer else None


def _complaints(visit: Visit) -> list[Finding]:
    """The complaints seen in the epoch that the repair ends."""
    findings = visit.knowledge.findings
    seen = [
        (findings[o.finding], o.state) for o in visit.case.epochs[-1].observations if o.finding in findings
    ]
    return [finding for finding, state in seen if finding.other and state != finding.states[0]]


def close(visit: Visit, diagnosis: Diagnosis | None) -> None:
    """Ask what was found and done, and close the case."""
    said = ask_ending(visit.knowledge, visit.case, Ending(), visit.talk, leading(diagnosis))
    events, words = ending_events(visit.knowledge, visit.case, said)
    visit.record(events)
    visit.talk.say(f"Case {visit.number}: kept", *words)
