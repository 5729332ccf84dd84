"""General findings and their kinds: black smoke is smoke, and says more."""

from __future__ import annotations

from collections.abc import Collection

from diagnose.knowledge.records import Check, Finding, Knowledge


def all_generals(knowledge: Knowledge, finding: Finding) -> frozenset[str]:
    """The findings that this one says more closely, and those that these do."""
    found, waiting = set[str](), list(finding.kind_of)
    while waiting:
        id = waiting.pop()
        if id not in found and (general := knowledge.findings.get(id)):
            found.add(id)
            waiting.extend(general.kind_of)
    return frozenset(found)


def timely(knowledge: Knowledge, check: Check, seen: Collection[str]) -> bool:
    """Whether there is something to ask: a check that tells nothing but which kind it is (the colour of smoke)
    waits until the general finding was seen."""
    found = [one for id in check.reveals if (one := knowledge.findings.get(id))]
    if not found or not all(one.kind_of for one in found):
        return True
    return any(not all_generals(knowledge, one).isdisjoint(seen) for one in found)
