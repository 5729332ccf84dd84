"""At which cylinder or bank: a question where a finding was told without its place and another with one.

What points to one place points to one cause there (network/places.py), so whether both are at the same place tells
causes apart; the place of one alone says next to nothing. The answers are there and elsewhere. What they would be
under each fault set is exact: the network is written out as if the place had been told, with nothing said of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.evidence.engaged import with_engine
from diagnose.evidence.renewals import history
from diagnose.knowledge.located import apart, at, kind_of
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.messages import TooWide
from diagnose.network.network import Array
from diagnose.network.places import build_at
from diagnose.network.whereabouts import in_the_tree
from diagnose.planning.fault_sets import rows_of
from diagnose.planning.problem import FaultSets


def offered(diagnosis: Diagnosis) -> Iterator[str]:
    """Each finding that is there and was told without its place, at the place to which most others point."""
    seen = [item.observation for item in diagnosis.evidence]
    placed = {one.finding for one in seen if one.place}
    told = [item.observation.place for item in diagnosis.shown if item.observation.place]
    for item in diagnosis.shown:
        record = diagnosis.knowledge.findings.get(item.observation.finding)
        if record is None or not record.located or record.id in placed:
            continue
        if near := [place for place in told if kind_of(place) == record.located]:
            yield at(record.id, max(near, key=lambda place: (told.count(place), place)))


def is_placing(id: str) -> bool:
    """Whether it is a finding at a place: the question for that."""
    return bool(apart(id)[1])


def predicted(
    diagnosis: Diagnosis, candidates: Sequence[str], faults: FaultSets, ids: Sequence[str]
) -> dict[str, Array]:
    """P(elsewhere, there | exactly these faults) of each of these questions, exact, shape (fault sets, 2); without
    those whose network were too wide."""
    found = {}
    for id in ids:
        try:
            found[id] = _shares(diagnosis, candidates, faults, id)
        except TooWide:
            continue
    return found


def _shares(diagnosis: Diagnosis, candidates: Sequence[str], faults: FaultSets, id: str) -> Array:
    built, engine, here = _written_out(diagnosis, candidates, id)
    rows = rows_of(built, engine, candidates, faults)
    chances = engine.given([*rows, *({**row, here: 1} for row in rows)], ())[0].reshape(2, -1)
    there = np.divide(chances[1], chances[0], out=np.zeros(len(rows)), where=chances[0] > 0)
    return np.stack([1 - there, there], axis=1)


def _written_out(diagnosis: Diagnosis, candidates: Sequence[str], id: str) -> tuple[Built, Engine, int]:
    """The network with the finding written out at the place, its engine with the candidates in the tree, and the
    variable of the finding there. Raises TooWide."""
    case, known = diagnosis.case, diagnosis.knowledge
    seen = [item.observation for item in diagnosis.evidence]
    past = history(known, case, seen)
    now = max(one.epoch for one in seen if one.finding == apart(id)[0])
    built = build_at(known, case.machine, replace(past, observed=past.observed | {(id, now)}))
    names = diagnosis.built.network.names
    evidence = {built.network.index[names[v]]: p for v, p in diagnosis.engine.evidence.items()}
    here = built.variable(id, now)
    silent = {v: np.ones(built.network.cards[v]) for v in (here, *map(built.variable, candidates))}
    built, engine, thinned = with_engine(built, {**silent, **in_the_tree(built, evidence), **evidence})
    if thinned is not None:
        raise TooWide(thinned.engine.tree.size)
    return built, engine, here
