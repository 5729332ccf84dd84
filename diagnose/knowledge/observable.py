"""What can be told of a case by one answer: a finding, a test by taking away, or a fact of the machine that nobody
has told yet."""

from __future__ import annotations

from diagnose.knowledge.away import is_away, named, own_as_finding, split, test_as_finding
from diagnose.knowledge.records import Fact, Finding, Knowledge

FACT = "fact"
"""The kind of a fact where it stands among findings."""
NO_YES = ("no", "yes")


def fact_name(fact: str, value: str = "") -> str:
    """The id under which a fact stands among findings; one of which several values can hold, one of its values."""
    return f"{fact}={value}" if value else fact


def observable(knowledge: Knowledge, id: str) -> Finding:
    """The finding of this id, the test by taking away as one, or the fact as one: its values are the states, or no
    and yes."""
    if (finding := noted(knowledge, id)) is not None:
        return finding
    fact, _, value = id.partition("=")
    return _as_finding(knowledge.facts[fact], value)


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
    return Finding(
        id=fact_name(fact.id, value),
        name=f"{fact.name}: {value}" if value else fact.name,
        system="",
        kind=FACT,
        states=NO_YES if value else fact.values,
        leak=(),
        other=None,
        aliases=(),
        observe=fact.question,
        reading=None,
        codes=(),
        place=fact.place,
    )
