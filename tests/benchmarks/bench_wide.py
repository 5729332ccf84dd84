"""How wide drawn cases are, what becomes of them, and how right the answer is where unlikely causes are counted
few at a time: `python -m tests.benchmarks.bench_wide [CASES] [FEWEST] [MOST] [SEED]`.

The same case is asked exactly where tables of up to 2^21 numbers do; facts that are not known stand on average in
both, so that only the counting differs.
"""

from __future__ import annotations

import sys
from time import process_time

import numpy as np

from diagnose.evidence.engaged import with_engine
from diagnose.network.engine import Engine
from diagnose.network.messages import TooWide
from diagnose.network.ties import loosened
from tests.benchmarks.drawn_cases import Drawn, drawn_cases
from tests.shipped import shipped_knowledge

EXACT = 1 << 21


def off(case: Drawn) -> tuple[float, float, float] | None:
    """The largest difference of any cause, the standard error told, and the links left on average; None where the
    case is exact anyhow or no exact answer is to be had."""
    loose = loosened(case.built, case.evidence)
    _, _, few = with_engine(loose, case.evidence)
    try:
        exact = Engine(loose.network, case.evidence, (), EXACT)
    except TooWide:
        return None
    if few is None:
        return None
    there = few.presences.of
    asked = [v for v in map(loose.variable, loose.causes) if v in exact.region and v in there]
    gap = max(abs(there[v] - (1 - float(exact.marginal(v)[0]))) for v in asked)
    return gap, few.presences.error, few.weakest


def main(cases: int = 110, fewest: int = 3, most: int = 12, seed: int = 0) -> None:
    """Print what became of the cases."""
    seconds, exact, few, aside, gaps = [], 0, 0, 0, []
    for case in drawn_cases(shipped_knowledge(), cases, fewest, most, seed):
        start = process_time()
        try:
            _, engine, found = with_engine(case.built, case.evidence)
        except TooWide:
            aside += 1
            continue
        engine.check()
        seconds.append(process_time() - start)
        exact, few = exact + (found is None), few + (found is not None)
        if found and (gap := off(case)):
            gaps.append(gap)
    print(
        f"{cases} cases of {fewest} to {most} findings: {exact} exact, {few} few at a time, {aside} set aside"
    )
    marks = ", ".join(f"{q} %: {np.percentile(seconds, q):.2f}" for q in (50, 75, 90, 100))
    print(f"seconds of processor time: {marks}")
    for weakest in sorted({one[2] for one in gaps}):
        mine = [one for one in gaps if one[2] == weakest]
        worst = ", ".join(f"{gap:.4f} (told {error:.4f})" for gap, error, _ in sorted(mine)[-3:])
        print(f"links below {weakest:g} on average: {len(mine)} compared, largest differences {worst}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
