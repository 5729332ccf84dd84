"""Rules on what each cylinder or bank has, or shows, by itself (`per`)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.knowledge.located import CYLINDERS, LAYOUT, TWO_BANKS
from diagnose.knowledge.records import Cause, Condition, Finding, Knowledge
from diagnose.knowledge.rules.base import Survey, Violation, rule

Node = Cause | Condition | Finding


@rule("K067", "per without the fact that counts")
def per_without_count(survey: Survey) -> Iterator[Violation]:
    """Where records are `per: cylinder` there is a fact `cylinders` whose values are whole numbers; where they are
    `per: bank`, a fact `layout` with the value `two banks`: so a place that the engine has not got is refused, and
    how much it says that two things were at the same one follows from how many there are.
    """
    facts = survey.knowledge.facts
    count, layout = facts.get(CYLINDERS), facts.get(LAYOUT)
    counted = count is not None and all(value.isdecimal() and int(value) > 0 for value in count.values)
    for kind, there in (("cylinder", counted), ("bank", layout is not None and TWO_BANKS in layout.values)):
        first = next((one for one in _nodes(survey.knowledge).values() if one.located == kind), None)
        if first and not there:
            fact = (
                f"`{CYLINDERS}` of whole numbers" if kind == "cylinder" else f"`{LAYOUT}` with `{TWO_BANKS}`"
            )
            yield Violation(
                first.place, f"`{first.id}` is per {kind}, and there is no fact {fact}", "add the fact"
            )


@rule("K068", "per without such a cause")
def per_without_cause(survey: Survey) -> Iterator[Violation]:
    """A condition or finding that is `per: cylinder` or `per: bank` has a cause that is so too above it, itself or
    through conditions that are: else nothing that is told of its place points to anything.
    """
    nodes = _nodes(survey.knowledge)
    parents: dict[str, list[str]] = {}
    for id, parent in survey.parents.items():
        for link in parent.leads_to:
            parents.setdefault(link.effect, []).append(id)
    for finding in survey.knowledge.findings.values():
        parents.setdefault(finding.id, []).extend(finding.clears)
    for id, one in nodes.items():
        if one.located and not isinstance(one, Cause) and not _reaches(id, one.located, nodes, parents):
            message = f"no cause that is per {one.located} leads to `{id}`"
            yield Violation(
                one.place, message, f"write per: {one.located} at its causes, or leave it out here"
            )


def _reaches(id: str, kind: str, nodes: Mapping[str, Node], parents: Mapping[str, list[str]]) -> bool:
    """Whether such a cause stands above, with nothing of another kind between."""
    waiting, seen = [id], {id}
    while waiting:
        for parent in parents.get(waiting.pop(), ()):
            if parent in seen or parent not in nodes or nodes[parent].located != kind:
                continue
            if isinstance(nodes[parent], Cause):
                return True
            seen.add(parent)
            waiting.append(parent)
    return False


def _nodes(knowledge: Knowledge) -> Mapping[str, Node]:
    return {**knowledge.causes, **knowledge.conditions, **knowledge.findings}
