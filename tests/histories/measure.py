"""Where the proved cause of each real history comes out: `python -m tests.histories.measure [ID ...]`."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from diagnose.diagnosis import diagnose
from tests.histories.reading import HistoryCase, case_of, histories, unknown
from tests.shipped import shipped_knowledge

NOWHERE = 999
"""The rank of a cause that the ranking does not hold."""


def place(one: HistoryCase) -> tuple[int, tuple[str, ...]]:
    """The best rank of an accepted cause, from 1 on, and the first causes of the ranking."""
    knowledge = shipped_knowledge()
    diagnosis = diagnose(knowledge, case_of(one, knowledge))
    ranked = [cause for cause in diagnosis.causes if cause.relevant]
    ids = [cause.id for cause in ranked]
    first = tuple(f"{cause.id} {cause.probability:.2f}" for cause in ranked[:6])
    return min((ids.index(cause) + 1 for cause in one.causes if cause in ids), default=NOWHERE), first


def sayable() -> tuple[int, int]:
    """How many observations that bear on something can be said, of how many."""
    knowledge = shipped_knowledge()
    bearing = [told for one in histories() for told in one.told if told.bearing]
    said = [told for told in bearing if told.tokens and not any(unknown(t, knowledge) for t in told.tokens)]
    return len(said), len(bearing)


def lines(ids: tuple[str, ...]) -> Iterator[str]:
    """One line a history, and the shares."""
    ranks = []
    for one in histories():
        if ids and one.id not in ids:
            continue
        rank, first = place(one)
        ranks.append(rank)
        yield f"{one.id} {rank:3d}  {'/'.join(one.causes)}  <- {', '.join(first)}"
    said, all_ = sayable()
    yield f"sayable {said} of {all_} observations"
    count = len(ranks)
    yield f"first {sum(r == 1 for r in ranks)} of {count}, in three {sum(r <= 3 for r in ranks)} of {count}"


if __name__ == "__main__":
    for line in lines(tuple(sys.argv[1:])):
        print(line, flush=True)
