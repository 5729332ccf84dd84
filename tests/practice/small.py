"""Small networks and exercises of which everything can be worked out by hand."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from itertools import product

import numpy as np

from diagnose.cases.events import Noted, Opened
from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from diagnose.network.network import Network, NoisyMax, Table
from diagnose.planning.shop import Shop
from diagnose.practice.exercise import Exercise, HiddenTruth
from diagnose.practice.run import ExerciseRun, started
from tests.cli.conftest import FOLDER

PRIORS = {"A": 0.01, "B": 0.05, "C": 0.02, "D": 0.10}
FINDINGS: Mapping[str, tuple[float, Mapping[str, float]]] = {
    "F1": (0.01, {"A": 0.9, "B": 0.3}),
    "F2": (0.02, {"A": 0.8, "C": 0.6}),
    "F3": (0.005, {"B": 0.7, "C": 0.2, "D": 0.1}),
    "F4": (0.05, {"A": 0.5, "D": 0.4}),
    "F5": (0.001, {"C": 0.9, "D": 0.05}),
}
"""The two-layer noisy-OR example of tests/oracles/worked.yaml (net leak), whose posteriors agree with pyAgrum."""
BINARY = ("absent", "present")
SHOP = Shop()


def two_layer(priors: Mapping[str, float] = PRIORS) -> Network:
    names = (*priors, *FINDINGS)
    index = {name: i for i, name in enumerate(names)}
    families: list[Table | NoisyMax] = [Table((), np.array([1 - p, p])) for p in priors.values()]
    for leak, links in FINDINGS.values():
        parents = tuple(index[parent] for parent in links)
        tables = tuple(np.array([[1.0, 0.0], [1 - w, w]]) for w in links.values())
        families.append(NoisyMax(parents, np.array([1 - leak, leak]), tables))
    return Network(names, (BINARY,) * len(names), tuple(families))


def enumerated(seen: Mapping[str, int], priors: Mapping[str, float] = PRIORS) -> dict[str, float]:
    """P(cause | seen) by adding up all sixteen combinations of causes."""
    total, present = 0.0, dict.fromkeys(priors, 0.0)
    for states in product((0, 1), repeat=len(priors)):
        there = dict(zip(priors, states, strict=True))
        p = float(np.prod([priors[c] if s else 1 - priors[c] for c, s in there.items()]))
        for finding, state in seen.items():
            leak, links = FINDINGS[finding]
            silent = (1 - leak) * float(np.prod([1 - w for c, w in links.items() if there[c]]))
            p *= 1 - silent if state else silent
        total += p
        for cause, state in there.items():
            present[cause] += p * state
    return {cause: p / total for cause, p in present.items()}


@cache
def knowledge() -> Knowledge:
    return load(FOLDER)


def exercise(cause: str = "pump_worn", seed: int = 1, *more: Noted) -> Exercise:
    opened = Opened("P-01", "old_six", {"start_aid": "none"}, 8000.0, {}, "does not start")
    return Exercise(
        (opened, Noted("no_start", "present"), *more), HiddenTruth((cause,), (), seed, "Title", "About")
    )


def run(cause: str = "pump_worn", seed: int = 1, *more: Noted) -> ExerciseRun:
    return ExerciseRun(knowledge(), SHOP, [started(knowledge(), exercise(cause, seed, *more), "Ann")], 1)
