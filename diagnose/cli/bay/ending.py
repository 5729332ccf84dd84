"""After a repair, and when the case is done."""

from __future__ import annotations

from diagnose.cases.events import CONFIRMED, Closed, Confirmed
from diagnose.cli.bay.results import ask_results
from diagnose.cli.bay.visit import Visit
from diagnose.cli.types import CAUSE, REPAIR
from diagnose.diagnosis import Diagnosis
from diagnose.errors import CallError
from diagnose.intake import repaired
from diagnose.knowledge.records import Finding
from diagnose.report.explain import ordered
from diagnose.report.record import event_words
from diagnose.report.text import item, numbered
from diagnose.report.words import CAUTION

LEADING = 4


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
    leading = [cause.id for cause in ordered(diagnosis)[:LEADING]] if diagnosis else []
    fitting = [r for r in visit.knowledge.repairs.values() if any(c.cause in leading for c in r.cures)]
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
    """Ask what was found and close the case."""
    ranked = [cause.id for cause in ordered(diagnosis)[:LEADING]] if diagnosis else []
    visit.talk.say("What was it? Numbers or words, with commas between several; Enter: not found.")
    visit.talk.say(*(item(str(i), visit.knowledge.causes[id].name) for i, id in enumerate(ranked, 1)))
    causes = tuple(
        _cause(visit, ranked, word) for word in visit.talk.ask("Found:").split(",") if word.strip()
    )
    confirmed: Confirmed = "assumed"
    if causes:
        chosen = visit.talk.choose("How was it confirmed?", CONFIRMED)
        confirmed = CONFIRMED[chosen] if chosen is not None else "assumed"
    proven = visit.talk.ask("Was the repair proven by its own test (y/n)?").lower() in ("y", "yes")
    event = Closed(causes, confirmed, proven)
    visit.record((event,))
    visit.talk.say(f"Case {visit.number} {event_words(visit.knowledge, event)}")


def _cause(visit: Visit, ranked: list[str], word: str) -> str:
    if not word.isdecimal():
        return CAUSE.meant(visit.knowledge, word)
    if not 1 <= int(word) <= len(ranked):
        raise CallError(f"There is no number {word} here; nothing was closed.")
    return ranked[int(word) - 1]
