"""Rules on machine facts: how common their values are, and on what that depends."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.errors import Place
from diagnose.knowledge.machine_facts import Fact
from diagnose.knowledge.number import Number
from diagnose.knowledge.rules.base import Survey, Violation, rule
from diagnose.knowledge.rules.graph import cycles


@rule("K054", "shares of a fact")
def fact_shares(survey: Survey) -> Iterator[Violation]:
    """The shares of a fact's values add up to 1, in each of its rows, and `shares_by` has a row for every
    value of the one fact on which it depends. Where `several` values can hold each share is for itself, and
    hangs on no other fact."""
    for fact in survey.knowledge.facts.values():
        rows = {"shares": fact.shares} | {f"{fact.given}: {v}": row for v, row in fact.shares_by.items()}
        if fact.several and fact.shares_by:
            yield Violation(
                fact.place, f"`{fact.id}` has several values and `shares_by`", "give plain shares"
            )
        if not fact.several:
            yield from (one for name, row in rows.items() for one in _off(fact, name, row))
        yield from _missing(survey, fact)


def _off(fact: Fact, name: str, row: Sequence[Number]) -> Iterator[Violation]:
    total = sum(number.value for number in row)
    if row and abs(total - 1) > 1e-6:
        yield Violation(
            _place(fact, row), f"the shares of `{fact.id}` ({name}) add up to {total:g}, not to 1"
        )


def _missing(survey: Survey, fact: Fact) -> Iterator[Violation]:
    other = survey.knowledge.facts.get(fact.given)
    if other and not fact.shares:
        for value in other.values:
            if value not in fact.shares_by:
                yield Violation(fact.place, f"`{fact.id}` has no shares where `{other.id}` is `{value}`")
    for value in fact.shares_by if other else ():
        if value not in other.values:  # type: ignore[union-attr]
            yield Violation(fact.place, f"shares_by: `{fact.given}` has no value `{value}`")


def _place(fact: Fact, row: Sequence[Number]) -> Place:
    return min((number.place for number in row if number.value > 0), default=fact.place)


@rule("K055", "facts in a circle")
def fact_cycle(survey: Survey) -> Iterator[Violation]:
    """How common the values of a fact are must not depend on itself, directly or through other facts."""
    facts = survey.knowledge.facts
    for cycle in cycles({id: [fact.given] if fact.given else [] for id, fact in facts.items()}):
        words = " -> ".join(cycle)
        yield Violation(facts[cycle[0]].place, f"the shares of these facts depend on each other: {words}")
