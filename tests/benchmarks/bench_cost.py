"""How the cost of a diagnosis grows: `python -m tests.benchmarks.bench_cost [CASES] [findings|causes|facts ...]`.

Network, tree and every posterior of drawn cases (drawn_cases.py), without start of Python and reading of
knowledge: by findings noted, by the share of the causes that the knowledge has, by the share of the facts that are
known. Processor time as a multiple of the median of one finding.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain
from time import process_time

import numpy as np

from diagnose.evidence.engaged import with_engine
from diagnose.knowledge.records import Knowledge
from diagnose.network.build import build
from diagnose.network.machine import Machine
from tests.benchmarks.drawn_cases import HOURS, Drawn, drawn_cases
from tests.shipped import shipped_knowledge

FINDINGS = (1, 2, 3, 5, 8, 12, 16, 20)
SHARES = (1.0, 0.75, 0.5, 0.25, 0.0)
USUAL = 5


def seconds(case: Drawn) -> float:
    """Processor time of one diagnosis from the network on."""
    start = process_time()
    _, engine, _ = with_engine(case.built, case.evidence)
    engine.check()
    return process_time() - start


def fewer(knowledge: Knowledge, share: float, random: np.random.Generator) -> Knowledge:
    """The knowledge with so many of its causes, chosen at random."""
    kept = {id for id in knowledge.causes if random.random() < share}
    return replace(knowledge, causes={id: one for id, one in knowledge.causes.items() if id in kept})


def told(knowledge: Knowledge, case: Drawn, share: float, random: np.random.Generator) -> Drawn:
    """The same findings on a machine of which so many facts are known, each as often as it is so."""
    family = knowledge.families[case.family].facts if case.family else {}
    loose = [one for one in knowledge.facts.values() if one.id not in family and not one.given]
    chosen = {one.id: _value(one.shares, one.values, random) for one in loose if random.random() < share}
    built = build(knowledge, Machine(family=case.family, facts={**chosen, **family}, hours=HOURS))
    names = {case.built.network.names[v]: seen for v, seen in case.evidence.items()}
    index = built.network.index
    return Drawn(case.family, built, {index[name]: seen for name, seen in names.items() if name in index})


def _value(shares: object, values: tuple[str, ...], random: np.random.Generator) -> str:
    weights = np.array([one.value for one in shares])  # type: ignore[attr-defined]
    return str(random.choice(values, p=weights / weights.sum())) if weights.sum() > 0 else values[0]


def by_findings(knowledge: Knowledge, cases: int) -> Iterator[tuple[str, list[float]]]:
    """Seconds of each case, by findings noted."""
    for findings in FINDINGS:
        yield (
            f"{findings} findings",
            [seconds(case) for case in drawn_cases(knowledge, cases, findings, findings)],
        )


def by_causes(knowledge: Knowledge, cases: int) -> Iterator[tuple[str, list[float]]]:
    """Seconds of each case, by the share of the causes that the knowledge has."""
    random = np.random.default_rng(7)
    for share in SHARES[-2::-1]:
        drawn = drawn_cases(fewer(knowledge, share, random), cases, USUAL, USUAL)
        yield f"{share:.0%} of the causes, {USUAL} findings", [seconds(case) for case in drawn]


def by_facts(knowledge: Knowledge, cases: int) -> Iterator[tuple[str, list[float]]]:
    """Seconds of each case, by the share of the machine's facts that are known."""
    random = np.random.default_rng(7)
    for share in SHARES:
        drawn = drawn_cases(knowledge, cases, USUAL, USUAL)
        yield (
            f"{share:.0%} of the facts known, {USUAL} findings",
            [seconds(told(knowledge, case, share, random)) for case in drawn],
        )


VARIED = {"findings": by_findings, "causes": by_causes, "facts": by_facts}


def main(cases: int, *varied: str) -> None:
    """Print one line for each."""
    knowledge = shipped_knowledge()
    first = float(np.median([seconds(case) for case in drawn_cases(knowledge, cases, 1, 1)]))
    for name, found in chain.from_iterable(VARIED[one](knowledge, cases) for one in varied or VARIED):
        marks = ", ".join(f"{q} %: {np.percentile(found, q) / first:.1f}" for q in (50, 90, 100))
        print(f"{name:40} {marks}", flush=True)
    print(f"1 = {first:.3f} s of processor time, here: the median of one finding")


if __name__ == "__main__":
    number, *parts = sys.argv[1:] or ["48"]
    main(int(number), *parts)
