"""Random networks and evidence: hypothesis strategies (small, shrinking) and seeded generators (larger)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from hypothesis import strategies as st

from diagnose.network.network import Array, Family, Network, NoisyMax, Table

WEIGHTS = (0.0, 1e-6, 0.02, 0.3, 1.0, 7.0)
"""Unnormalised probabilities: impossible, very rare, rare, and three of ordinary size."""


@st.composite
def distributions(draw: st.DrawFn, card: int) -> Array:
    """One distribution, zeros allowed."""
    weights = draw(st.lists(st.sampled_from(WEIGHTS), min_size=card, max_size=card).filter(any))
    return np.array(weights) / sum(weights)


@st.composite
def tables(draw: st.DrawFn, cards: Sequence[int], parents: tuple[int, ...], card: int) -> Table:
    """A full table over the given parents."""
    shape = (*(cards[parent] for parent in parents), card)
    rows = int(np.prod(shape[:-1], dtype=int))
    values = [draw(distributions(card)) for _ in range(rows)]
    return Table(parents, np.array(values).reshape(shape))


@st.composite
def noisy_maxes(draw: st.DrawFn, cards: Sequence[int], parents: tuple[int, ...], card: int) -> NoisyMax:
    """A noisy-MAX over the given parents; state 0 of a parent contributes nothing."""
    links = []
    for parent in parents:
        rows = [np.eye(card)[0], *(draw(distributions(card)) for _ in range(cards[parent] - 1))]
        links.append(np.array(rows))
    return NoisyMax(parents, draw(distributions(card)), tuple(links))


@st.composite
def networks(draw: st.DrawFn, max_variables: int = 7, max_parents: int = 4) -> Network:
    """A small network, tables and noisy-MAX mixed, two or three states a variable."""
    count = draw(st.integers(1, max_variables))
    cards = draw(st.lists(st.integers(2, 3), min_size=count, max_size=count))
    families: list[Family] = []
    for variable, card in enumerate(cards):
        parents = draw(_some_of(variable, max_parents))
        mixed = st.one_of(noisy_maxes(cards, parents, card), tables(cards, parents, card))
        families.append(draw(mixed))
    return named(cards, families)


@st.composite
def _some_of(draw: st.DrawFn, below: int, most: int) -> tuple[int, ...]:
    if below == 0:
        return ()
    return tuple(draw(st.lists(st.integers(0, below - 1), max_size=min(below, most), unique=True)))


@st.composite
def evidence_for(draw: st.DrawFn, network: Network) -> dict[int, Array]:
    """Hard and virtual evidence on some variables, in any order; may be impossible."""
    evidence = {}
    for variable in draw(_some_of(len(network.names), len(network.names))):
        card = network.cards[variable]
        hard = np.eye(card)[draw(st.integers(0, card - 1))]
        evidence[variable] = draw(st.one_of(st.just(hard), distributions(card).map(lambda row: row * 3.0)))
    return evidence


@st.composite
def cases(draw: st.DrawFn, max_variables: int = 7) -> tuple[Network, dict[int, Array]]:
    """A network with evidence for it."""
    network = draw(networks(max_variables))
    return network, draw(evidence_for(network))


def named(cards: Sequence[int], families: Sequence[Family]) -> Network:
    """A network with made-up names."""
    names = tuple(f"v{variable}" for variable in range(len(cards)))
    return Network(
        names, tuple(tuple(f"s{state}" for state in range(card)) for card in cards), tuple(families)
    )


def random_network(seed: int, count: int = 18, max_parents: int = 4, max_card: int = 3) -> Network:
    """A seeded network without zeros: about half the families noisy-MAX, parents drawn from the last ten."""
    rng = np.random.default_rng(seed)
    cards = [int(card) for card in rng.integers(2, max_card + 1, size=count)]
    families = [_random_family(rng, cards, variable, max_parents) for variable in range(count)]
    return named(cards, families)


def _random_family(rng: np.random.Generator, cards: Sequence[int], variable: int, max_parents: int) -> Family:
    recent = np.arange(max(0, variable - 10), variable)
    size = int(rng.integers(0, min(len(recent), max_parents) + 1))
    parents = tuple(int(parent) for parent in rng.choice(recent, size=size, replace=False)) if size else ()
    card = cards[variable]
    if rng.random() < 0.5:
        shape = (*(cards[parent] for parent in parents), card)
        return Table(parents, rng.dirichlet(np.ones(card), size=shape[:-1]).reshape(shape))
    links = []
    for parent in parents:
        link = rng.dirichlet(np.ones(card), size=cards[parent])
        link[0] = np.eye(card)[0]
        links.append(link)
    return NoisyMax(parents, rng.dirichlet(np.linspace(8.0, 1.0, card)), tuple(links))


def random_evidence(seed: int, network: Network, hard: int = 3, virtual: int = 2) -> dict[int, Array]:
    """Seeded evidence: some variables seen for sure, some through a likelihood."""
    rng = np.random.default_rng(seed)
    chosen = rng.choice(len(network.names), size=min(hard + virtual, len(network.names)), replace=False)
    evidence: dict[int, Array] = {}
    for place, variable in enumerate(int(v) for v in chosen):
        card = network.cards[variable]
        evidence[variable] = (
            np.eye(card)[rng.integers(card)] if place < hard else rng.uniform(0.05, 1.0, card)
        )
    return evidence
