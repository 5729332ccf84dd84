"""Doing a check: its cautions first, then the steps, then the result of each finding that it shows."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from diagnose.cases.case import Case
from diagnose.cases.events import Checked, Learnt, Noted, Repaired
from diagnose.cli.asking import settled
from diagnose.cli.bay.since import ask_last_right
from diagnose.cli.bay.visit import Visit
from diagnose.errors import CallError
from diagnose.intake import Intake, checked, measured
from diagnose.knowledge.limits import limit_words
from diagnose.knowledge.observable import FACT, observable
from diagnose.knowledge.records import Finding
from diagnose.planning.checks import CheckValue
from diagnose.planning.since import ASK_LAST_RIGHT
from diagnose.report.checklist import takes
from diagnose.report.text import QUIET, STRONG, cautions, item, line, numbered
from diagnose.report.words import CAUTION

_SHORT = {"y": "present", "yes": "present", "n": "absent", "no": "absent"}
NOT_TOLD = ("could not tell", "not done")


def do_check(visit: Visit, check: CheckValue) -> None:
    """Show how it is done, cautions first, and ask what it showed."""
    done = check.id if check.id in visit.knowledge.checks else ""
    if done:
        _show_steps(visit, check)
    if check.id == ASK_LAST_RIGHT:
        ask_last_right(visit)
    elif observable(visit.knowledge, check.findings[0]).kind == FACT:
        ask_fact(visit, check.findings[0].partition("=")[0])
    else:
        ask_results(visit, [observable(visit.knowledge, id) for id in check.findings], done)


def ask_fact(visit: Visit, id: str) -> None:
    """Ask what nobody has told of the machine, and store the answer."""
    fact = visit.knowledge.facts[id]
    chosen = visit.talk.choose(fact.question, fact.values)
    if chosen is not None:
        value = fact.values[chosen]
        visit.record((Learnt(facts={id: value}),))
        visit.talk.say(f"Noted: {fact.name}: {value}")


def _show_steps(visit: Visit, check: CheckValue) -> None:
    talk = visit.talk
    talk.say(Text(check.name, STRONG), line(takes(check), style=QUIET))
    if check.hazards:
        talk.say(*cautions(check.hazards), line(CAUTION, style=QUIET))
        talk.ask("-- Enter goes on --")  # read first; nothing typed here may answer what comes later
    if check.tools:
        talk.say(line(f"Tools: {', '.join(check.tools)}"))
    talk.say(*(item(f"{i}.", step) for i, step in enumerate(check.steps, 1) if step))


def ask_results(visit: Visit, findings: Sequence[Finding], check: str = "") -> None:
    """Ask for each finding in turn, storing each answer at once; u goes back to the one before, b leaves."""
    place, start = 0, len(visit.case.history)
    answered: list[tuple[int, bool]] = []
    while place < len(findings):
        if _told_since(visit, findings[place].id, start):
            place += 1  # one value can set several findings
            continue
        _show(visit, findings[place], place + 1, len(findings))
        answer = visit.talk.ask("Number (u undo, b back):")
        if answer.lower() in ("b", "back"):
            return
        if answer.lower() in ("u", "undo"):
            place = _step_back(visit, answered, place)
            continue
        try:
            answered.append((place, _answered(visit, findings[place], answer, check)))
            place += 1
        except CallError as error:
            visit.talk.say(str(error))


def _told_since(visit: Visit, finding: str, start: int) -> bool:
    return any(o.finding == finding and o.event > start for o in visit.case.epochs[-1].observations)


def _show(visit: Visit, finding: Finding, place: int, of: int) -> None:
    visit.talk.say("", Text(f"{place} of {of}: {finding.name}", STRONG))
    if finding.observe:
        visit.talk.say(line(finding.observe, style=QUIET))
    if finding.reading:
        limits = limit_words(finding.reading, visit.case.machine.facts)
        visit.talk.say(*(line(one, style=QUIET) for one in limits))
        visit.talk.say(line(f"Type the value with its unit ({finding.reading.unit} or alike), or a number:"))
    visit.talk.say(numbered([*map(_asked, reversed(finding.states)), *NOT_TOLD]))


def _asked(state: str) -> str:
    """How a state is offered: a name such as "no engine speed" is easier answered with yes or no."""
    return {"present": "yes (present)", "absent": "no (absent)"}.get(state, state)


def _answered(visit: Visit, finding: Finding, answer: str, check: str) -> bool:
    """Store one answer; whether anything was stored. Raises CallError where it is none."""
    choices = [*reversed(finding.states), *NOT_TOLD]
    if not answer.isdecimal():
        intake = _in_own_words(visit, finding, answer)
    elif 1 <= int(answer) <= len(finding.states):
        state = choices[int(answer) - 1]
        intake = Intake((Noted(finding.id, state),), (finding.in_words(state),))
    elif int(answer) in (len(choices) - 1, len(choices)):
        intake = Intake()
    else:
        raise CallError(f"Give a number from 1 to {len(choices)}.")
    tried = bool(intake.events) or answer == str(len(choices) - 1)
    return _store(visit, intake, check if tried else "")


def _in_own_words(visit: Visit, finding: Finding, answer: str) -> Intake:
    """The name of a state, yes or no, or a value with its unit."""
    state = _SHORT.get(answer.lower(), answer.lower())
    if state in finding.states:
        return Intake((Noted(finding.id, state),), (finding.in_words(state),))
    if finding.reading and answer:
        return _value(visit, finding.reading.quantity, answer)
    raise CallError("Give the number before the answer that fits.")


def _value(visit: Visit, quantity: str, text: str) -> Intake:
    """What a value means on this machine, asking for the fact that decides it."""

    def again(case: Case, _: str) -> Intake:
        return measured(visit.knowledge, case, quantity, text)

    return settled(visit.knowledge, visit.case, again(visit.case, ""), visit.talk.choose, again)


def _store(visit: Visit, intake: Intake, check: str) -> bool:
    """Store an answer, and with the first one that the check was done."""
    first = bool(check) and not any(
        isinstance(event, Checked) and event.check == check and event.sequence > _epoch_start(visit)
        for event in visit.case.history
        if event.sequence not in visit.case.withdrawn
    )
    done = checked(visit.knowledge, visit.case, check).events if first else ()
    if not intake.events and not done:
        return False
    visit.record((*done, *intake.events))
    visit.talk.say(*(f"Noted: {words}" for words in intake.words))
    return True


def _epoch_start(visit: Visit) -> int:
    """The number of the last repair in force, after which checks count anew."""
    repairs = [event.sequence for event in visit.case.history if isinstance(event, Repaired)]
    return max((n for n in repairs if n not in visit.case.withdrawn), default=0)


def _step_back(visit: Visit, answered: list[tuple[int, bool]], place: int) -> int:
    """Undo the answer before, if one was stored for it; the place of its question."""
    if not answered:
        visit.talk.say("Nothing to undo in this check.")
        return place
    before, stored = answered.pop()
    if stored:
        visit.undo()
    visit.talk.say("Taken back.")
    return before
