"""What each item of evidence weighs for each cause, and how well the items fit together.

Weight of evidence (Good 1950, from memory): 10 log10 of the factor on the odds, in decibans. An item is weighed
given all the others, and in its turn, given those noted before it. By the chain rule the weights in turn sum to the
weight of all items together; those given all the others do not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diagnose.network.engine import Engine
from diagnose.network.messages import Beliefs
from diagnose.network.network import Array
from diagnose.network.observed import held
from diagnose.network.subsets import by_subset

DECIBANS = 10 / float(np.log(10))
"""Decibans in a natural logarithm."""
MOST = 120.0
"""Odds that double precision can still tell, in decibans."""

States = Mapping[int, int]
Masks = NDArray[np.bool_]
"""Which items count, shape (rows, items)."""


class Weighing:
    """The evidence of an engine, any part of which can be left out. `items`: observed variables, in order;
    `inside`: more variables that will be held or asked about."""

    def __init__(self, engine: Engine, items: Sequence[int], inside: Sequence[int] = ()):
        self.network, self.items = engine.network, tuple(items)
        self._engine, self._inside = engine, frozenset(inside)

    @cached_property
    def _whole(self) -> Engine:
        """An engine whose tree holds all that will be asked about."""
        missing = self._inside - self._engine.region
        if not missing:
            return self._engine
        return Engine(self.network, self._engine.evidence, self._engine.inside | missing)

    def run(self, masks: Masks, targets: Sequence[int], holding: Sequence[States] = ()) -> Beliefs:
        """Posteriors by some of the items: `masks`, shape (rows, items), true where the item counts. `holding`: for
        each row the states that further variables are held at. log_probability is that of both together."""
        states = held(holding or [{}] * len(masks), self.network.cards)
        known = [v for v in targets if self._whole.tree.place_of(v) is not None]
        cut = [n for n, item in enumerate(self.items) if item in self._whole.compiled.cut]
        if not cut:
            return by_subset(self._whole, self.items, masks, known, states)
        logs = np.empty(len(masks))
        marginals = {v: np.empty((self.network.cards[v], len(masks))) for v in known}
        patterns, of = np.unique(masks[:, cut], axis=0, return_inverse=True)
        for number, counts in enumerate(patterns):
            rows = np.flatnonzero(of.ravel() == number)
            engine = self._without(self.items[n] for n, here in zip(cut, counts, strict=True) if not here)
            part = by_subset(
                engine, self.items, masks[rows], known, {v: one[:, rows] for v, one in states.items()}
            )
            logs[rows] = part.log_probability
            for v in known:
                marginals[v][:, rows] = part.marginals[v]
        return Beliefs(logs, marginals)

    def _without(self, items: Iterable[int]) -> Engine:
        """An engine without these items, on which others hang, so that they cannot be let go in the tree."""
        gone = set(items)
        if not gone:
            return self._whole
        kept = {v: likelihood for v, likelihood in self._engine.evidence.items() if v not in gone}
        return Engine(self.network, kept, self._whole.inside | self._whole.region)

    @property
    def left_out(self) -> Masks:
        """Masks that leave out each item, shape (items, items)."""
        return ~self.alone

    @property
    def alone(self) -> Masks:
        """Masks with one item each, shape (items, items)."""
        return np.eye(len(self.items), dtype=np.bool_)

    @property
    def in_turn(self) -> Masks:
        """Masks with the first 0, 1, ... items, shape (items + 1, items)."""
        return np.tri(len(self.items) + 1, len(self.items), -1, dtype=np.bool_)


@dataclass(frozen=True, slots=True, eq=False)
class EvidenceWeights:
    """`weights`: shape (items, causes), what each item weighs given all others; `alone`: given nothing else; both
    in decibans. `conflict`: log2 of prod P(item) / P(all items) (Jensen et al. 1990). `strange`: for each item
    log2 of P(item) / P(item | the others)."""

    weights: Array
    alone: Array
    conflict: float
    strange: tuple[float, ...]


def weigh(weighing: Weighing, causes: Sequence[int]) -> EvidenceWeights:
    """Weigh the items for the causes; what no item speaks of, none weighs for."""
    count = len(weighing.items)
    masks = np.concatenate([weighing.in_turn[[0, -1]], weighing.left_out, weighing.alone])
    beliefs = weighing.run(masks, causes)
    odds = log_odds(beliefs, causes)
    before, whole, without, single = odds[0], odds[1], odds[2 : 2 + count], odds[2 + count :]
    logs = beliefs.log_probability / np.log(2)
    together, rest, each = logs[1], logs[2 : 2 + count], logs[2 + count :]
    return EvidenceWeights(
        whole - without,
        single - before,
        float(each.sum() - together),
        tuple(map(float, each - together + rest)),
    )


def story(weighing: Weighing, causes: Sequence[int]) -> Array:
    """How the odds of each cause moved, in decibans: before any item and after each in turn, shape (items + 1,
    causes). The steps are the weights in turn."""
    return log_odds(weighing.run(weighing.in_turn, causes), causes)


@dataclass(frozen=True, slots=True, eq=False)
class Between:
    """Odds of one cause without the other against the other without it, in decibans: `before` any item; what each
    item does to them in turn, and given all other items; shape (items,) each. `together`: P(state of the one, state
    of the other | all items), shape (2, 2)."""

    before: float
    in_turn: Array
    given_rest: Array
    together: Array

    @property
    def now(self) -> float:
        """The odds by all items."""
        return self.before + float(self.in_turn.sum())


def between(weighing: Weighing, one: int, other: int) -> Between:
    """What the items say of one cause against another. Odds that double precision cannot tell are cut off."""
    count = len(weighing.items)
    masks = np.concatenate([weighing.in_turn, weighing.left_out])
    every = np.ones((4, count), dtype=bool)
    pairs = [{one: a, other: b} for a in (0, 1) for b in (0, 1)]
    holding = [*([pairs[2]] * len(masks)), *([pairs[1]] * len(masks)), *pairs]
    logs = weighing.run(np.concatenate([masks, masks, every]), (), holding).log_probability
    mine, its, joint = logs[: len(masks)], logs[len(masks) : 2 * len(masks)], logs[-4:]
    odds = np.clip(np.nan_to_num(DECIBANS * (mine - its), nan=0.0), -MOST, MOST)
    chain, rest = odds[: count + 1], odds[count + 1 :]
    together = np.exp(joint - joint.max())
    return Between(
        float(chain[0]), np.diff(chain), chain[-1] - rest, (together / together.sum()).reshape(2, 2)
    )


def log_odds(beliefs: Beliefs, causes: Sequence[int]) -> Array:
    """Decibans of the odds of being present, within what double precision can tell; shape (rows, causes)."""
    rows = len(beliefs.log_probability)
    absent = [beliefs.marginals[v][0] if v in beliefs.marginals else np.full(rows, 0.5) for v in causes]
    p = np.clip(np.array(absent).reshape(-1, rows).T, 1e-12, 1 - 1e-12)
    found: Array = DECIBANS * np.log((1 - p) / p)
    return found
