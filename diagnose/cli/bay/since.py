"""When was the machine last right: asked once where it matters, answered as one speaks, in running hours."""

from __future__ import annotations

import re

from diagnose.cases.events import Checked, Learnt
from diagnose.cli.bay.session import BaySession
from diagnose.knowledge.observable import LAST_RIGHT_QUESTION
from diagnose.network.priors import exposures
from diagnose.planning.since import ASK_LAST_RIGHT

NOT_KNOWN = (
    "",
    "?",
    "no",
    "not known",
    "unknown",
    "no idea",
    "don't know",
    "dont know",
    "do not know",
    "dunno",
)
LONGEST = 10_000.0
"""Running hours taken for "never", where nobody knows how many the machine has run."""
_DAYS = {
    **dict.fromkeys(("day", "night", "shift"), 1.0),
    "week": 5.0,
    "month": 21.0,
    "year": 250.0,
}
"""Working days (common practice)."""
_ONE_WORD = {
    **dict.fromkeys(("today", "this morning", "just now", "a moment", "minutes"), 0.5),
    **dict.fromkeys(("yesterday", "overnight", "the other day"), 1.0),
}
_COUNTED = "one two three four five six seven eight nine ten eleven twelve"
_NUMBERS = {
    **{word: float(n) for n, word in enumerate(_COUNTED.split(), 1)},
    **dict.fromkeys(("a", "an", "the", "last", "this"), 1.0),
    "half": 0.5,  # below: as people mean them (judgement)
    "couple": 2.0,
    "few": 3.0,
    "several": 4.0,
}
_FILLER = re.compile(
    r"\b(?:it|was|ran|runs|has|been|fine|ok|okay|right|well|good|since|about|around|some|roughly|maybe|perhaps|ago|back"
    r"|or so|of|running|engine|until|till|only)\b|[~.,;!]"
)
_HOURS = re.compile(r"(\d+(?:\.\d+)?) ?(?:h|hr|hrs|hours?)?")
_SPAN = re.compile(
    r"(?:(?:an?|the|last|past) )?(?:(\d+(?:\.\d+)?)|(\w+)(?: an?)?) ?(day|night|shift|week|month|year|hour)s?"
)


def hours_told(text: str, day: float, run: float | None = None) -> float | None:
    """Running hours in an answer such as `yesterday`, `since last week`, `300 h`; None where it is not understood.

    `day`: the hours that the machine runs in a day's work; `run`: all that it has run.
    """
    told = text.lower().replace(",", "") if re.search(r"\d,\d{3}\b", text) else text.lower().replace(",", ".")
    plain = " ".join(re.sub(_FILLER, " ", re.sub(r"(?<=\d)\.(?=\d)", "@", told)).replace("@", ".").split())
    if plain in _ONE_WORD:
        return _ONE_WORD[plain] * day
    if "never" in plain.split():
        return LONGEST if run is None else run
    if found := _HOURS.fullmatch(plain):
        return float(found[1])
    if found := _SPAN.fullmatch(plain):
        number = float(found[1]) if found[1] else _NUMBERS.get(found[2])
        return None if number is None else number * (_DAYS.get(found[3], 0.0) * day or 1.0)
    return None


def ask_last_right(session: BaySession) -> None:
    """Ask, and keep the answer; that it is not known is kept too, so that nobody is asked again."""
    session.talk.say("", LAST_RIGHT_QUESTION + " It changes what is likely.")
    prompt = "Hours since, or yesterday, 2 weeks ... (Enter: not known):"
    while (answer := session.talk.ask(prompt)).lower() not in NOT_KNOWN:
        hours = hours_told(answer, _day(session), session.case.machine.hours)
        if hours is not None:
            session.record((Learnt(last_right=hours, text=answer),))
            session.talk.say(f"Noted: last right {hours:g} running hours ago")
            return
        session.talk.say("Say it as running hours, days, weeks or months.")
    session.record((Checked(ASK_LAST_RIGHT, "not known"),))


def _day(session: BaySession) -> float:
    """Running hours of a day's work: between two standing nights."""
    known = exposures(session.knowledge)
    return 1 / known.per_hour("per_night", session.case.machine.facts.get(known.fact("per_night"), ""))
