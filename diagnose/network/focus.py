"""A smaller network for planning: causes that are unlikely by now stand in it on average in their effects."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace

import numpy as np

from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.network import NoisyMax, Table
from diagnose.network.thinning import without


def on_average(built: Built, engine: Engine, likely: Set[int]) -> tuple[Built, Engine]:
    """The same with all causes that can be let go but the likely ones on average in their effects."""
    smaller = _folded(built, _let_go(built, engine.region) - likely)
    return smaller, Engine(smaller.network, engine.evidence)


def _folded(built: Built, gone: Set[int]) -> Built:
    """The same with these causes out of the families of their effects, on average in the leaks."""
    chances = {v: built.priors[built.variables[v].id] for v in gone}
    states = {v: np.array([1 - p, p]) for v, p in chances.items()}
    families = tuple(
        without(family, states)
        if isinstance(family, NoisyMax) and not states.keys().isdisjoint(family.parents)
        else family
        for family in built.network.families
    )
    return replace(built, network=replace(built.network, families=families))


def _let_go(built: Built, region: Set[int]) -> frozenset[int]:
    """The causes that can be let go: never repaired, nothing above them but facts of the machine, all effects
    noisy-MAX."""
    network = built.network
    tabled = {p for v in region if isinstance(network.families[v], Table) for p in network.parents(v)}
    steady = {built.variable(id) for id in built.causes if len(set(built.versions[id])) == 1}
    return frozenset(v for v in steady & region - tabled if built.shares.keys() >= set(network.parents(v)))
