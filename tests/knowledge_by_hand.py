"""A knowledge made in memory, record by record, for tests of the network and what stands on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from diagnose.errors import Place
from diagnose.knowledge.machine_facts import Fact, Requirement
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import BINARY, Cause, Condition, Finding, Knowledge, Link, Modifier

HERE = Place("by_hand.yaml")


def number(value: float) -> Number:
    return Number(value, "judgement", 10, HERE)


def links(effects: Mapping[str, float | list[list[float]]]) -> tuple[Link, ...]:
    """Effect -> strength, or the full matrix [parent state 1..][effect state 1..]."""
    return tuple(
        Link(effect, tuple(tuple(map(number, row)) for row in ([[s]] if isinstance(s, float) else s)), HERE)
        for effect, s in effects.items()
    )


def cause(id: str, prior: float, effects: Mapping[str, Any], **rest: Any) -> Cause:
    values: dict[str, Any] = {"per": "share", "age": None, "modifiers": (), "only_if": (), **rest}
    return Cause(id, id, "test", "", "", number(prior), leads_to=links(effects), place=HERE, **values)


def fact(id: str, shares: Mapping[str, float], **rest: Any) -> Fact:
    return Fact(id, id, "", tuple(shares), HERE, tuple(map(number, shares.values())), **rest)


def given(id: str, on: str, by: Mapping[str, Mapping[str, float]]) -> Fact:
    """A fact that depends on another one."""
    values = tuple(next(iter(by.values())))
    rows = {value: tuple(map(number, row.values())) for value, row in by.items()}
    return Fact(id, id, "", values, HERE, given=on, shares_by=rows)


def only(**facts: Iterable[str]) -> tuple[Requirement, ...]:
    return tuple(Requirement(fact, tuple(values), HERE) for fact, values in facts.items())


def times(**facts: Mapping[str, float]) -> tuple[Modifier, ...]:
    return tuple(Modifier(f, value, number(x)) for f, by in facts.items() for value, x in by.items())


def condition(
    id: str, leak: float | list[float], effects: Mapping[str, Any], *states: str, **rest: Any
) -> Condition:
    above = leak if isinstance(leak, list) else [leak]
    return Condition(
        id, id, "test", "", states or BINARY, tuple(map(number, above)), links(effects), HERE, **rest
    )


def finding(
    id: str, leak: float | list[float], *states: str, other: float | None = None, **rest: Any
) -> Finding:
    above = leak if isinstance(leak, list) else [leak]
    rare = None if other is None else number(other)
    return Finding(
        id,
        id,
        "test",
        "symptom",
        states or BINARY,
        tuple(map(number, above)),
        rare,
        (),
        "",
        None,
        (),
        HERE,
        **rest,
    )


def knowledge(*records: Cause | Condition | Finding | Fact) -> Knowledge:
    kinds = {"causes": Cause, "conditions": Condition, "findings": Finding, "facts": Fact}
    empty: dict[str, Any] = {
        name: {} for name in ("systems", "checks", "repairs", "access", "hazards", "families", "sources")
    }
    found: dict[str, Any] = {
        name: {r.id: r for r in records if isinstance(r, kind)} for name, kind in kinds.items()
    }
    return Knowledge("by hand", **empty, **found)
