"""Every number that can be learnt, as one long vector of distributions: what causes have on the reference machine
(`reference`), leaks, and a row for each link."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Cause, Condition, Finding, Knowledge
from diagnose.learning import reference
from diagnose.network.network import Array

Kind = Literal["prior", "leak", "link"]


@dataclass(frozen=True, slots=True)
class NumberRow:
    """One distribution: over absent and present (prior), or over the states of `effect` (leak; link from
    `parent` in `state`). `ess`: how many cases the knowledge says that it is worth. `happens`: a prior of a cause
    that happens, not of one that has a share."""

    kind: Kind
    effect: str
    parent: str
    state: int
    values: tuple[float, ...]
    ess: float
    happens: bool = False

    @property
    def worth(self) -> float:
        """How many cases it counts for: as many as it takes to meet its rarest cell once, if that is more
        than `ess` (judgement). Who calls something 0.3 % has met it; worth 10 cases it were wiped out by 30
        without it."""
        return max(self.ess, 1 / min(value for value in self.values if value > 0))


@dataclass(frozen=True, eq=False)
class Numbers:
    """The rows in order; `values`: all their cells one after the other, row r from start[r] to start[r +
    1]."""

    rows: tuple[NumberRow, ...]

    @cached_property
    def start(self) -> NDArray[np.intp]:
        """Where each row begins, and at last the number of cells."""
        return np.cumsum([0, *(len(row.values) for row in self.rows)])

    @cached_property
    def values(self) -> Array:
        """The cells as the knowledge has them."""
        return np.array([value for row in self.rows for value in row.values])

    @cached_property
    def ess(self) -> Array:
        """How many cases each row counts for, shape (rows,)."""
        return np.array([row.worth for row in self.rows])

    @cached_property
    def row_of_cell(self) -> NDArray[np.intp]:
        """The row of each cell."""
        return np.repeat(np.arange(len(self.rows)), np.diff(self.start))

    @cached_property
    def causes(self) -> tuple[str, ...]:
        """The causes in the order of their prior rows, which are the first rows of all."""
        return tuple(row.effect for row in self.rows if row.kind == "prior")

    @cached_property
    def happens(self) -> NDArray[np.bool_]:
        """Which of the causes happen; the others have a share."""
        return np.array([row.happens for row in self.rows[: len(self.causes)]], dtype=bool)

    def rates(self, values: Array) -> Array:
        """How often each cause happens in the reference machine's window by these values, shape (causes,); of
        a share this means nothing."""
        present = values[1 : 2 * len(self.causes) : 2]
        found: Array = -np.log1p(-np.minimum(present, 1 - 1e-15))
        return found

    @cached_property
    def leak(self) -> dict[str, int]:
        """Condition or finding -> the row of its leak."""
        return {row.effect: number for number, row in enumerate(self.rows) if row.kind == "leak"}

    @cached_property
    def link(self) -> dict[tuple[str, str], int]:
        """(parent, effect) -> the first of the link's rows, which stand in order of the parent's state."""
        found: dict[tuple[str, str], int] = {}
        for number, row in enumerate(self.rows):
            if row.kind == "link":
                found.setdefault((row.parent, row.effect), number)
        return found


def numbers_of(knowledge: Knowledge) -> Numbers:
    """The numbers of a knowledge."""
    return Numbers((*_priors(knowledge), *_leaks(knowledge), *_links(knowledge)))


def _priors(knowledge: Knowledge) -> Iterator[NumberRow]:
    for cause in knowledge.causes.values():
        p = reference.present(cause)
        yield NumberRow("prior", cause.id, "", 0, (1 - p, p), cause.frequency.ess, cause.per != "share")


def _leaks(knowledge: Knowledge) -> Iterator[NumberRow]:
    effects: tuple[Condition | Finding, ...] = (*knowledge.conditions.values(), *knowledge.findings.values())
    for effect in effects:
        yield _row("leak", effect.id, "", 0, effect.leak)


def _links(knowledge: Knowledge) -> Iterator[NumberRow]:
    parents: tuple[Cause | Condition, ...] = (*knowledge.causes.values(), *knowledge.conditions.values())
    for parent in parents:
        for link in parent.leads_to:
            for state, strengths in enumerate(link.strengths, 1):
                yield _row("link", link.effect, parent.id, state, strengths)


def _row(kind: Kind, effect: str, parent: str, state: int, above: Sequence[Number]) -> NumberRow:
    """The states above the first, and the first with the rest. Its size is the mean of those that are not
    0."""
    sizes = [one.ess for one in above if one.value > 0] or [one.ess for one in above]
    values = (1 - sum(one.value for one in above), *(one.value for one in above))
    return NumberRow(kind, effect, parent, state, values, float(np.mean(sizes)))
