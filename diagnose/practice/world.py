"""A machine whose faults are known to nobody but the program: what every finding would show, now and after repairs.

The noise of every mechanism is drawn once and kept, as in the network's own account of repairs: what an unchanged
mechanism showed before a repair it shows after it. With the causes held, the hidden states are drawn exactly from
P(states | causes, what is already known), one after another in one tree; then each mechanism's noise given them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.network import Array, Network, NoisyMax, Table
from diagnose.network.observed import Evidence, one_hot
from diagnose.network.ties import untied


class World:
    """One machine. `held`: variable -> state of the roots that are settled; `draws[v]`: uniform draws of the leak
    and of each link of variable v, shape (1 + parents,). `gone`: causes taken away since."""

    def __init__(self, network: Network, held: Mapping[int, int], draws: Sequence[Array]):
        self.network, self.held, self.draws = network, held, draws
        self.gone: frozenset[int] = frozenset()
        self.states = self.states_without(())

    def as_it_came(self) -> World:
        """The same machine before anything was taken away."""
        return World(self.network, self.held, self.draws)

    def states_without(self, causes: Iterable[int]) -> list[int]:
        """The state of every variable if these causes were taken away too."""
        gone = self.gone.union(causes)
        states: list[int] = []
        for v, family in enumerate(self.network.families):
            if v in gone:
                states.append(0)
            elif v in self.held:
                states.append(self.held[v])
            else:
                states.append(_state(family, self.draws[v], states))
        return states

    def shows(self, id: str) -> str:
        """The state that a cause, condition or finding is in."""
        v = self.network.index[id]
        return self.network.states[v][self.states[v]]

    def normal(self, id: str) -> bool:
        """Whether it is in its first state."""
        return self.states[self.network.index[id]] == 0

    def would_be_normal(self, ids: Iterable[str]) -> bool:
        """Whether all of these would be normal with every cause taken away."""
        sound = World(self.network, dict.fromkeys(self.held, 0), self.draws)
        return all(sound.normal(id) for id in ids)

    def remove(self, causes: Iterable[str]) -> None:
        """Take causes away; all else stays as it was drawn."""
        self.gone |= {self.network.index[cause] for cause in causes}
        self.states = self.states_without(())


def sample(built: Built, present: Iterable[int], seen: Evidence, rng: np.random.Generator) -> World:
    """A machine with exactly these causes (variables) that shows what is already known.

    `seen`: likelihood of each variable observed. Raises ImpossibleEvidence where these causes cannot show it.
    """
    return samples(built, present, seen, rng, 1)[0]


def samples(
    built: Built, present: Iterable[int], seen: Evidence, rng: np.random.Generator, many: int
) -> list[World]:
    """So many of such machines, drawn independently."""
    built = untied(
        built, built.telling
    )  # with the causes held, what ties them says nothing of what they show
    network, there = built.network, set(present)
    settled = [*map(built.variable, built.causes), *built.others.values()]
    held = {v: int(v in there) for v in settled}
    engine = Engine(network, {**seen, **{v: one_hot(network.cards[v], s) for v, s in held.items()}})
    hidden = _hidden(engine, rng, many)
    return [World(network, held, _draws(network, {**states, **held}, held, rng)) for states in hidden]


def _draws(
    network: Network, states: Mapping[int, int], held: Mapping[int, int], rng: np.random.Generator
) -> list[Array]:
    """The noise of each mechanism: given its states where they were drawn, free elsewhere."""
    return [
        _noise(family, v, states, rng)
        if v in states and v not in held
        else rng.random(1 if isinstance(family, Table) else 1 + len(family.parents))
        for v, family in enumerate(network.families)
    ]


def _hidden(engine: Engine, rng: np.random.Generator, many: int) -> list[dict[int, int]]:
    """Joint draws of all variables of the tree given the evidence (the chain rule, parents first)."""
    engine.check()
    chosen: list[dict[int, int]] = [{} for _ in range(many)]
    for v in sorted(engine.region - engine.fixed.keys()):
        rows = [{**one, v: state} for one in chosen for state in range(engine.network.cards[v])]
        for one, chances in zip(chosen, engine.given(rows, ())[0].reshape(many, -1), strict=True):
            one[v] = int(rng.choice(len(chances), p=chances / chances.sum()))
    return [{**engine.fixed, **one} for one in chosen]


def _state(family: Table | NoisyMax, draws: Array, states: Sequence[int]) -> int:
    if isinstance(family, Table):
        return _reached(family.values[tuple(states[parent] for parent in family.parents)], draws[0])
    top = _reached(family.leak, draws[0])
    for parent, link, draw in zip(family.parents, family.links, draws[1:], strict=True):
        if state := states[parent]:  # in its first state a parent brings nothing
            top = max(top, _reached(link[state], draw))
    return top


def _rows(family: Table | NoisyMax, states: Sequence[int] | Mapping[int, int]) -> list[Array]:
    """What the leak and each parent in its state contribute: distributions over the child's states."""
    if isinstance(family, Table):
        row: Array = family.values[tuple(states[parent] for parent in family.parents)]
        return [row]
    links = zip(family.parents, family.links, strict=True)
    return [family.leak, *(link[states[parent]] for parent, link in links)]


def _reached(row: Array, u: float) -> int:
    below = 0.0
    for state, share in enumerate(row.tolist()[:-1]):  # short: a loop is quicker than numpy
        below += share
        if u < below:
            return state
    return len(row) - 1


def _noise(family: Table | NoisyMax, v: int, states: Mapping[int, int], rng: np.random.Generator) -> Array:
    return draws_given_max(_rows(family, states), states[v], rng)


def draws_given_max(rows: Sequence[Array], top: int, rng: np.random.Generator) -> Array:
    """Uniform draws of independent contributions (one distribution a row) given that the largest is `top`."""
    upto = np.array([row[: top + 1].sum() for row in rows])
    below = np.array([row[:top].sum() for row in rows])
    draws, reached = np.empty(len(rows)), False
    for i in range(len(rows)):
        low, high = 0.0, upto[i]
        if not reached:
            rest, rest_below = upto[i + 1 :].prod(), below[i + 1 :].prod()
            hit, miss = (upto[i] - below[i]) * rest, below[i] * (rest - rest_below)
            reached = bool(rng.random() * (hit + miss) < hit)
            low, high = (below[i], upto[i]) if reached else (0.0, below[i])
        draws[i] = low + (high - low) * rng.random()
    return draws
