"""Seeded synthetic networks of the size of the real task, and cases sampled from them.

The structure is made up: systems of a machine with mostly local links. It says nothing about engines; it
is there to be as large and as tangled as a full knowledge base would be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.network.network import Array, Family, Network, NoisyMax, Table

BINARY = ("absent", "present")
SYSTEMS = 12
CAUSES, CONDITIONS, FINDINGS = 168, 72, 408
MOST_PARENTS = 8
LOCAL = 0.85
"""Share of links that stay within one system."""

DISEASES, SIGNS, LINKS = 534, 4040, 40_740
"""Size of the largest published two-layer network (Shwe and others 1991, sizes from memory)."""


@dataclass(frozen=True, slots=True, eq=False)
class Synthetic:
    """A network and which of its variables are causes and findings."""

    network: Network
    causes: tuple[int, ...]
    findings: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """What was observed, and the faults that were really there."""

    evidence: dict[int, Array]
    faults: tuple[int, ...]


def knowledge_network(seed: int = 1, tangle: float = 0.25) -> Synthetic:
    """168 causes, 72 conditions, 408 findings, about 1,500 links; all binary, noisy-OR with leak.

    `tangle`: how often (0..1) a condition has each of two possible condition parents; more is harder.
    """
    rng = np.random.default_rng(seed)
    families: list[Family] = [_prior(rng.uniform(0.004, 0.05)) for _ in range(CAUSES)]
    causes = range(CAUSES)
    for number in range(CONDITIONS):
        place = number / CONDITIONS
        parents = _local(rng, causes, CAUSES, place, int(rng.integers(2, MOST_PARENTS)))
        earlier = range(CAUSES, CAUSES + number)
        above = _local(rng, earlier, CONDITIONS, place, int(rng.binomial(2, tangle)))
        parents = parents[: MOST_PARENTS - len(above)]
        families.append(_noisy_or(rng, (*parents, *above), leak=rng.uniform(0.0005, 0.005)))
    conditions = range(CAUSES, CAUSES + CONDITIONS)
    for number in range(FINDINGS):
        count = min(int(rng.geometric(1 / 3.5)), MOST_PARENTS)
        direct = int(rng.binomial(count, 0.4))
        parents = _local(rng, causes, CAUSES, number / FINDINGS, direct)
        above = _local(rng, conditions, CONDITIONS, number / FINDINGS, count - direct)
        families.append(_noisy_or(rng, (*parents, *above), leak=rng.uniform(0.001, 0.05)))
    names = [*_named("cause", CAUSES), *_named("condition", CONDITIONS), *_named("finding", FINDINGS)]
    network = Network(tuple(names), (BINARY,) * len(names), tuple(families))
    return Synthetic(network, tuple(causes), tuple(range(CAUSES + CONDITIONS, len(names))))


def two_layer_network(seed: int = 1, leak: float = 0.0) -> Synthetic:
    """534 causes, 4,040 findings, 40,740 links at random; without a leak by default, the harder case."""
    rng = np.random.default_rng(seed)
    families: list[Family] = [_prior(prior) for prior in rng.uniform(0.0005, 0.02, DISEASES)]
    counts = 1 + rng.multinomial(LINKS - SIGNS, np.full(SIGNS, 1 / SIGNS))
    for count in counts:
        parents = tuple(sorted(int(p) for p in rng.choice(DISEASES, size=count, replace=False)))
        families.append(_noisy_or(rng, parents, leak))
    names = [*_named("disease", DISEASES), *_named("sign", SIGNS)]
    network = Network(tuple(names), (BINARY,) * len(names), tuple(families))
    return Synthetic(network, tuple(range(DISEASES)), tuple(range(DISEASES, DISEASES + SIGNS)))


def sample_case(synthetic: Synthetic, seed: int, observed: int = 12) -> Case:
    """A machine with two or more faults; about half the findings present, absent ones looked for nearby."""
    rng = np.random.default_rng(seed)
    causes, findings = np.array(synthetic.causes), np.array(synthetic.findings)
    while True:
        state = sample(synthetic.network, rng)
        faults = causes[state[causes] == 1]
        shown = [
            f for f in findings if state[f] and synthetic.network.ancestors([int(f)]) & set(faults.tolist())
        ]
        if len(faults) >= 2 and len(shown) >= observed // 2:
            break
    present = rng.choice(shown, size=observed // 2, replace=False)
    related = synthetic.network.ancestors(int(f) for f in present)
    nearby = [f for f in findings if not state[f] and related & set(synthetic.network.parents(int(f)))]
    absent = rng.choice(nearby, size=observed - len(present), replace=False)
    return Case(_observed(present, absent), tuple(map(int, faults)))


def two_layer_case(synthetic: Synthetic, seed: int, positives: int, negatives: int = 20) -> Case:
    """`positives` signs that a few diseases together show, and `negatives` signs found absent."""
    rng = np.random.default_rng(seed)
    signs = np.array(synthetic.findings)
    while True:
        state = sample(synthetic.network, rng)
        if state[signs].sum() >= positives:
            break
    present = rng.choice(signs[state[signs] == 1], size=positives, replace=False)
    absent = rng.choice(signs[state[signs] == 0], size=negatives, replace=False)
    faults = np.flatnonzero(state[: len(synthetic.causes)])
    return Case(_observed(present, absent), tuple(map(int, faults)))


def sample(network: Network, rng: np.random.Generator) -> Array:
    """One joint state of a binary network, drawn parents first."""
    state = np.zeros(len(network.names))
    draws = rng.random(len(network.names))
    for variable, family in enumerate(network.families):
        if isinstance(family, Table):
            present = float(family.values[1])
        else:
            absent = [link[int(state[p]), 0] for p, link in zip(family.parents, family.links, strict=True)]
            present = 1 - float(family.leak[0] * np.prod(absent))
        state[variable] = draws[variable] < present
    return state


def _observed(present: Sequence[int] | Array, absent: Sequence[int] | Array) -> dict[int, Array]:
    seen = {int(f): np.array([0.0, 1.0]) for f in present}
    return seen | {int(f): np.array([1.0, 0.0]) for f in absent}


def _prior(chance: float) -> Table:
    return Table((), np.array([1 - chance, chance]))


def _noisy_or(rng: np.random.Generator, parents: Sequence[int], leak: float) -> NoisyMax:
    weights = rng.uniform(0.2, 0.95, len(parents))
    links = tuple(np.array([[1.0, 0.0], [1 - weight, weight]]) for weight in weights)
    return NoisyMax(tuple(parents), np.array([1 - leak, leak]), links)


def _local(rng: np.random.Generator, pool: range, layer: int, place: float, count: int) -> tuple[int, ...]:
    """`count` parents of the pool, most from the system in which `place` (0..1 along the layer) lies."""
    size = layer // SYSTEMS
    start = pool.start + int(place * SYSTEMS) * size
    home = [v for v in range(start, start + size) if v in pool]
    chosen: set[int] = set()
    for _ in range(count):
        near = home if home and rng.random() < LOCAL else list(pool)
        if near:
            chosen.add(int(rng.choice(near)))
    return tuple(sorted(chosen))


def _named(kind: str, count: int) -> list[str]:
    return [f"{kind}-{number:04d}" for number in range(count)]
