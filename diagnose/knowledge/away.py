"""Tests by taking away: what a finding does while a part is out of the machine.

A test has an id made of both, `knock@one_cylinder`, and stands where a finding can: it is noted, told and asked
like one, with the states `gone` and `still there`. What it means is never written down; the network works it out
(network/worlds.py). Source of the idea: interventions in troubleshooting, Pernestal, Nyberg & Warnquist, Eng.
Appl. AI (2012); Pearl's do-operator.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace

from diagnose.knowledge.records import BINARY, Finding, Knowledge
from diagnose.knowledge.removable import Removable, RemovalTest

GONE, STILL_THERE = "gone", "still there"
AT = "@"
WATCHED_KINDS = ("symptom", "reading", "code")
"""Kinds of findings that can change while a part is out; what was found by sight or asked stays as it is."""


def away_id(finding: str, part: str) -> str:
    """The id of the test: is the finding gone with the part out?"""
    return f"{finding}{AT}{part}"


def is_away(id: str) -> bool:
    """Whether this is the id of a test by taking away."""
    return AT in id


def finding_of(id: str) -> str:
    """The finding that a test by taking away looks at; any other id is itself."""
    return id.partition(AT)[0]


def part_of(id: str) -> str:
    """The part that is out in the test; empty for any other id."""
    return id.partition(AT)[2]


def split(knowledge: Knowledge, id: str) -> tuple[Finding, Removable] | None:
    """The finding and the part of a test by taking away; None where the knowledge lacks one of them."""
    finding = knowledge.findings.get(finding_of(id))
    part = knowledge.removable.get(part_of(id))
    return (finding, part) if finding and part else None


def named(knowledge: Knowledge) -> Mapping[str, tuple[Removable, RemovalTest]]:
    """The tests that have an id of their own, by that."""
    return {one.id: (part, one) for part in knowledge.removable.values() for one in part.told}


def known_as(knowledge: Knowledge, id: str, seen: Collection[str] = ()) -> str:
    """The id of the test of which this is the own name, by what else was seen; any other id is itself."""
    if id in knowledge.findings or is_away(id) or not knowledge.removable:
        return id
    if (found := named(knowledge).get(id)) is None:
        return id
    part, own = found
    return away_id(next((one for one in own.of if one in seen), own.of[0]), part.id)


def test_as_finding(finding: Finding, part: Removable) -> Finding:
    """The test in the shape of a finding."""
    own = next((one for one in part.told if finding.id in one.of), None)
    aliases = (own.name, *own.aliases) if own else ()
    return replace(
        _plain(away_id(finding.id, part.id), f"{finding.name} with {part.out}", part), aliases=aliases
    )


def _plain(id: str, name: str, part: Removable) -> Finding:
    return Finding(
        id=id,
        name=name,
        system=part.system,
        kind="inspection",
        states=(GONE, STILL_THERE),
        leak=(),
        other=None,
        aliases=(),
        observe=" ".join(part.steps) or f"With {part.out}: is it gone, or still there?",
        reading=None,
        codes=(),
        place=part.place,
    )


def own_as_finding(part: Removable, own: RemovalTest) -> Finding:
    """A test under its own id, as a case of before has it: present where the finding was gone."""
    return replace(_plain(own.id, own.name, part), states=BINARY)


def watched(knowledge: Knowledge, part: Removable) -> tuple[str, ...]:
    """The findings that are looked at with the part out."""
    if part.watched:
        return part.watched
    reach = set(below(knowledge, part))
    own = {id for one in part.told for id in one.of}
    return tuple(
        id
        for id, one in knowledge.findings.items()
        if id in own or (id in reach and one.kind in WATCHED_KINDS)
    )


def below(knowledge: Knowledge, part: Removable) -> Iterator[str]:
    """Everything that what the part carries can bring about; what a cause has wrecked does not heal with it, so
    other causes are not passed through."""
    waiting, seen = [one.id for one in part.carries], set[str]()
    while waiting:
        id = waiting.pop()
        parent = knowledge.causes.get(id) or knowledge.conditions.get(id)
        for link in parent.leads_to if parent else ():
            if link.effect not in seen and link.effect not in knowledge.causes:
                seen.add(link.effect)
                waiting.append(link.effect)
                yield link.effect
