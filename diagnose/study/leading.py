"""Does a cause come first in cases of its own? Cases are drawn from the network with the cause present, a handful
of telling findings is looked at, and the exact posterior is asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.network.buckets import TooWide
from diagnose.network.build import Built, build
from diagnose.network.engine import Engine
from diagnose.network.network import Network, NoisyMax
from diagnose.study.signatures import Signatures, machine_for

TELLING = 4
"""Findings looked at beside the complaint."""
WIDEST = 1 << 12
"""Tree beyond which less is looked at, the complaint first: a vague one ties half the engine together, and the
study must not take hours."""
FIRST = 2
"""Cases tried before all: most causes lead at once."""
TIE = 1e-9

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
    networks: dict[str, Built] = {}
    for position, id in enumerate(known.causes):
        told(position, len(known.causes))
        machine = machine_for(known.knowledge, known.knowledge.causes[id])
        if machine.family not in networks:
            networks[machine.family] = build(known.knowledge, machine)
        random = np.random.default_rng([seed, position])
        looked_at = telling(known, position, rivals[position])
        if (found := _leads(networks[machine.family], id, looked_at, samples, random)) is not None:
            yield found
    told(len(known.causes), len(known.causes))


def telling(known: Signatures, cause: int, rivals: NDArray[np.bool_]) -> list[str]:
    """The complaint that the cause brings most, then the findings that together tell it best from its rivals (from
    all causes of its machines, where it has none). Greedy cover by total variation."""
    complaints = [i for i, id in enumerate(known.findings) if known.knowledge.findings[id].other]
    chosen = sorted(complaints, key=lambda i: known.shown[i, 0, cause])[:1]
    against = rivals if rivals.any() else known.together[cause] & (np.arange(len(known.causes)) != cause)
    apart = known.apart(cause)[:, against]
    covered = apart[chosen].max(axis=0, initial=0.0)
    for _ in range(TELLING):
        gain = np.maximum(apart, covered).sum(axis=1)
        best = int(gain.argmax())
        if gain[best] <= covered.sum() + TIE:
            break
        chosen.append(best)
        covered = np.maximum(covered, apart[best])
    return [known.findings[i] for i in chosen]


def _leads(
    built: Built, id: str, looked_at: list[str], samples: int, random: np.random.Generator
) -> Leads | None:
    """None as soon as the cause leads."""
    cause = built.variable(id)
    engine, findings = _compiled(built, [built.variable(finding) for finding in looked_at])
    network = built.network
    worlds = draw(network, network.ancestors([*findings, cause]), {cause: 1}, samples, random)
    seen = worlds[:, findings]
    highest, above = 0.0, ""
    for part in (seen[:FIRST], seen[FIRST:]):
        if not len(part):
            continue
        rows = [dict(zip(findings, map(int, row), strict=True)) for row in np.unique(part, axis=0)]
        own, first, leader = _ranked(engine, built, cause, rows)
        if (own >= first - TIE).any():
            return None
        best = int(own.argmax())
        if own[best] >= highest:
            highest, above = float(own[best]), leader[best]
    names = tuple(network.names[v] for v in findings)
    return Leads(id, len(seen), highest, above, names)


def _compiled(built: Built, findings: list[int]) -> tuple[Engine, list[int]]:
    """An engine with the findings open; the complaint, then the least telling ones, are left away while it is too
    wide."""
    full = findings
    while True:
        try:
            return Engine(built.network, {}, inside=findings, widest=WIDEST), findings
        except TooWide:
            if len(findings) == 1:
                return Engine(built.network, {}, inside=findings), findings
            findings = findings[1:] if findings is full else findings[:-1]


def _ranked(
    engine: Engine, built: Built, cause: int, rows: Sequence[Mapping[int, int]]
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[str]]:
    """In each row the cause's probability, that of the first of the others, and which that is."""
    others = [v for v in map(built.variable, built.causes) if v != cause]
    _, present = engine.given(rows, [cause, *others])
    first = present[:, 1:].argmax(axis=1)
    leader = [built.network.names[others[i]] for i in first]
    return present[:, 0], present[:, 1:].max(axis=1), leader


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
