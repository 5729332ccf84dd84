"""At which cylinder or bank: asked of what was told without, and of what a test of each by itself has found."""

from __future__ import annotations

from dataclasses import replace

from diagnose.cases.events import Checked, Noted
from diagnose.cli.bay.session import BaySession
from diagnose.intake.outcome import Intake
from diagnose.knowledge.located import kind_of, objection, place_of, with_place
from diagnose.knowledge.observable import WHERE
from diagnose.knowledge.records import Finding
from diagnose.plain import small

TESTED = ("inspection", "reading")
"""Kinds of findings of which who sees them knows the cylinder."""


def ask_place(session: BaySession, check: str) -> None:
    """At which cylinder or bank what was found is; that it is not known is kept too."""
    finding = session.knowledge.findings[check.removeprefix(WHERE)]
    seen = next(one for one in reversed(session.case.observations) if one.finding == finding.id)
    place = _which(session, finding)
    session.record((Noted(finding.id, seen.state, place=place),) if place else (Checked(check, "not known"),))
    if place:
        session.talk.say(f"Noted: {with_place(finding.in_words(seen.state), place)}")


def at_its_place(session: BaySession, intake: Intake) -> Intake:
    """What was found at one cylinder or bank, with that: who tests each by itself knows which it is."""
    known = session.knowledge.findings
    events, words = list(intake.events), list(intake.words)
    for n, one in enumerate(intake.events):
        finding = known.get(one.finding) if isinstance(one, Noted) and not one.place else None
        if isinstance(one, Noted) and finding is not None:
            place = seen_at(session, finding, finding.states.index(one.state))
            events[n] = replace(one, place=place)
            words[n] = with_place(words[n], place)
    return replace(intake, events=tuple(events), words=tuple(words))


def seen_at(session: BaySession, finding: Finding, state: int) -> str:
    """The place at which a test of each cylinder or bank found something; empty where it found nothing, or tells of
    no place."""
    return _which(session, finding) if state and finding.located and finding.kind in TESTED else ""


def _which(session: BaySession, finding: Finding) -> str:
    """The place as it is typed, as a number or in words; empty where it is not known."""
    facts, kind = session.case.machine.facts, finding.located
    others = next((one.place for one in session.case.observations if kind_of(one.place) == "bank"), "")
    session.talk.say(f"Where it is: {small(finding.name)}.")
    while answer := session.talk.ask(f"Which {kind} (Enter: not known)?"):
        place = place_of(answer) or place_of(f"{kind} {answer}")
        wrong = objection(session.knowledge, facts, finding.id, place, others) if place else ""
        if place and not wrong:
            return place
        session.talk.say(f"{wrong[0].upper()}{wrong[1:]}." if wrong else f"Give one {kind}.")
    return ""
