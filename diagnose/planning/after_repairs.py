"""What repairs leave of a case's complaint and what is paid for it later: `Aftermath` filled from the network."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache, partial

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.paths import link_strength, links_of, strengths_below
from diagnose.knowledge.records import Knowledge, Link
from diagnose.network.messages import TooWide
from diagnose.network.network import Array
from diagnose.network.remaining import Remaining
from diagnose.planning.aftermath import Aftermath
from diagnose.planning.problem import FaultSets, Fix, closed

FEWEST_LEFT, ROOM = 12, 1 << 20
"""Of how many pairs (before, after) at least, and how many numbers of the tree they may take together."""
WEAKEST = 0.02
"""Paths weaker than this are not followed from a new part to the complaint."""
MOST_LEFT = 24
"""For how many of the likeliest sets it is reckoned exactly what is left of the complaint after repairs."""


def cured_elsewhere(faults: FaultSets, fixes: Sequence[Fix], opening: Array, aftermath: Aftermath) -> Array:
    """What the cure itself costs whoever the machine is handed to, by fault set: of each fault the cheapest
    repair with its own dismantling; of something else as much as the middle one of those known, also where it
    is behind the complaint beside these faults."""
    candidates = len(aftermath.alone)
    reach = [sum(float(cost) for bit, cost in enumerate(opening) if fix.access >> bit & 1) for fix in fixes]
    of_each = np.array(
        [
            min(
                (fix.cost + r for fix, r in zip(fixes, reach, strict=True) if fix.cures[bit] > 0), default=0.0
            )
            for bit in range(candidates)
        ]
    )
    known = np.sort(of_each[of_each > 0])
    prices = np.append(of_each, known[len(known) // 2] if len(known) else 0.0)
    there = ((faults[:, None] >> np.arange(candidates + 1)) & 1).astype(float)
    there[:, -1] = [aftermath.stays(fault, 0)[1] if fault else 0.0 for fault in faults.tolist()]
    return np.asarray(there @ prices)


def aftermath_of(
    diagnosis: Diagnosis, candidates: Sequence[str], faults: FaultSets, probabilities: Array
) -> Aftermath:
    """What repairs leave. Where no complaint stands there is nothing to stay but the faults themselves."""
    complaints, beyond, shows = standing(diagnosis), 1 << len(candidates), shows_anew(diagnosis)
    alone = np.array([shows(id) if complaints else 1.0 for id in candidates])
    sets = likeliest(faults, probabilities, beyond)
    left = _left(diagnosis, candidates, complaints, sets) if complaints else {}
    usual = [
        (p, left[fault, 0])
        for fault, p in zip(faults.tolist(), probabilities, strict=True)
        if (fault, 0) in left
    ]
    weight = sum(p for p, _ in usual)
    mean = sum(p * share for p, share in usual) / weight if weight else 0.0
    return Aftermath(beyond, left, alone, _brings(diagnosis.knowledge, candidates), mean)


def shows_anew(diagnosis: Diagnosis) -> Callable[[str], float]:
    """P(a cause come anew brings what stands about), by its best path; 0 where this machine cannot have
    it."""
    complaints, causes = standing(diagnosis), set(diagnosis.built.causes)
    links = partial(links_of, diagnosis.knowledge)

    @cache
    def shows(id: str) -> float:
        below = strengths_below(links, id, WEAKEST) if id in causes else {}
        return 1 - float(np.prod([1 - below.get(one, 0.0) for one in complaints]))

    return shows


def standing(diagnosis: Diagnosis) -> tuple[str, ...]:
    """What the machine came in for and still shows: its complaints; where it has none, what it came with."""
    findings, first = diagnosis.knowledge.findings, set(diagnosis.case.came_in_for)
    shown = [id for item in diagnosis.shown if (id := item.observation.finding) in (first or findings)]
    shown = [id for id in shown if id in findings]
    return tuple(id for id in shown if findings[id].other) or tuple(shown)


def likeliest(faults: FaultSets, probabilities: Array, beyond: int) -> list[int]:
    """The likeliest sets of candidates, for which it is worth reckoning what is left of the complaint."""
    order = [int(i) for i in np.argsort(-probabilities, kind="stable") if probabilities[i] > 0]
    sets = [int(faults[i]) for i in order if not int(faults[i]) & beyond]
    return sets[:MOST_LEFT]


def _left(
    diagnosis: Diagnosis, candidates: Sequence[str], complaints: Sequence[str], sets: Sequence[int]
) -> dict[tuple[int, int], float]:
    """(faults before, faults after) -> P(the complaint stays), of the sets and all parts of them; a part that
    is not one of the sets is what was left of the likeliest set that holds it. Nothing where that is too
    wide."""
    whole = diagnosis.whole.focused if diagnosis.built.places else diagnosis  # focused already
    causes, shown = ([whole.built.variable(id) for id in ids] for ids in (candidates, complaints))
    try:
        remaining = Remaining(whole.built, whole.engine, causes, shown)
    except TooWide:
        return {}
    pairs = [(one, int(part)) for one in sets for part in closed([one])[:-1]]
    pairs = pairs[: max(FEWEST_LEFT, ROOM // remaining.tree.size)]
    found = dict(zip(pairs, map(float, remaining.left(pairs)), strict=True))
    for one, part in pairs:
        for further in closed([part])[:-1] if part else ():
            if (one, int(further)) in found and found[one, part] > 0:
                found.setdefault((part, int(further)), min(1.0, found[one, int(further)] / found[one, part]))
    return found


def _brings(knowledge: Knowledge, candidates: Sequence[str]) -> Array:
    """P(one candidate brings another about), by links and through conditions, shape (candidates,
    candidates)."""

    def below(id: str) -> tuple[Link, ...]:
        return links_of(knowledge, id) if id in knowledge.conditions else ()

    found = np.zeros((len(candidates), len(candidates)))
    for place, id in enumerate(candidates):
        for link in links_of(knowledge, id):
            reached = strengths_below(below, link.effect)
            for other, one in enumerate(candidates):
                if one in reached:
                    strength = link_strength(link) * reached[one]
                    found[place, other] = 1 - (1 - found[place, other]) * (1 - strength)
    return found
