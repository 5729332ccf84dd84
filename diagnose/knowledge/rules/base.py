"""What a rule is, and the survey of the knowledge that rules look at."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from inspect import cleandoc

from diagnose.errors import Place
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Access, Cause, Check, Condition, Knowledge, Link, Repair
from diagnose.knowledge.removable import Removable

KINDS = {
    "systems": "a system",
    "facts": "a fact",
    "families": "a family",
    "sources": "a source",
    "hazards": "a hazard",
    "access": "an access state",
    "causes": "a cause",
    "conditions": "a condition",
    "findings": "a finding",
    "checks": "a check",
    "repairs": "a repair",
    "removable": "a removable part",
    "slang": "an expression",
}


@dataclass(frozen=True, slots=True)
class Violation:
    """One place where a rule is broken."""

    place: Place
    message: str
    hint: str = ""


@dataclass(frozen=True)
class Survey:
    """The knowledge, and the ids in doubt: defined or used in a part that could not be read.

    What is said of such an id could be wrong because of that part, so rules are silent about it.
    """

    knowledge: Knowledge
    doubtful: frozenset[str] = frozenset()

    @cached_property
    def kinds(self) -> dict[str, str]:
        """Section of every id."""
        return {id: section for section in KINDS for id in getattr(self.knowledge, section)}

    @property
    def parents(self) -> Mapping[str, Cause | Condition]:
        """Everything that links can start from."""
        return {**self.knowledge.causes, **self.knowledge.conditions}

    def links(self, id: str) -> tuple[Link, ...]:
        """The links that start here; none for a finding or an unknown id."""
        parent = self.knowledge.causes.get(id) or self.knowledge.conditions.get(id)
        return parent.leads_to if parent else ()

    def below(self, starts: Iterable[str]) -> set[str]:
        """The ids themselves and every id that links lead to from them."""
        found: set[str] = set()
        stack = list(starts)
        while stack:
            id = stack.pop()
            if id not in found:
                found.add(id)
                stack.extend(link.effect for link in self.links(id))
        return found

    @cached_property
    def caused(self) -> set[str]:
        """Every id that some cause, or something in doubt, leads to."""
        starts = {*self.knowledge.causes, *(self.doubtful & self.kinds.keys())}
        return self.below(starts) | self.doubtful

    @cached_property
    def _above(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for parent in self.parents.values():
            for link in parent.leads_to:
                found.setdefault(link.effect, []).append(parent.id)
        return found

    def behind(self, id: str) -> set[str]:
        """The id itself and every cause or condition that leads to it."""
        found: set[str] = set()
        stack = [id]
        while stack:
            one = stack.pop()
            if one not in found:
                found.add(one)
                stack.extend(self._above.get(one, ()))
        return found

    @cached_property
    def revealed(self) -> set[str]:
        """Every finding that a check reveals, or that is in doubt."""
        return {id for check in self.knowledge.checks.values() for id in check.reveals} | self.doubtful


def links(knowledge: Knowledge) -> Iterator[tuple[Cause | Condition, Link]]:
    """Every link with what it starts from."""
    yield from ((cause, link) for cause in knowledge.causes.values() for link in cause.leads_to)
    yield from ((one, link) for one in knowledge.conditions.values() for link in one.leads_to)


def leaks(knowledge: Knowledge) -> Iterator[tuple[Number, ...]]:
    """Every leak."""
    yield from (condition.leak for condition in knowledge.conditions.values())
    yield from (finding.leak for finding in knowledge.findings.values())


def jobs(knowledge: Knowledge) -> Iterator[Access | Check | Repair | Removable]:
    """Everything that is done with tools: access, checks, repairs, and taking parts out."""
    yield from knowledge.access.values()
    yield from knowledge.checks.values()
    yield from knowledge.repairs.values()
    yield from knowledge.removable.values()


Test = Callable[[Survey], Iterator[Violation]]


@dataclass(frozen=True, slots=True)
class Rule:
    """A stable code, a readable name, and what it asks for (its page). `test`: None where the rule is
    part of reading the file.
    """

    code: str
    name: str
    page: str
    test: Test | None = None


def rule(code: str, name: str) -> Callable[[Test], Rule]:
    """Makes a function a rule; its docstring is the rule's page."""
    return lambda test: Rule(code, name, cleandoc(test.__doc__ or ""), test)
