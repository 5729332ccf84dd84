"""Cases drawn from the knowledge: a machine as it arrives, its complaints, and findings that share causes with
them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from diagnose.knowledge.records import Knowledge
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.forward import Herd, herd
from diagnose.network.observed import Evidence, one_hot
from diagnose.study.arrivals import events, machine_of

HOURS = 8000.0
MACHINES = 600
"""Machines drawn of each family, of which those with a complaint are taken."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """One case: `family` empty where it is not known; `evidence`: what was found, all sure."""

    family: str
    built: Built
    evidence: Evidence


class _Family:
    """The machines of one family (or unknown), and what can be found on them."""

    def __init__(self, knowledge: Knowledge, family: str, seed: int):
        machine = machine_of(knowledge, family, HOURS)
        self.built: Built = build(knowledge, machine)
        random = np.random.default_rng(seed)
        self.herd: Herd = herd(self.built.network, MACHINES, random, events(knowledge, self.built))
        self.findings = [self.built.variable(id) for id in knowledge.findings]
        self.complaints = [self.built.variable(id) for id, one in knowledge.findings.items() if one.other]
        self.above = {v: self.built.network.ancestors([v]) for v in self.findings}

    def drawn(self, family: str, findings: int, random: np.random.Generator) -> Drawn:
        """A machine with a complaint: up to a third of the findings are complaints that stand, the others share a
        cause with these, half of them not normal where there are so many."""
        states = self.herd.states
        standing: list[int] = []
        while not standing:
            machine = int(random.integers(MACHINES))
            standing = [v for v in self.complaints if states[v, machine]]
        first = _some(standing, max(1, findings // 3), random)
        above = self.built.network.ancestors(first)
        near = [v for v in self.findings if v not in first and len(self.above[v] & above) > 1]
        shown = _some([v for v in near if states[v, machine]], (findings - len(first)) // 2, random)
        rest = _some([v for v in near if not states[v, machine]], findings - len(first) - len(shown), random)
        cards = self.built.network.cards
        seen = {v: one_hot(cards[v], int(states[v, machine])) for v in (*first, *shown, *rest)}
        return Drawn(family, self.built, seen)


def _some(of: list[int], most: int, random: np.random.Generator) -> list[int]:
    return [int(v) for v in random.permutation(of)[: max(most, 0)]]


def drawn_cases(knowledge: Knowledge, cases: int, fewest: int, most: int, seed: int = 0) -> Iterator[Drawn]:
    """So many cases of `fewest` to `most` findings, of the unknown family and each known one in turn."""
    random = np.random.default_rng(seed)
    names = ["", *knowledge.families]
    families = [_Family(knowledge, name, seed) for name in names[:cases]]
    for number in range(cases):
        at = number % len(names)
        yield families[at].drawn(names[at], int(random.integers(fewest, most + 1)), random)
