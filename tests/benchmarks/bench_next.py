"""`diagnose next` with costs on a synthetic knowledge: `python -m tests.benchmarks.bench_next [repeats]`.

The network of bench_engine (168 causes, 72 conditions, 408 findings) with a check for every two findings, a repair
for every cause, 24 states of dismantling in 6 clusters. Twelve findings are seen, half of them present. Timed in
one run: diagnosis, planning problem, ranking of the checks; and for comparison the exact information of every
finding not seen. Made up throughout: it says nothing about engines.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
from collections.abc import Callable
from time import perf_counter
from typing import TypeVar

import numpy as np

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import diagnose
from diagnose.errors import Place
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import (
    Access,
    Cause,
    Check,
    Condition,
    Cure,
    Finding,
    Knowledge,
    Link,
    Part,
    Repair,
    System,
)
from diagnose.network.engine import Engine
from diagnose.network.network import NoisyMax, Table
from diagnose.planning.checks import next_checks
from diagnose.planning.shop import Shop
from diagnose.planning.situation import situation
from tests.benchmarks.synthetic import Synthetic, knowledge_network, sample_case

HERE = Place("synthetic", 1, 1)
STATES, CLUSTERS = 24, 6
COMPLAINTS = 12
T = TypeVar("T")


def number(value: float | np.integer) -> Number:
    """A made-up number."""
    return Number(float(value), "judgement", 10.0, HERE)


def as_knowledge(made: Synthetic, seed: int = 1) -> Knowledge:
    """The network as records, with checks, repairs and dismantling drawn at random."""
    rng = np.random.default_rng(seed)
    network, names = made.network, made.network.names
    links = _links(made)
    access = {f"access-{n}": _access(n, rng) for n in range(STATES)}
    places = list(access)
    causes, conditions = dict[str, Cause](), dict[str, Condition]()
    findings = dict[str, Finding]()
    for v, (id, family) in enumerate(zip(names, network.families, strict=True)):
        if isinstance(family, Table):
            prior = number(family.values[1])
            causes[id] = Cause(id, id, "made_up", "", "", prior, "share", None, (), (), links[v], HERE)
        elif v in made.findings:
            other = number(0.01) if len(findings) % (len(made.findings) // COMPLAINTS) == 0 else None
            leak = (number(family.leak[1]),)
            states = ("absent", "present")
            findings[id] = Finding(id, id, "made_up", "sign", states, leak, other, (), "", None, (), HERE)
        else:
            leak = (number(family.leak[1]),)
            conditions[id] = Condition(id, id, "made_up", "", ("absent", "present"), leak, links[v], HERE)
    pairs = [tuple(list(findings)[n : n + 2]) for n in range(0, len(findings), 2)]
    checks = [_check(n, shown, str(rng.choice(places)), rng) for n, shown in enumerate(pairs)]
    repairs = [_repair(id, str(rng.choice(places)), rng) for id in causes]
    return Knowledge(
        "synthetic",
        {"made_up": System("made_up", "Made up", "", HERE)},
        causes,
        conditions,
        findings,
        {check.id: check for check in checks},
        {repair.id: repair for repair in repairs},
        access,
        {},
        {},
        {},
        {},
    )


def _links(made: Synthetic) -> list[tuple[Link, ...]]:
    found: list[list[Link]] = [[] for _ in made.network.names]
    for effect, family in enumerate(made.network.families):
        if isinstance(family, NoisyMax):
            for parent, link in zip(family.parents, family.links, strict=True):
                found[parent].append(Link(made.network.names[effect], ((number(link[1, 1]),),), HERE))
    return [tuple(links) for links in found]


def _access(n: int, rng: np.random.Generator) -> Access:
    needs = (f"access-{n - CLUSTERS}",) if n >= CLUSTERS else ()
    minutes = float(rng.integers(5, 60))
    return Access(f"access-{n}", f"access-{n}", needs, minutes, minutes, (), HERE)


def _check(n: int, shown: tuple[str, ...], access: str, rng: np.random.Generator) -> Check:
    minutes = number(rng.integers(3, 40))
    return Check(f"check-{n}", f"check-{n}", "made_up", minutes, (access,), (), (), shown, (), (), HERE)


def _repair(cause: str, access: str, rng: np.random.Generator) -> Repair:
    parts = (Part(f"part of {cause}", 1.0, float(rng.integers(20, 2000)), False),)
    cures = (Cure(cause, number(0.95), HERE),)
    id, minutes = f"repair-{cause}", number(rng.integers(20, 300))
    return Repair(id, id, "made_up", minutes, (access,), (), parts, cures, None, (), (), (), HERE)


def best(repeats: int, work: Callable[[], T]) -> tuple[float, T]:
    """The shortest of several runs in seconds, and what it gave."""
    times = []
    for _ in range(repeats):
        begun = perf_counter()
        found = work()
        times.append(perf_counter() - begun)
    return min(times), found


def main(repeats: int = 3) -> None:
    """Run and print."""
    made = knowledge_network()
    knowledge = as_knowledge(made)
    seen = sample_case(made, seed=1).evidence
    names = made.network.names
    states = {names[v]: ("absent", "present")[int(row.argmax())] for v, row in seen.items()}
    case = Case(1, epochs=(Epoch(observations=tuple(Observation(f, s) for f, s in states.items())),))
    diagnosing, diagnosis = best(repeats, lambda: diagnose(knowledge, case))
    planning, now = best(repeats, lambda: situation(diagnosis, Shop()))
    ranking, found = best(repeats, lambda: next_checks(diagnose(knowledge, case), now))
    unseen = [(v,) for v in made.findings if v not in seen]
    told, _ = best(repeats, lambda: Engine(made.network, seen).outcomes(unseen, made.causes))
    whole = diagnosing + planning + (ranking - diagnosing)
    print(f"{len(knowledge.checks)} checks, {len(knowledge.repairs)} repairs, {STATES} states of dismantling")
    print(f"diagnosis {1000 * diagnosing:.0f} ms, planning problem {1000 * planning:.0f} ms, ", end="")
    print(f"ranking of {len(found)} checks by money {1000 * (ranking - diagnosing):.0f} ms")
    print(f"next with costs {whole:.2f} s; {whole / told:.1f} times ", end="")
    print(f"the exact information of all {len(unseen)} findings alone")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
