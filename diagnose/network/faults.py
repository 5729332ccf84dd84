"""Several faults at once: which sets are likely, and which cause is only the consequence of another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from diagnose.network.engine import Engine
from diagnose.network.network import Network

LARGEST_SET = 3
CANDIDATES = 10


@dataclass(frozen=True, slots=True)
class FaultSet:
    """P(of the candidates exactly these are present | evidence)."""

    causes: tuple[int, ...]
    probability: float


def fault_sets(engine: Engine, probabilities: Mapping[int, float], floor: float = 0.02) -> list[FaultSet]:
    """The most likely sets among the candidates: the likeliest causes that the evidence speaks of.

    Exact for each set of up to LARGEST_SET causes; other causes may or may not be present beside them.
    """
    ranked = sorted(probabilities, key=lambda v: -probabilities[v])
    likely = [v for v in ranked if v in engine.region and v not in engine.fixed and probabilities[v] >= floor]
    candidates = likely[:CANDIDATES]
    sets = [c for size in range(LARGEST_SET + 1) for c in combinations(candidates, size)]
    rows = [{v: int(v in chosen) for v in candidates} for chosen in sets]
    chances, _ = engine.given(rows, ())
    found = [FaultSet(chosen, float(p)) for chosen, p in zip(sets, chances, strict=True)]
    return sorted(found, key=lambda fault_set: -fault_set.probability)


def roots(engine: Engine, causes: Sequence[int], floor: float = 0.005) -> dict[int, int]:
    """Cause -> the cause that most likely brought it about, where it is more likely wrecked than a root.

    A cause is a consequence if, given that it is present, some cause right above it is present with P >= 1/2, or
    one that leads to it through conditions alone is.
    """
    inside = [v for v in causes if v in engine.region and v not in engine.fixed]
    chances = {v: 1 - float(engine.marginal(v)[0]) for v in inside}
    above = _above(engine.network, set(causes), [v for v in inside if chances[v] >= floor])
    asked = [v for v in above if _can_be_wrecked(chances[v], above[v], chances)]
    if not asked:
        return {}
    parents = sorted({p for v in asked for p in (*above[v].direct, *above[v].through)})
    _, present = engine.given([{v: 1} for v in asked], parents)
    found = {}
    for row, variable in zip(present, asked, strict=True):
        chance = dict(zip(parents, row.tolist(), strict=True))
        direct, through = above[variable].direct, above[variable].through
        if 1 - float(np.prod([1 - chance[p] for p in direct])) >= 0.5:
            found[variable] = max(direct, key=chance.__getitem__)
        elif through and chance[best := max(through, key=chance.__getitem__)] >= 0.5:
            found[variable] = best
    return found


def _can_be_wrecked(chance: float, above: _Above, chances: Mapping[int, float]) -> bool:
    """Whether those above can be there with P >= 1/2 given the cause: P(p | cause) <= P(p) / P(cause). One whose
    chance is not known (its state is) can."""
    direct = sum(chances.get(p, 1.0) for p in above.direct)
    return 2 * max(direct, *(chances.get(p, 1.0) for p in above.through), 0.0) >= chance


@dataclass(frozen=True, slots=True)
class _Above:
    """The causes right above a cause, and those that lead to it through conditions alone."""

    direct: tuple[int, ...]
    through: tuple[int, ...]


def _above(network: Network, known: Set[int], asked: Iterable[int]) -> dict[int, _Above]:
    """For each of those asked for that another of the known causes can bring about."""
    found = {}
    for variable in asked:
        direct = tuple(p for p in network.parents(variable) if p in known)
        waiting = [p for p in network.parents(variable) if p not in known]
        through, seen = dict[int, None](), set(waiting)
        while waiting:
            for parent in network.parents(waiting.pop()):
                if parent in known:
                    through.setdefault(parent)
                elif parent not in seen:
                    seen.add(parent)
                    waiting.append(parent)
        if direct or through:
            found[variable] = _Above(direct, tuple(p for p in through if p not in direct))
    return found
