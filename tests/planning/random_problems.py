"""Random small troubleshooting problems, seeded: up to 8 causes, up to 8 checks and repairs, access clusters,
imperfect checks, two faults at once; in half of them handing over costs more for some faults than for others."""

from __future__ import annotations

import numpy as np

from diagnose.planning.problem import DecisionProblem, Fix, Test, closed


def random_problem(seed: int, actions: int = 8) -> DecisionProblem:
    """One problem. Every cause has a repair where actions suffice; the rest is for the last resort."""
    rng = np.random.default_rng(seed)
    causes = int(rng.integers(3, 9))
    repairs = int(rng.integers(2, min(causes, actions - 2) + 1))
    tests = int(rng.integers(2, actions - repairs + 1))
    pairs = [(1 << int(a)) | (1 << int(b)) for a, b in rng.choice(causes, size=(2, 2)) if a != b]
    faults = closed([*(1 << c for c in range(causes)), *pairs])
    weights = rng.dirichlet(np.full(len(faults) - 1, 0.7))
    weights *= np.where([bin(int(f)).count("1") > 1 for f in faults[1:]], 0.3, 1.0)
    probabilities = np.concatenate([[0.0], weights / weights.sum()])
    states = int(rng.integers(0, 3))
    needs = tuple((1 if bit and rng.random() < 0.5 else 0) for bit in range(states))
    access = [int(rng.integers(0, 1 << states)) if rng.random() < 0.6 else 0 for _ in range(tests + repairs)]
    return DecisionProblem(
        faults,
        probabilities,
        tuple(_test(rng, i, access[i], faults, causes) for i in range(tests)),
        tuple(_fix(rng, i, access[tests + i], causes) for i in range(repairs)),
        _elsewhere(rng, len(faults), varies=bool(seed % 2)),
        rng.uniform(2, 20, size=states),
        needs,
        float(rng.uniform(0, 15)),
        bool(rng.random() < 0.5),
    )


def _elsewhere(rng: np.random.Generator, faults: int, varies: bool) -> float | np.ndarray:
    fee = float(rng.uniform(60, 150))
    return fee + rng.uniform(0, 60, size=faults) if varies else fee


def _test(rng: np.random.Generator, number: int, access: int, faults: np.ndarray, causes: int) -> Test:
    shown = rng.random(causes) < 0.4
    sensitivity, false_alarm = rng.uniform(0.75, 1.0), rng.uniform(0.0, 0.15)
    positive = [
        sensitivity if any(shown[c] and int(f) >> c & 1 for c in range(causes)) else false_alarm
        for f in faults
    ]
    results = np.stack([1 - np.array(positive), np.array(positive)], axis=1)
    return Test(f"t{number}", float(rng.uniform(1, 8)), access, results)


def _fix(rng: np.random.Generator, number: int, access: int, causes: int) -> Fix:
    cures = np.zeros(causes)
    cures[number] = rng.choice([1.0, 0.95, 0.85])
    if rng.random() < 0.3:
        cures[int(rng.integers(causes))] = rng.choice([1.0, 0.9])
    return Fix(f"r{number}", float(rng.uniform(5, 50)), access, cures)
