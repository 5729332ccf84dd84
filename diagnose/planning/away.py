"""Tests by taking away as checks: which of them can tell something now, and what each would show.

Unlike posteriors these are predictions for planning, as in network/predict.py, so that no network has to be made
for each part that could be taken out. With persisting noise and causes that only ever add to a finding, it can be
there with the part out only if it is there with it in; so P(still there | it is there, exactly these faults) is the
ratio of P(there | these faults without those carried) to P(there | these faults).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.away import away_id, finding_of, is_away, part_of, watched
from diagnose.knowledge.removable import Removable
from diagnose.network.built import Built
from diagnose.network.network import Array
from diagnose.network.predict import from_parents
from diagnose.planning.problem import FaultSets


def offered(diagnosis: Diagnosis) -> dict[str, tuple[str, ...]]:
    """By part, the tests that can tell something: of findings that are there, that the part can bring about on this
    machine, of parts that were not out yet."""
    shown = [id for item in diagnosis.shown if not is_away(id := item.observation.finding)]
    if not shown:
        return {}
    above = {id: diagnosis.built.network.ancestors([diagnosis.built.variable(id)]) for id in shown}
    done = {part_of(id) for id in diagnosis.known}
    found = {}
    for part in diagnosis.knowledge.removable.values():
        if part.id in done or not diagnosis.case.machine.fits(part.only_if):
            continue
        carried = dict(_variables(diagnosis.built, part)).keys()
        asked = set(shown).intersection(watched(diagnosis.knowledge, part))
        if ids := tuple(away_id(id, part.id) for id in shown if id in asked and carried & above[id]):
            found[part.id] = ids
    return found


def predicted(
    diagnosis: Diagnosis, candidates: Sequence[str], faults: FaultSets, ids: Iterable[str]
) -> dict[str, Array]:
    """P(gone, still there | exactly these faults) of each of these tests, shape (fault sets, 2). `candidates`: the
    causes by bit; the bit after them is something else, which no part carries."""
    by_part: dict[str, list[str]] = {}
    for id in ids:
        by_part.setdefault(part_of(id), []).append(id)
    if not by_part:
        return {}
    diagnosis = diagnosis.whole
    asked = [finding_of(id) for tests in by_part.values() for id in tests]
    there = _present(diagnosis, candidates, faults, asked, {})
    elsewhere = (faults >> len(candidates) & 1).astype(bool)
    found = {}
    for name, tests in by_part.items():
        part = diagnosis.knowledge.removable[name]
        left = dict(_variables(diagnosis.built, part))
        without = _present(diagnosis, candidates, faults, [finding_of(id) for id in tests], left)
        for id in tests:
            finding = finding_of(id)
            ratio = np.divide(
                without[finding], there[finding], out=np.ones(len(faults)), where=there[finding] > 0
            )
            still = np.where(elsewhere, 1.0, np.clip(ratio, 0.0, 1.0))
            found[id] = _told(part, finding, still)
    return found


def _told(part: Removable, finding: str, still: Array) -> Array:
    """With what the taking away itself brings, and what is told as gone though it is still there."""
    brought = sum(n.value for one in part.brings if one.effect == finding for n in one.strengths)
    still = 1 - (1 - still) * (1 - brought)
    still = still * (1 - part.mistakes)
    return np.stack([1 - still, still], axis=1)


def _variables(built: Built, part: Removable) -> Iterator[tuple[int, float]]:
    """The variables that the part carries on this machine, each with how surely."""
    for one in part.carries:
        if one.id in built.versions:
            yield built.variable(one.id), one.effectiveness.value


def _present(
    diagnosis: Diagnosis,
    candidates: Sequence[str],
    faults: FaultSets,
    findings: Sequence[str],
    carried: Mapping[int, float],
) -> dict[str, Array]:
    """P(each finding is there | exactly these faults, what is carried taken away), each parent's marginal used as
    if the parents were independent given the faults; shape (fault sets,)."""
    built = diagnosis.built
    asked = {id: built.variable(id) for id in findings}
    bits = {built.variable(id): bit for bit, id in enumerate(candidates)}
    absent = {*map(built.variable, built.causes), *built.others.values()}
    known: dict[int, Array] = {}
    for v in sorted({*built.network.ancestors(asked.values()), *asked.values()}):
        if v in bits:
            p = (faults >> bits[v] & 1).astype(float)
            known[v] = np.stack([1 - p, p])
        elif v in absent:
            known[v] = np.array([[1.0], [0.0]])
        else:
            known[v] = from_parents(built.network.families[v], known)
        if v in carried:
            known[v] = known[v] * (1 - carried[v])
            known[v][0] += carried[v]
    return {id: np.broadcast_to(1 - known[v][0], (len(faults),)) for id, v in asked.items()}
