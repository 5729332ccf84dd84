"""The histories as cases of the program."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event, Noted, Opened, Repaired
from diagnose.knowledge.observable import noted
from diagnose.knowledge.records import Knowledge

FILE = Path(__file__).with_name("histories.yaml")


@dataclass(frozen=True)
class Told:
    """One observation in words, and the tokens that say it. `bearing`: it speaks for or against something."""

    what: str
    tokens: tuple[str, ...]
    bearing: bool


@dataclass(frozen=True)
class HistoryCase:
    """One real history. `causes`: each of these ids is the proved cause, as nearly as the source tells it."""

    id: str
    title: str
    facts: dict[str, str]
    told: tuple[Told, ...]
    causes: tuple[str, ...]
    source: str
    confidence: str


@cache
def histories() -> tuple[HistoryCase, ...]:
    """All of them, in the order of the file."""
    return tuple(_one(entry) for entry in yaml.safe_load(FILE.read_text(encoding="utf-8")))


def _one(entry: dict[str, Any]) -> HistoryCase:
    told = tuple(
        Told(one["what"], tuple(one.get("is", ())), not one.get("bears_on_nothing", False))
        for one in entry["observe"]
    )
    return HistoryCase(
        entry["id"],
        entry["told"],
        entry["facts"],
        told,
        tuple(entry["cause"]),
        entry["source"],
        entry["confidence"],
    )


def unknown(token: str, knowledge: Knowledge) -> str:
    """What is wrong with a token; empty where the knowledge can say it."""
    head, _, rest = token.partition(":")
    if head == "repaired":
        return "" if rest in knowledge.repairs else f"no repair `{rest}`"
    if head == "fact":
        fact, _, value = rest.partition("=")
        return (
            "" if fact in knowledge.facts and value in knowledge.facts[fact].values else f"no fact `{rest}`"
        )
    id, _, _ = token.partition("=")
    finding = noted(knowledge, id)
    if finding is None:
        return f"no finding `{id}`"
    state = state_of(token, knowledge)
    return "" if state in finding.states else f"`{id}` has no state `{state}`"


def state_of(token: str, knowledge: Knowledge) -> str:
    """The state of its finding that a token tells."""
    id, _, state = token.partition("=")
    finding = noted(knowledge, id)
    assert finding is not None, id
    if state == "no":
        return finding.states[0]
    return state or finding.states[1]


def _events(one: HistoryCase, knowledge: Knowledge) -> Iterator[Event]:
    yield Opened(one.id, facts=one.facts, complaint=one.title)
    for told in one.told:
        for token in told.tokens:
            head, _, rest = token.partition(":")
            if head == "repaired":
                yield Repaired((rest,), tuple(cure.cause for cure in knowledge.repairs[rest].cures))
            elif head != "fact":
                yield Noted(token.partition("=")[0], state_of(token, knowledge))


def case_of(one: HistoryCase, knowledge: Knowledge) -> Case:
    """The history up to where its cause was proved."""
    return fold(0, [replace(event, sequence=i) for i, event in enumerate(_events(one, knowledge), 1)])
