"""Tests by taking away as history and evidence: the stretches in which parts were out, and what was told."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from diagnose.knowledge.away import finding_of, is_away, part_of
from diagnose.knowledge.records import Knowledge
from diagnose.knowledge.removable import Removable
from diagnose.network.history import Stretch
from diagnose.network.network import Array


def stretches(knowledge: Knowledge, seen: Iterable[tuple[str, int]]) -> tuple[Stretch, ...]:
    """One stretch for each part and epoch of these (id, epoch); ids that are no tests by taking away are passed
    over."""
    watched: dict[tuple[str, int], dict[str, None]] = {}
    for id, epoch in seen:
        if is_away(id) and part_of(id) in knowledge.removable:
            watched.setdefault((part_of(id), epoch), {})[finding_of(id)] = None
    return tuple(
        stretch(knowledge.removable[part], epoch, findings) for (part, epoch), findings in watched.items()
    )


def stretch(part: Removable, epoch: int, findings: Iterable[str]) -> Stretch:
    """The stretch of an epoch in which the part was out and these findings were looked at."""
    carried = {one.id: one.effectiveness.value for one in part.carries}
    brings = {one.effect: tuple(number.value for number in one.strengths) for one in part.brings}
    return Stretch(part.id, epoch, carried, tuple(findings), brings)


def told(card: int, part: Removable, gone: bool, ratio: float) -> Array:
    """P(told so | state of the finding with the part out), up to a factor, shape (card,). What is still there is
    told as gone with probability `mistaken`, as it can go by itself; `ratio` weighs how sure the observer is, as in
    observed.py."""
    doubt = 0.0 if np.isinf(ratio) else 1 / ratio
    vector = np.ones(card)
    if gone:
        vector[1:] = max(part.mistakes, doubt)
    else:
        vector[0] = doubt
    return vector
