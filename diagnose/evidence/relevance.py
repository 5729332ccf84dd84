"""What stands of the evidence, and which causes can be behind it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.evidence.counted import CountedObservation
from diagnose.network.built import Built
from diagnose.network.whereabouts import machine_wide

PERSISTS = 0.01
"""Probability from which a cause that the findings before a repair spoke of counts as still there (judgement)."""


def above_the_shown(built: Built, seen: Sequence[CountedObservation]) -> set[int]:
    """The variables above what was found not normal; all, where nothing was."""
    states = built.network.states
    shown = [item.variable for item in seen if item.observation.state != states[item.variable][0]]
    behind = built.network.ancestors(shown) if shown else set(range(len(states)))
    return behind | machine_wide(built, behind)


def matters(built: Built, variable: int, probability: float, behind: set[int]) -> bool:
    """Whether the cause can be behind what was found: as it is now, or, where it is likely still there, as it was
    before a repair."""
    if variable in behind:
        return True
    id = built.variables[variable].id
    earlier = (built.variable(id, epoch) for epoch in range(len(built.versions[id])))
    return probability >= PERSISTS and any(one in behind for one in earlier)


def shown(built: Built, seen: Iterable[CountedObservation]) -> list[CountedObservation]:
    """What was found not normal and is the latest of its finding."""
    return [
        item
        for item in seen
        if item.variable == built.variable(item.observation.id)
        and item.observation.state != built.network.states[item.variable][0]
    ]
