"""Several faults at once: which sets are likely, and which cause is only the consequence of another."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from itertools import combinations

from diagnose.network.engine import Engine
from diagnose.network.network import Network

LARGEST_SET = 3  # faults at once: an arrival has 1.0 to 1.5 as a rule
CANDIDATES = 6  # causes: 42 sets of up to three
LIKELY = 0.05
"""P(cause | evidence) from which it is asked whether another brought the cause about."""
NAMED = 3
"""How many of those right above a cause are asked which of them it was: the likeliest."""


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


def roots(
    engine: Engine, causes: Sequence[int], floor: float = LIKELY, copies: Mapping[int, int] | None = None
) -> dict[int, int]:
    """Cause -> the cause that most likely brought it about, where it is more likely wrecked than a root. `copies`:
    what stands for a cause at a cylinder or bank, and for which.

    A cause is a consequence if, given that it is present, some cause right above it is present with P >= 1/2,
    or one that leads to it through conditions alone is. Exact; asked of causes of at least `floor`
    probability.
    """
    inside = [v for v in causes if v in engine.region and v not in engine.fixed]
    chances = {v: 1 - float(engine.marginal(v)[0]) for v in inside}
    asked = [v for v in inside if chances[v] >= floor]
    above = _above(_parents(engine.network, copies or {}), chances.keys(), asked)
    none = {v: dict.fromkeys(over.direct, 0) for v, over in above.items() if _may(v, over.direct, chances)}
    pairs = [(v, p) for v in none for p in sorted(above[v].direct, key=lambda p: -chances[p])[:NAMED]]
    pairs += [(v, p) for v, over in above.items() for p in over.through if _may(v, [p], chances)]
    rows = [*({v: 1, **absent} for v, absent in none.items()), *({v: 1, p: 1} for v, p in pairs)]
    if not rows:
        return {}
    joint, _ = engine.given(rows, ())
    alone = dict(zip(none, joint[: len(none)], strict=True))
    both = dict(zip(pairs, joint[len(none) :], strict=True))
    found = {}
    for v, over in above.items():
        direct = [p for p in over.direct if (v, p) in both]
        through = [p for p in over.through if (v, p) in both]
        best = max(
            direct if v in alone and 2 * alone[v] <= chances[v] else through,
            key=lambda p: both[v, p],
            default=-1,
        )
        if best >= 0 and (best in direct or 2 * both[v, best] >= chances[v]):
            found[v] = best
    return found


def _may(cause: int, others: Iterable[int], chances: Mapping[int, float]) -> bool:
    """Whether, given the cause, one of the others can be there with P >= 1/2: P(p | cause) <= P(p) /
    P(cause)."""
    return 2 * sum(chances[p] for p in others) >= chances[cause]


@dataclass(frozen=True, slots=True)
class _Above:
    """The causes right above a cause, and those that lead to it through conditions alone."""

    direct: tuple[int, ...]
    through: tuple[int, ...]


def _parents(network: Network, copies: Mapping[int, int]) -> Callable[[int], tuple[int, ...]]:
    """Tells the parents of a variable; copies count as what they stand for."""
    if not copies:
        return network.parents
    of: dict[int, list[int]] = {}
    for copy, whole in copies.items():
        of.setdefault(whole, []).append(copy)

    def parents(variable: int) -> tuple[int, ...]:
        above = (copies.get(p, p) for one in (variable, *of.get(variable, ())) for p in network.parents(one))
        return tuple(dict.fromkeys(p for p in above if p != variable))

    return parents


def _above(
    parents: Callable[[int], tuple[int, ...]], known: Set[int], asked: Iterable[int]
) -> dict[int, _Above]:
    """For each of those asked for that another of the known causes can bring about."""
    found = {}
    for variable in asked:
        direct = tuple(p for p in parents(variable) if p in known)
        waiting = [p for p in parents(variable) if p not in known]
        through, seen = dict[int, None](), set(waiting)
        while waiting:
            for parent in parents(waiting.pop()):
                if parent in known and parent != variable:
                    through.setdefault(parent)
                elif parent not in seen:
                    seen.add(parent)
                    waiting.append(parent)
        if direct or through:
            found[variable] = _Above(direct, tuple(p for p in through if p not in direct))
    return found
