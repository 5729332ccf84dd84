"""Does a cause come first in cases of its own? Cases are drawn from the network with the cause present, a handful
of telling findings is looked at, and the exact posterior is asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.messages import TooWide
from diagnose.network.network import Network, NoisyMax
from diagnose.network.predict import rough_marginals
from diagnose.network.ties import untied
from diagnose.study.signatures import Signatures, machine_for

TELLING = 4
"""Findings looked at beside the complaint."""
OWN = 0.15
"""Least that the cause itself shifts a finding that counts as telling (judgement)."""
WIDEST = 1 << 12
"""Tree beyond which less is looked at, the vaguest first (mostly the complaint): it ties half the engine together,
and the study must not take hours."""
FIRST = 2
"""Cases tried before all: most causes lead at once."""
TIE = 1e-9  # probabilities closer than this are equal

States = NDArray[np.int64]
Told = Callable[[int, int], None]
"""Progress: done, of how many."""


def silent(done: int, of: int) -> None:
    """Tells nobody."""


@dataclass(frozen=True, slots=True)
class Leads:
    """A cause that never came first: in how many cases, its highest probability, what stood above it then, and the
    findings looked at."""

    cause: str
    cases: int
    highest: float
    above: str
    findings: tuple[str, ...]


def lead_in_own_cases(
    known: Signatures, rivals: NDArray[np.bool_], samples: int, seed: int, told: Told = silent
) -> Iterator[Leads]:
    """The causes that never come first in `samples` cases of their own."""
    scenes: dict[frozenset[tuple[str, str]], _Scene] = {}
    for position, id in enumerate(known.causes):
        told(position, len(known.causes))
        machine = machine_for(known.knowledge, known.knowledge.causes[id])
        kind = frozenset(machine.facts.items())
        if kind not in scenes:
            scenes[kind] = _scene(build(known.knowledge, machine))
        random = np.random.default_rng([seed, position])
        looked_at = telling(known, position, rivals[position])
        if (found := _leads(scenes[kind], id, looked_at, samples, random)) is not None:
            yield found
    told(len(known.causes), len(known.causes))


def telling(known: Signatures, cause: int, rivals: NDArray[np.bool_]) -> list[str]:
    """The complaint that the cause brings most, then, of the findings that it shifts itself, those that together
    tell it best from its rivals (from all others, where it has none).

    Greedy; what is left in common with a rival is the product of the findings' Bhattacharyya coefficients, sum over
    states of sqrt(p q), as if findings were independent given the cause (Bhattacharyya 1943, from memory).
    """
    complaints = [i for i, id in enumerate(known.findings) if known.knowledge.findings[id].other]
    chosen = sorted(complaints, key=lambda i: known.shown[i, 0, cause])[:1]
    against = rivals if rivals.any() else np.arange(len(known.causes)) != cause
    own = np.abs(known.shown[:, :, cause] - known.sound).sum(axis=1) / 2 >= OWN
    common = np.sqrt(known.shown[:, :, [cause]] * known.shown[:, :, against]).sum(axis=1)
    common[~own] = 1.0
    left = common[chosen].prod(axis=0)
    common[chosen] = 1.0
    for _ in range(TELLING):
        best = int((common * left).sum(axis=1).argmin())
        if (common[best] >= 1.0).all():
            break
        chosen.append(best)
        left = left * common[best]
        common[best] = 1.0
    return [known.findings[i] for i in chosen]


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    """The network of one kind of machine, its causes not tied by facts that nobody told (else hardly a finding has
    room), and how likely each cause's variable is before anything is seen, as if its parents were independent."""

    built: Built
    before: Mapping[int, float]


def _scene(built: Built) -> _Scene:
    built = untied(built, built.telling)
    marginals = rough_marginals(Engine(built.network, {}), [built.variable(id) for id in built.causes])
    return _Scene(built, {v: float(1 - marginal[0]) for v, marginal in marginals.items()})


def _leads(
    scene: _Scene, id: str, looked_at: list[str], samples: int, random: np.random.Generator
) -> Leads | None:
    """None as soon as the cause leads, and where not even one finding can be looked at exactly."""
    built = scene.built
    cause = built.variable(id)
    try:
        engine, findings = _compiled(built, [built.variable(finding) for finding in looked_at])
    except TooWide:
        return None
    network = built.network
    worlds = draw(network, network.ancestors([*findings, cause]), {cause: 1}, samples, random)
    seen = worlds[:, findings]
    highest, above = 0.0, ""
    for part in (seen[:FIRST], seen[FIRST:]):
        if not len(part):
            continue
        rows = [dict(zip(findings, map(int, row), strict=True)) for row in np.unique(part, axis=0)]
        own, first, leader = _ranked(engine, scene, cause, rows)
        if (own >= first - TIE).any():
            return None
        best = int(own.argmax())
        if own[best] >= highest:
            highest, above = float(own[best]), leader[best]
    names = tuple(network.names[v] for v in findings)
    return Leads(id, len(seen), highest, above, names)


def _compiled(built: Built, findings: list[int]) -> tuple[Engine, list[int]]:
    """An engine with the findings open; while it is too wide, that with the most above it is left away."""
    while True:
        try:
            return Engine(built.network, {}, inside=findings, widest=WIDEST), findings
        except TooWide:
            if len(findings) == 1:
                return Engine(built.network, {}, inside=findings), findings
            vague = max(findings, key=lambda v: len(built.network.ancestors([v])))
            findings = [v for v in findings if v != vague]


def _ranked(
    engine: Engine, scene: _Scene, cause: int, rows: Sequence[Mapping[int, int]]
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[str]]:
    """In each row the cause's probability, that of the first of the others, and which that is.

    One run of the tree, not `Engine.given`, which needs one more for what is asked here of no row."""
    weights = {v: np.zeros((engine.network.cards[v], len(rows))) for v in rows[0]}
    for column, row in enumerate(rows):
        for variable, state in row.items():
            weights[variable][state, column] = 1.0
    inside = [v for v in scene.before if v in engine.region]
    beliefs = engine.tree.run(weights, inside, len(rows))
    present = {v: np.full(len(rows), before) for v, before in scene.before.items()}
    present |= {v: 1 - beliefs.marginals[v][0] for v in inside}
    own = present.pop(cause)
    others = np.array(list(present.values()))
    names = [engine.network.names[v] for v in present]
    return own, others.max(axis=0), [names[i] for i in others.argmax(axis=0)]


def draw(
    network: Network, wanted: set[int], held: Mapping[int, int], count: int, random: np.random.Generator
) -> States:
    """Worlds from the top down with some variables held, shape (count, variables); only `wanted` are filled in.
    Each parent's contribution is drawn alone and the worst wins."""
    worlds = np.zeros((count, len(network.names)), dtype=np.int64)
    for variable in sorted(wanted):
        family = network.families[variable]
        if variable in held:
            value: States = np.full(count, held[variable])
        elif isinstance(family, NoisyMax):
            value = _pick(np.broadcast_to(family.leak, (count, len(family.leak))), random)
            for parent, link in zip(family.parents, family.links, strict=True):
                value = np.maximum(value, _pick(link[worlds[:, parent]], random))
        else:
            rows = family.values[tuple(worlds[:, p] for p in family.parents)]
            value = _pick(np.broadcast_to(rows, (count, network.cards[variable])), random)
        worlds[:, variable] = value
    return worlds


def _pick(rows: NDArray[np.float64], random: np.random.Generator) -> States:
    """One state from each row of distributions."""
    below = np.cumsum(rows, axis=1)[:, :-1]
    chosen: States = (random.random((len(rows), 1)) >= below).sum(axis=1)
    return chosen
