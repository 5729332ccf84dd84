"""Doing a check: its cautions first, then the steps, then the result of each finding that it shows."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rich.text import Text

from diagnose.cases.case import Case
from diagnose.cases.events import Checked, Event, Learnt, Noted, OpenedUp
from diagnose.cases.waiting import PART
from diagnose.cli.asking import settled
from diagnose.cli.bay.placing import ask_place, at_its_place, seen_at
from diagnose.cli.bay.session import BaySession
from diagnose.cli.bay.since import ask_last_right
from diagnose.cli.talk import GOES_ON, numbers
from diagnose.errors import CallError
from diagnose.intake.outcome import Intake
from diagnose.intake.readings import measured
from diagnose.intake.stored_codes import codes_say
from diagnose.knowledge.limits import limit_words
from diagnose.knowledge.observable import FACT, LOOKED, fact_of, is_where, observable
from diagnose.knowledge.records import Finding
from diagnose.planning.checks import CheckValue
from diagnose.planning.since import ASK_LAST_RIGHT
from diagnose.planning.unasked import may_come_back
from diagnose.report.screen_words import CAUTION, listed, minutes
from diagnose.report.text import QUIET, STRONG, care, item, line, numbered

_SHORT = {"y": "present", "yes": "present", "n": "absent", "no": "absent"}
NOT_TOLD = ("could not tell", "not done")
_NOT_TOLD = re.compile(r" \([^()]* not told\)")
CODE = "code"
SEVERAL = 3
"""So many questions with yes or no are asked as one list."""


def do_check(session: BaySession, check: CheckValue, expected: Sequence[str] = ()) -> None:
    """Show how it is done, cautions first, and ask what it showed. `expected`: of codes, those that were
    likely to be read."""
    done = check.id if check.id in session.knowledge.checks else ""
    if done:
        _show_steps(session, check)
    findings = (
        [] if check.id == ASK_LAST_RIGHT else [observable(session.knowledge, id) for id in check.findings]
    )
    if not findings:
        ask_last_right(session)
    elif is_where(check.id):
        ask_place(session, check.id)
    elif findings[0].kind == FACT:
        ask_fact(session, check.id, fact_of(check.findings[0])[0])
    else:
        codes = [one for one in findings if one.kind == CODE]
        others = asked_once([one for one in findings if one.kind != CODE and not one.circuit_codes])
        if not codes or ask_codes(session, "" if others else check.id, expected):
            ask_findings(session, others, done)


def ask_findings(session: BaySession, findings: Sequence[Finding], check: str) -> None:
    """Several questions with yes or no as one list; then the others, such as readings, one after another."""
    others = [one for one in findings if not _yes_or_no(one)]
    listed = [one for one in findings if _yes_or_no(one)]
    told: bool | None = True
    if len(listed) < SEVERAL:
        others = list(findings)
    else:
        told = ask_together(session, listed, "" if others else check)
    if others and told is not None:
        ask_results(session, others, check if told else "")


def asked_once(findings: Sequence[Finding]) -> list[Finding]:
    """Without the general ones (a warning lamp) of which a kind (the amber lamp) is asked in the same go."""
    told = {general for one in findings for general in one.kind_of}
    return [one for one in findings if one.id not in told]


def _yes_or_no(finding: Finding) -> bool:
    return finding.states[1:] == ("present",) and finding.reading is None


def ask_together(session: BaySession, findings: Sequence[Finding], check: str) -> bool | None:
    """Questions with yes or no as one list: those that are so by number, the others are noted as not so. Whether
    nothing is left of them; None where the person went back."""
    session.talk.say("Which of these are so? The others are noted as not so.")
    session.talk.say(numbered(asked_name(one) for one in findings))
    while answer := session.talk.ask("Numbers (0 none, ?3 not told, Enter: one by one):").lower():
        if answer in ("b", "back"):
            return None
        try:
            yes, untold = _numbers(answer, len(findings))
        except CallError as error:
            session.talk.say(str(error))
            continue
        told = [(one, n in yes) for n, one in enumerate(findings, 1) if n not in untold]
        noted = [Noted(one.id, one.states[int(so)], place=seen_at(session, one, int(so))) for one, so in told]
        untold_ones = [Checked(f"{LOOKED}{one.id}") for n, one in enumerate(findings, 1) if n in untold]
        done = [_done(session, check, findings)] if check else []
        session.record((*_opened(session, check), *noted, *untold_ones, *done))
        words = [one.name for one, so in told if so]
        others = [f"Noted as not so: {len(told) - len(words)}"] if len(told) > len(words) else []
        session.talk.say(*(f"Noted: {one}" for one in words), *others)
        return True
    return ask_results(session, findings, check)


def _numbers(answer: str, of: int) -> tuple[set[int], set[int]]:
    """The numbers typed, and those with a question mark. Raises CallError where one is none."""
    yes, untold = set[int](), set[int]()
    for word in answer.replace(",", " ").split():
        number = word.strip("?")
        if not number.isdecimal() or int(number) > of:
            raise CallError(f"Give numbers from 1 to {of} with commas, or 0 for none.")
        (untold if word.startswith("?") else yes).add(int(number))
    return yes - {0}, untold


def asked_name(finding: Finding) -> str:
    """The name of a finding as it is asked: that something else was not told is of the record only."""
    return _NOT_TOLD.sub("", finding.name)


def ask_codes(session: BaySession, check: str, expected: Sequence[str]) -> bool:
    """The codes as they are read, in one line or several; then the reading is done, and what was likely and not
    read is known not to be stored. False where they were not read."""
    session.talk.say("", "Type the codes as read, with commas between, for example SPN 164 FMI 18, P2291.")
    prompt = "Codes (Enter: no more, b: not read):"
    while answer := session.talk.ask(prompt):
        if answer.lower() in ("b", "back"):
            return False
        for text in filter(None, map(str.strip, answer.split(","))):
            _one_code(session, text)
        prompt = "More codes (Enter: no more):"
    known = session.knowledge.findings
    told = {seen.finding for seen in session.case.epochs[-1].observations}
    read = any(known[id].kind == CODE for id in told if id in known)
    absent = [known[id] for id in expected if id not in told]
    done = (*_opened(session, check), Checked(check)) if check else ()
    said = codes_say(session.knowledge, session.case)
    if events := (*(Noted(one.id, one.normal) for one in absent), *said.events, *done):
        session.record(events)
    session.tell(said.events, said.words)
    session.talk.say("Noted: codes read, no others." if read else "Noted: codes read, none stored.")
    return True


def _one_code(session: BaySession, text: str) -> None:
    try:
        session.note(text)
    except CallError as error:
        session.talk.say(str(error))


def ask_fact(session: BaySession, check: str, id: str) -> None:
    """Ask what nobody has told of the machine, and store the answer; that it is not known is kept too, so that
    nobody is asked again."""
    fact = session.knowledge.facts[id]
    chosen = session.talk.choose(fact.question, fact.values)
    if chosen is None:
        session.record((Checked(check, "not known"),))
    else:
        value = fact.values[chosen]
        session.record((Learnt(facts={id: value}),))
        session.talk.say(f"Noted: {fact.name}: {value}")


def _show_steps(session: BaySession, check: CheckValue) -> None:
    talk = session.talk
    talk.say(line(f"{check.name} ({minutes(check.total_minutes)})", style=STRONG))
    if check.access:
        talk.say(line(f"Open first: {listed(access.name for access in check.access)}"))
    if check.hazards:
        talk.say(*care(check.hazards), line(CAUTION, style=QUIET))
        talk.wait(GOES_ON)  # read first; nothing typed here may answer what comes later
    if check.tools:
        talk.say(line(f"Tools: {', '.join(check.tools)}"))
    talk.say(*(item(f"{i}.", step) for i, step in enumerate(check.steps, 1) if step))


def ask_results(session: BaySession, findings: Sequence[Finding], check: str = "") -> bool | None:
    """Ask for each finding in turn, storing each answer at once; u goes back to the one before, b leaves. The check
    counts as done once nothing of it is left: whether that is so, None where the person left."""
    place, start = 0, len(session.case.history)
    answered: list[tuple[int, bool]] = []
    left: set[int] = set()
    while place < len(findings):
        if _told_since(session, findings[place].id, start):
            place += 1  # one value can set several findings
            continue
        _show(session, findings[place], place + 1, len(findings))
        answer = session.talk.ask("Number (u undo, b back):")
        if answer.lower() in ("b", "back"):
            return None
        if answer.lower() in ("u", "undo"):
            place = _step_back(session, answered, place)
            left.discard(place)
            continue
        try:
            intake = _answered(session, findings[place], answer)
        except CallError as error:
            session.talk.say(str(error))
            continue
        left |= {place} if intake is None else set()
        last = not left and place == len(findings) - 1
        told = at_its_place(session, intake or Intake())
        if intake is not None and not intake.events:
            told = _not_told(session, findings[place])
        done = (_done(session, check, findings),) if check and last else ()
        answered.append((place, _store(session, told, check, done)))
        place += 1
    if check and not left and check not in session.case.epochs[-1].checks:
        session.record((_done(session, check, findings),))
    return not left


def _told_since(session: BaySession, finding: str, start: int) -> bool:
    return any(o.finding == finding and o.event > start for o in session.case.epochs[-1].observations)


def _show(session: BaySession, finding: Finding, place: int, of: int) -> None:
    count = f"{place} of {of}: " if of > 1 else ""
    session.talk.say("", Text(f"{count}{asked_name(finding)}", STRONG))
    if finding.observe:
        session.talk.say(line(finding.observe, style=QUIET))
    if finding.reading:
        limits = limit_words(finding.reading, session.case.machine.facts)
        session.talk.say(*(line(one, style=QUIET) for one in limits))
        session.talk.say(
            line(f"Type the value with its unit ({finding.reading.unit} or alike), or a number:")
        )
    session.talk.say(numbered([*map(_asked, reversed(finding.states)), *NOT_TOLD]))


def _asked(state: str) -> str:
    """How a state is offered: a name such as "no engine speed" is easier answered with yes or no."""
    return {"present": "yes (present)", "absent": "no (absent)"}.get(state, state)


def _answered(session: BaySession, finding: Finding, answer: str) -> Intake | None:
    """What one answer says; nothing in it where it could not be told, None where it was not tried. Raises CallError
    where it is no answer."""
    choices = [*reversed(finding.states), *NOT_TOLD]
    if not answer.isdecimal():
        return _in_own_words(session, finding, answer)
    if 1 <= int(answer) <= len(finding.states):
        state = choices[int(answer) - 1]
        return Intake((Noted(finding.id, state),), (finding.in_words(state),))
    if not 1 <= int(answer) <= len(choices):
        raise CallError(f"{numbers(len(choices))}.")
    return Intake() if int(answer) == len(choices) - 1 else None


def _in_own_words(session: BaySession, finding: Finding, answer: str) -> Intake:
    """The name of a state, yes or no, or a value with its unit."""
    state = _SHORT.get(answer.lower(), answer.lower())
    if state in finding.states:
        return Intake((Noted(finding.id, state),), (finding.in_words(state),))
    if finding.reading and answer:
        return _value(session, finding.reading.quantity, answer)
    raise CallError("Give the number before the answer that fits.")


def _value(session: BaySession, quantity: str, text: str) -> Intake:
    """What a value means on this machine, asking for the fact that decides it."""

    def again(case: Case, _: str) -> Intake:
        return measured(session.knowledge, case, quantity, text)

    return settled(session.knowledge, session.case, again(session.case, ""), session.talk.choose, again)


def _not_told(session: BaySession, finding: Finding) -> Intake:
    """That it was asked and nobody could tell: it is not asked again."""
    if not may_come_back(session.knowledge, finding.id):
        return Intake()
    return Intake((Checked(f"{LOOKED}{finding.id}"),), (f"not told: {asked_name(finding)}",))


def _done(session: BaySession, check: str, asked: Sequence[Finding]) -> Checked:
    """That the check was done; in part where some of its questions had nothing to do with the case now."""
    known = {one.finding for one in session.case.epochs[-1].observations} | {one.id for one in asked}
    rest = (id for id in session.knowledge.checks[check].reveals if id not in known)
    part = any(may_come_back(session.knowledge, id) for id in rest)
    return Checked(check, PART if part else "")


def _store(session: BaySession, intake: Intake, check: str, done: tuple[Checked, ...]) -> bool:
    """Store an answer, with the first one what was opened for the check, with the last one that it was done."""
    opening = _opened(session, check) if intake.events or done else ()
    events = (*opening, *intake.events, *done)
    if not events:
        return False
    session.record(events)
    session.tell(intake.events, intake.words)
    return True


def _opened(session: BaySession, check: str) -> tuple[Event, ...]:
    """What had to be opened for a check and is not noted yet."""
    known = session.knowledge.checks.get(check)
    needed = known.access if known else ()
    return tuple(OpenedUp(id) for id in needed if id not in session.case.access_open)


def _step_back(session: BaySession, answered: list[tuple[int, bool]], place: int) -> int:
    """Undo the answer before, if one was stored for it; the place of its question."""
    if not answered:
        session.talk.say("Nothing to undo in this check.")
        return place
    before, stored = answered.pop()
    if stored:
        session.undo()
    session.talk.say("Taken back.")
    return before
