"""What can be told of a case by one answer: a finding, a test by taking away, or a fact of the machine that nobody
has told yet."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.errors import Place
from diagnose.knowledge.away import is_away, named, own_as_finding, split, test_as_finding
from diagnose.knowledge.located import apart, at, with_place
from diagnose.knowledge.machine_facts import Fact
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.plain import small

FACT = "fact"
"""The kind of a fact where it stands among findings."""
NO_YES, ELSEWHERE = ("no", "yes"), "elsewhere"
ASKED, LOOKED, TRIED, WHERE = "ask:", "look:", "try:", "where:"
"""What the ids of checks begin with that are made of a fact, of a finding, of a part taken out, or of the cylinder
or bank of a finding."""
LAST_RIGHT = "last-right"
"""The id under which the time since the machine was last right stands among findings (no id of the knowledge)."""
LAST_RIGHT_ANSWERS: Mapping[str, float] = {
    "10 h ago": 10.0,
    "100 h ago": 100.0,
    "500 h ago": 500.0,
    "2,000 h ago": 2000.0,
}
"""The answers reckoned with, in running hours: a day, two weeks, a service interval, a year or more of work."""
LAST_RIGHT_QUESTION = "When was the machine last known right?"


def fact_name(fact: str, value: str = "") -> str:
    """The id under which a fact stands among findings; one of which several values can hold, one of its values."""
    return f"{fact}={value}" if value else fact


def is_question(check: str) -> bool:
    """Whether the check of this id only asks for a fact of the machine."""
    return check.startswith(ASKED)


def is_look(check: str) -> bool:
    """Whether the check of this id is no procedure of the knowledge, only one finding to look or ask for."""
    return check.startswith(LOOKED)


def looked_for(check: str) -> str:
    """The finding that the look of this id is for; the id itself of any other check."""
    return check.removeprefix(LOOKED)


def is_where(check: str) -> bool:
    """Whether the check of this id asks for the cylinder or bank of what was told without."""
    return check.startswith(WHERE)


def fact_of(id: str) -> tuple[str, str]:
    """The fact that stands among findings under this id, and the value, if it is one of its values."""
    fact, _, value = id.partition("=")
    return fact, value


def observable(knowledge: Knowledge, id: str) -> Finding:
    """The finding of this id, the test by taking away as one, or the fact as one: its values are the states, or no
    and yes; or when it was last right; or whether a finding is at a place."""
    if (finding := noted(knowledge, id)) is not None:
        return finding
    if id == LAST_RIGHT:
        return _LAST_RIGHT
    bare, place = apart(id)
    if place:
        return _placed(knowledge.findings[bare], place)
    fact, value = fact_of(id)
    return _as_finding(knowledge.facts[fact], value)


def _placed(finding: Finding, place: str) -> Finding:
    """Whether the finding, which is there, is at this place."""
    question = f"At which {finding.located} ({small(finding.name)})?"
    return _told(
        at(finding.id, place), with_place(finding.name, place), (ELSEWHERE, place), question, finding.place
    )


def noted(knowledge: Knowledge, id: str) -> Finding | None:
    """The finding of this id, or the test by taking away as one; None where the knowledge has neither any more."""
    if (finding := knowledge.findings.get(id)) is not None:
        return finding
    if is_away(id):
        found = split(knowledge, id)
        return test_as_finding(*found) if found else None
    own = named(knowledge).get(id)
    return own_as_finding(*own) if own else None


def _as_finding(fact: Fact, value: str) -> Finding:
    name = f"{fact.name}: {value}" if value else fact.name
    return _told(fact_name(fact.id, value), name, NO_YES if value else fact.values, fact.question, fact.place)


def _told(id: str, name: str, states: tuple[str, ...], question: str, place: Place) -> Finding:
    return Finding(
        id=id,
        name=name,
        system="",
        kind=FACT,
        states=states,
        leak=(),
        other=None,
        aliases=(),
        observe=question,
        reading=None,
        codes=(),
        place=place,
    )


_LAST_RIGHT = _told(
    LAST_RIGHT, "Last known right", tuple(LAST_RIGHT_ANSWERS), LAST_RIGHT_QUESTION, Place("", 1, 1)
)
