"""What was typed -> events of a case, with words on what was understood. Pure; it never guesses silently."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from diagnose.cases.case import Case
from diagnose.cases.events import (
    Coded,
    Confidence,
    Event,
    Learnt,
    Measured,
    Noted,
)
from diagnose.cases.understood import understood, without_places
from diagnose.codes.cylinders import cylinder_of
from diagnose.codes.typed import PENDING, PREVIOUS, Code, explain, findings_for, parse_code
from diagnose.errors import CallError
from diagnose.intake.outcome import Choice, Intake, Typed, several, together, unknown
from diagnose.intake.places import place_behind, placed
from diagnose.intake.readings import reading
from diagnose.knowledge.away import STILL_THERE, finding_of, is_away
from diagnose.knowledge.away_words import Said, said
from diagnose.knowledge.located import at, kind_of, with_place
from diagnose.knowledge.lookup import Resolution, resolve
from diagnose.knowledge.observable import noted, observable
from diagnose.knowledge.readings import reading_of
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.knowledge.removable import Removable
from diagnose.words.likeness import EXACT_SCORE, Match
from diagnose.words.normal import without_negation

_LIKE_A_CODE = re.compile(r"\s*(spn|fmi|s\d+\s*f|[pcbu]\s?\d\w{3}\b)", re.IGNORECASE)
_STATE_NAMED = re.compile(r"(.+?)\s*=\s*([^=]+)")


def note(
    knowledge: Knowledge,
    case: Case,
    text: str,
    absent: bool = False,
    confidence: Confidence = "sure",
    *,
    state: str = "",
    as_written: str = "",
    now: str = "",
    places: Sequence[str] = (),
) -> Intake:
    """The events that a text stands for: a fault code, a reading with its unit, or a finding in words.

    `absent`: it was looked for and is not there. `state`: which state of the finding. `as_written`: the words
    first typed, where `text` is the answer to a question about them. `now`: the time (the store's if empty).
    `places`: the cylinders or banks where it was.
    Raises CallError where nothing comes near, and for a code, value or state that cannot be.
    """
    bare, place = place_behind(text.strip())
    places = (*places, place) if place else places
    typed = Typed(bare, absent, state, confidence, as_written or text.strip(), now)
    if not typed.text:
        raise CallError("There is nothing to note: say what was seen.")
    found = (
        _code(knowledge, typed)
        or reading(knowledge, case, typed)
        or _away(knowledge, case, typed)
        or _words(knowledge, typed)
    )
    found = located(knowledge, case, found, places)
    return replace(found, words=tuple(_with_before(knowledge, case, found)))


def tells_more(events: Iterable[Event]) -> bool:
    """Whether values read before can mean something else after these events."""
    return any(isinstance(event, Learnt | Measured) for event in events)


def followed(knowledge: Knowledge, before: Case, after: Case) -> tuple[str, ...]:
    """Words on the values read earlier whose meaning what was learnt since has changed."""
    if not tells_more(after.history[len(before.history) :]):
        return ()
    was = {(o.event, o.id): o.state for o in understood(knowledge, before).case.observations}
    noted = {event.sequence for event in before.history}
    changed = [
        seen
        for seen in understood(knowledge, after).case.observations
        if seen.event in noted and seen.value is not None and was.get((seen.event, seen.id)) != seen.state
    ]
    return tuple(
        f"{seen.value:g} {seen.unit} (number {seen.event}) means now: "
        f"{with_place(observable(knowledge, seen.finding).in_words(seen.state), seen.place)}"
        for seen in changed
    )


def grouped(knowledge: Knowledge, texts: Iterable[str]) -> tuple[str, ...]:
    """Words given one by one -> texts: several where each is clear alone or was quoted, else one phrase."""
    texts = tuple(texts)
    several = any(" " in text.strip() for text in texts) or all(
        _stands_alone(knowledge, text) for text in texts
    )
    return texts if several else (" ".join(texts),)


def _stands_alone(knowledge: Knowledge, word: str) -> bool:
    """One word that is a code, or the very name of a finding."""
    try:
        parse_code(word)
        return True
    except CallError:
        plain = word.strip().lower()
    return plain in knowledge.findings or any(
        plain == finding.name.lower() or any(plain == alias.lower() for alias in finding.aliases)
        for finding in knowledge.findings.values()
    )


# ---- fault codes ----


def _code(knowledge: Knowledge, typed: Typed) -> Intake | None:
    rest = without_negation(typed.text)
    try:
        code = parse_code(rest or typed.text)
    except CallError as error:
        if error.suggestions or _LIKE_A_CODE.match(rest or typed.text):
            raise
        return None
    ids = findings_for(knowledge, code)
    absent = typed.absent or rest is not None
    if code.status in (PREVIOUS, PENDING) and typed.confidence == "sure" and not absent:
        typed = replace(
            typed, confidence="likely"
        )  # it may belong to a trouble long cured, or not be confirmed
    if not ids:
        return _code_not_used(knowledge, typed, code, absent)
    return together([_noted(knowledge, typed, observable(knowledge, id), absent, code) for id in ids])


def _code_not_used(knowledge: Knowledge, typed: Typed, code: Code, absent: bool) -> Intake:
    if absent:
        raise CallError(f"{code.text} is not in the knowledge: that it is not set says nothing here.")
    event = Coded(code.text, typed.as_written, knowledge=knowledge.version, time=typed.now)
    return Intake((event,), (f"Kept, but not used (no finding lists it): {explain(code)}",))


# ---- tests by taking away ----


def _away(knowledge: Knowledge, case: Case, typed: Typed) -> Intake | None:
    """What a finding did with a part out, unless the text is the very name of something."""
    if typed.state or _plain(knowledge, typed.text):
        return None
    there = _there(knowledge, case)
    split = _STATE_NAMED.fullmatch(typed.text)
    if split and is_away(split[1].strip()) and noted(knowledge, split[1].strip()):
        return _tested(knowledge, case, typed, split[1].strip(), split[2].strip())
    found = said(knowledge, typed.text, there, lambda part: _fits(knowledge, case, part))
    if found is None:
        return None
    if len(found.ids) > 1:
        return Intake(
            question=f"“{typed.text}”: what is it of?",
            choices=tuple(_of(knowledge, found, id) for id in found.ids),
        )
    return _tested(knowledge, case, typed, found.ids[0], STILL_THERE if typed.absent else found.state)


def _fits(knowledge: Knowledge, case: Case, part: Removable) -> bool:
    """Whether the machine can have the part, by what is known of it."""
    ways = [part.only_if, *(knowledge.checks[id].only_if for id in part.by)]
    return any(map(case.machine.fits, ways[1:] or ways))


def _of(knowledge: Knowledge, found: Said, id: str) -> Choice:
    return Choice(f"{id} = {found.state}", observable(knowledge, id).in_words(found.state))


def _there(knowledge: Knowledge, case: Case) -> set[str]:
    """The findings that are there now."""
    last = {seen.finding: seen.state for seen in without_places(knowledge, case).epochs[-1].observations}
    return {
        id
        for id, state in last.items()
        if id in knowledge.findings and knowledge.findings[id].normal != state
    }


def _tested(knowledge: Knowledge, case: Case, typed: Typed, id: str, state: str) -> Intake:
    """The result, after the finding itself where nobody has noted it: what goes was there before."""
    test = _in_state(knowledge, replace(typed, absent=False), observable(knowledge, id), state)
    finding = knowledge.findings[finding_of(id)]
    before = {seen.finding for seen in case.epochs[-1].observations}
    if finding.id in before or len(finding.states) > 2:
        return test
    return together([_noted(knowledge, typed, finding, absent=False), test])


# ---- words ----


def _words(knowledge: Knowledge, typed: Typed) -> Intake:
    named = None if typed.state else _state_named(knowledge, typed)
    if named:
        return named
    found = resolve(knowledge, typed.text)
    if found.clear:
        return _meant(knowledge, typed, found)
    if not found.close:
        raise unknown(typed.text)
    return Intake(question=several(typed.text), choices=_close(knowledge, typed, found))


def _state_named(knowledge: Knowledge, typed: Typed) -> Intake | None:
    """`finding = state`, where the right side is a state of the finding on the left."""
    split = _STATE_NAMED.fullmatch(typed.text)
    found = resolve(knowledge, split[1]) if split else None
    if not split or not found or not found.clear:
        return None
    return _in_state(knowledge, typed, observable(knowledge, found.clear.id), split[2].strip())


def _close(knowledge: Knowledge, typed: Typed, found: Resolution) -> tuple[Choice, ...]:
    absent = typed.absent or found.negated
    return tuple(_choice(observable(knowledge, match.id), match, absent) for match in found.close)


def _choice(finding: Finding, match: Match, absent: bool) -> Choice:
    if absent:
        return Choice(f"{finding.id} = {finding.normal}", f"{finding.name}: {finding.normal}")
    return Choice(match.id, finding.name)


def _meant(knowledge: Knowledge, typed: Typed, found: Resolution) -> Intake:
    """One finding is meant; its state may still be in question."""
    assert found.clear is not None
    finding = observable(knowledge, found.clear.id)
    if typed.state:
        return _in_state(knowledge, typed, finding, typed.state)
    if typed.absent or (found.negated and len(finding.states) == 2):
        return _noted(knowledge, typed, finding, absent=True)
    if len(finding.states) == 2:
        return _noted(knowledge, typed, finding, absent=False)
    said = [state for state in finding.states[1:] if state in typed.text.lower().split()]
    if len(said) == 1 and not found.negated:
        return _in_state(knowledge, typed, finding, said[0])
    return which_state(finding)


def which_state(finding: Finding) -> Intake:
    """The question in which of its states a finding was seen."""
    choices = tuple(Choice(f"{finding.id} = {state}", finding.in_words(state)) for state in finding.states)
    return Intake(question=f"{finding.name}: which is it?", choices=choices)


def in_state(
    knowledge: Knowledge, finding: Finding, state: str, confidence: Confidence = "sure", text: str = ""
) -> Intake:
    """A finding seen in a state."""
    return _event(knowledge, Typed(text, False, "", confidence, text, ""), finding, state)


def _in_state(knowledge: Knowledge, typed: Typed, finding: Finding, state: str) -> Intake:
    known = {name.lower(): name for name in finding.states}
    if state.lower() not in known:
        raise CallError(f"“{finding.name}” has no state “{state}”.", finding.states)
    if typed.absent:
        raise CallError("Say that it is not there, or its state, but not both.")
    return _event(knowledge, typed, finding, known[state.lower()])


def _noted(
    knowledge: Knowledge, typed: Typed, finding: Finding, absent: bool, code: Code | None = None
) -> Intake:
    """The finding present (its second state, the only other one of most) or in its first state."""
    return _event(knowledge, typed, finding, finding.states[0 if absent else 1], code)


def _event(
    knowledge: Knowledge, typed: Typed, finding: Finding, state: str, code: Code | None = None
) -> Intake:
    named = cylinder_of(code) if code else ""
    event = Noted(
        finding.id,
        state,
        typed.confidence,
        typed.as_written,
        code=code.text if code else "",
        knowledge=knowledge.version,
        time=typed.now,
        place=named if finding.located == kind_of(named) else "",
    )
    lead = f"{code.text} -> " if code else ""
    return Intake((event,), (f"{lead}{with_place(finding.in_words(state), event.place)}",))


def located(knowledge: Knowledge, case: Case, found: Intake, places: Sequence[str]) -> Intake:
    """The same, each finding that is told by cylinder or bank at these places, where no code has named one. Raises
    CallError where the machine has no such place, or none of the findings is told so."""
    if not places or not found.events:
        return found
    told = placed(knowledge, case, zip(found.events, found.words, strict=True), places)
    return Intake(tuple(event for event, _ in told), tuple(words for _, words in told))


# ---- words on what was understood ----


def _plain(knowledge: Knowledge, text: str) -> bool:
    """The text alone is a code, a reading or the very name of a finding."""
    try:
        parse_code(text)
        return True
    except CallError:
        clear = resolve(knowledge, text).clear
    if clear and clear.score >= EXACT_SCORE:
        return True
    try:
        return reading_of(knowledge, text) is not None
    except CallError:
        return False


def _with_before(knowledge: Knowledge, case: Case, found: Intake) -> Iterable[str]:
    """The words, each with what the same finding was noted as before in this epoch."""
    before: Mapping[str, str] = {seen.id: seen.state for seen in case.epochs[-1].observations}
    for event, words in zip(found.events, found.words, strict=True):
        was = before.get(at(event.finding, event.place)) if isinstance(event, Noted) else None
        same = isinstance(event, Noted) and was == event.state
        yield f"{words} (as noted before)" if same else f"{words} (was: {was})" if was else words
