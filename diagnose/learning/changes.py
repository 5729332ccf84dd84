"""What has changed: number by number, before and after, for a person to read and to judge."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from diagnose.knowledge.records import BINARY, Knowledge
from diagnose.learning.learn import Learnt
from diagnose.learning.numbers import Kind

LEAST = 1.0
"""Cases (fully seen ones that would tell as much) from which a row is worth writing down."""
DIGITS = 4
"""Significant digits that are written."""


@dataclass(frozen=True, slots=True)
class Change:
    """One number. `state` of the effect, "" where it is binary or a prior; `parent_state` likewise. `cases`:
    how many fully seen cases it was learnt from; `found`: of a prior, in how many of the `counted` cases the
    cause was confirmed."""

    kind: Kind
    effect: str
    parent: str
    parent_state: str
    state: str
    before: float
    after: float
    ess_before: float
    ess_after: float
    cases: float
    found: int
    counted: int

    @property
    def decibans(self) -> float:
        """How far the odds moved, 10 log10."""
        return 10 * float(np.log10(self.after / (1 - self.after)) - np.log10(self.before / (1 - self.before)))

    @property
    def weight(self) -> float:
        """How far they moved in standard deviations of what they are now (of log odds: (n p (1 -
        p))^-1/2)."""
        return abs(self.decibans) * float(np.sqrt(self.ess_after * self.after * (1 - self.after)))


def changes(learnt: Learnt) -> list[Change]:
    """All numbers that are worth writing down, those first that moved most for what is known of them."""
    found = [change for number in _worth(learnt) for change in _of_row(learnt, number)]
    return sorted(found, key=lambda one: (-one.weight, one.kind, one.effect, one.parent))


def rounded(value: float) -> float:
    """To DIGITS digits, and never to 0 or 1."""
    near = float(f"{value:.{DIGITS}g}")
    return near if 0 < near < 1 else value


def _worth(learnt: Learnt) -> Iterator[int]:
    for number in range(len(learnt.numbers.rows)):
        if learnt.may_change[number] and learnt.cases[number] >= LEAST:
            yield number


def _of_row(learnt: Learnt, number: int) -> Iterator[Change]:
    row, start = learnt.numbers.rows[number], learnt.numbers.start[number]
    states, parents = states_of(learnt.knowledge, row.effect), states_of(learnt.knowledge, row.parent)
    for place, before in enumerate(row.values[1:], 1):
        if 0 < before < 1:
            yield Change(
                row.kind,
                row.effect,
                row.parent,
                parents[row.state] if len(parents) > 2 else "",
                states[place] if len(states) > 2 and row.kind != "prior" else "",
                before,
                rounded(float(learnt.values[start + place])),
                row.ess,
                float(f"{row.worth + learnt.cases[number]:.4g}"),
                float(learnt.cases[number]),
                learnt.found[row.effect] if row.kind == "prior" else 0,
                learnt.counted,
            )


def states_of(knowledge: Knowledge, id: str) -> tuple[str, ...]:
    """The states of a condition or finding; absent and present of anything else."""
    record = knowledge.conditions.get(id) or knowledge.findings.get(id)
    return record.states if record else BINARY


def in_words(knowledge: Knowledge, change: Change) -> str:
    """Which number it is: `Pump worn: prior`, `Pump worn -> Oil pressure is low: none`."""
    name = _name(knowledge, change.effect) + (f": {change.state}" if change.state else "")
    if change.kind == "link":
        when = f" ({change.parent_state})" if change.parent_state else ""
        return f"{_name(knowledge, change.parent)}{when} -> {name}"
    return f"{name}: {'prior' if change.kind == 'prior' else 'without any cause'}"


def _name(knowledge: Knowledge, id: str) -> str:
    for section in (knowledge.causes, knowledge.conditions, knowledge.findings):
        if id in section:
            return section[id].name
    return id
