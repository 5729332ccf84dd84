"""A small knowledge made in memory, for tests of words, readings and codes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from diagnose.errors import Place
from diagnose.knowledge.bands import Band, Reading
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import BINARY, Access, Cause, Finding, Knowledge

HERE = Place("small.yaml")


def number(value: float) -> Number:
    return Number(value, "judgement", 1, HERE)


def finding(
    key: str,
    name: str,
    *aliases: str,
    kind: str = "symptom",
    reading: Reading | None = None,
    states: tuple[str, ...] = BINARY,
    codes: tuple[str, ...] = (),
) -> Finding:
    leak = (number(0.01),) * (len(states) - 1)
    return Finding(key, name, "test", kind, states, leak, None, aliases, "", reading, codes, HERE)


def measured(key: str, name: str, *aliases: str, quantity: str, unit: str, bands: list[Band]) -> Finding:
    """A reading finding whose states are its bands', after a sound first state."""
    states = ("normal", *dict.fromkeys(band.state for band in bands))
    reading = Reading(quantity, unit, tuple(bands), "common practice", HERE)
    return finding(key, name, *aliases, kind="reading", reading=reading, states=states)


def cause(key: str, name: str, part: str = "") -> Cause:
    return Cause(key, name, "test", part, "", number(0.01), "share", None, (), (), (), HERE)


def access(key: str, name: str) -> Access:
    return Access(key, name, (), 1, 1, (), HERE)


def knowledge(
    findings: Iterable[Finding] = (), causes: Iterable[Cause] = (), states: Iterable[Access] = ()
) -> Knowledge:
    empty: dict[str, Any] = {
        key: {}
        for key in "systems conditions checks repairs hazards facts families sources".split()  # noqa: SIM905
    }
    return Knowledge(
        version="test",
        findings={thing.id: thing for thing in findings},
        causes={thing.id: thing for thing in causes},
        access={thing.id: thing for thing in states},
        **empty,
    )
