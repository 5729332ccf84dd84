"""What has changed: number by number, before and after, for a person to read and to judge."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from diagnose.knowledge.records import BINARY, Knowledge
from diagnose.learning import reference
from diagnose.learning.learn import LearntNumbers
from diagnose.learning.learnable import Kind, NumberRow

LEAST = 1.0
"""Cases (fully seen ones that would tell as much) from which a row is worth writing down."""
DIGITS = 4
"""Significant digits that are written."""
UNITS = {"rate": "per 1,000 h", "per_start": "per start", "per_night": "per night"}


@dataclass(frozen=True, slots=True)
class Change:
    """One number. `state` of the effect, "" where it is binary or a prior; `parent_state` likewise. `cases`:
    how many fully seen cases it was learnt from; `found`: of a prior, in how many of the `counted` cases the
    cause was confirmed. `per`: what a cause's frequency counts (`records.PER`), "" of a leak or link.
    `known`: how much is known of it now, 1 / the variance of the logarithm of the rate, or of the odds."""

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
    per: str
    known: float

    @property
    def happens(self) -> bool:
        """Whether it is the rate of a cause, and no probability."""
        return self.per not in ("", "share")

    @property
    def decibans(self) -> float:
        """How far the odds, or the rate, moved, 10 log10."""
        if self.happens:
            return 10 * float(np.log10(self.after / self.before))
        return 10 * float(np.log10(self.after / (1 - self.after)) - np.log10(self.before / (1 - self.before)))

    @property
    def weight(self) -> float:
        """How far they moved in standard deviations of what they are now."""
        return abs(self.decibans) * float(np.sqrt(self.known))


def changes(learnt: LearntNumbers) -> list[Change]:
    """All numbers that are worth writing down, those first that moved most for what is known of them."""
    found = [change for number in _worth(learnt) for change in _of_row(learnt, number)]
    return sorted(found, key=lambda one: (-one.weight, one.kind, one.effect, one.parent))


def rounded(value: float) -> float:
    """To DIGITS digits, and no probability to 0 or 1."""
    near = float(f"{value:.{DIGITS}g}")
    return near if 0 < near != 1 else value


def _worth(learnt: LearntNumbers) -> Iterator[int]:
    for number in range(len(learnt.numbers.rows)):
        if learnt.may_change[number] and learnt.cases[number] >= LEAST:
            yield number


def _of_row(learnt: LearntNumbers, number: int) -> Iterator[Change]:
    row, start = learnt.numbers.rows[number], learnt.numbers.start[number]
    if row.kind == "prior":
        yield from _of_cause(learnt, number, row)
        return
    states, parents = states_of(learnt.knowledge, row.effect), states_of(learnt.knowledge, row.parent)
    for place, before in enumerate(row.values[1:], 1):
        if 0 < before < 1:
            after, worth = float(learnt.values[start + place]), row.worth + float(learnt.cases[number])
            yield Change(
                row.kind,
                row.effect,
                row.parent,
                parents[row.state] if len(parents) > 2 else "",
                states[place] if len(states) > 2 else "",
                before,
                rounded(after),
                row.ess,
                float(f"{worth:.4g}"),
                float(learnt.cases[number]),
                0,
                learnt.counted,
                "",
                worth * after * (1 - after),
            )


def _of_cause(learnt: LearntNumbers, number: int, row: NumberRow) -> Iterator[Change]:
    """The frequency of a cause; worth n of the reference machine's windows with lambda in each, the logarithm
    of a rate has the variance 1 / (n lambda)."""
    cause, after = learnt.knowledge.causes[row.effect], float(learnt.values[2 * number + 1])
    if not 0 < row.values[1] < 1:
        return
    worth, found = row.worth + float(learnt.cases[number]), reference.frequency(cause, after)
    yield Change(
        "prior",
        row.effect,
        "",
        "",
        "",
        cause.frequency.value,
        rounded(found),
        row.ess,
        float(f"{worth:.4g}"),
        float(learnt.cases[number]),
        learnt.found[row.effect],
        learnt.counted,
        cause.per,
        worth * (after * (1 - after) if cause.per == "share" else found * reference.unit(cause)),
    )


def states_of(knowledge: Knowledge, id: str) -> tuple[str, ...]:
    """The states of a condition or finding; absent and present of anything else."""
    record = knowledge.conditions.get(id) or knowledge.findings.get(id)
    return record.states if record else BINARY


def in_words(knowledge: Knowledge, change: Change) -> str:
    """Which number it is: `per 1,000 h  Pump worn`, `Dirt in the gallery: share of machines`, `Pump worn -> Oil
    pressure is low: none`."""
    name = _name(knowledge, change.effect) + (f": {change.state}" if change.state else "")
    if change.kind == "link":
        when = f" ({change.parent_state})" if change.parent_state else ""
        return f"{_name(knowledge, change.parent)}{when} -> {name}"
    if change.happens:
        return f"{UNITS[change.per]}  {name}"
    return f"{name}: {'share of machines' if change.kind == 'prior' else 'without any cause'}"


def _name(knowledge: Knowledge, id: str) -> str:
    for section in (knowledge.causes, knowledge.conditions, knowledge.findings):
        if id in section:
            return section[id].name
    return id
