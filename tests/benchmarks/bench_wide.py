"""How wide drawn cases are, what becomes of them, and how right the answer is where links stand on average:
`python -m tests.benchmarks.bench_wide [CASES] [FEWEST] [MOST] [SEED]`.

Where links stand on average the same case is asked exactly, if tables of up to 2^22 numbers do; facts that are not
known stand on average in both, so that only the links differ.
"""

from __future__ import annotations

import sys
from time import process_time

import numpy as np

from diagnose.evidence.engaged import THINNED, with_engine
from diagnose.network.engine import Engine
from diagnose.network.messages import TooWide
from diagnose.network.thinning import Thinned, thinned
from diagnose.network.ties import loosened
from tests.benchmarks.drawn_cases import Drawn, drawn_cases
from tests.shipped import shipped_knowledge

WIDEST, MOST = 1 << 22, 5_000_000
"""Of the exact answer: half a minute."""


def off(case: Drawn, thin: Thinned) -> float | None:
    """The largest difference of any cause; None where no exact answer is to be had."""
    loose = loosened(case.built, case.evidence)
    try:
        exact = Engine(loose.network, case.evidence, (), WIDEST)
    except TooWide:
        return None
    if exact.tree.size > MOST:
        return None
    asked = [v for v in map(loose.variable, loose.causes) if v in exact.region]
    return max(abs(float(thin.engine.marginal(v)[0] - exact.marginal(v)[0])) for v in asked)


def main(cases: int = 110, fewest: int = 3, most: int = 12, seed: int = 0) -> None:
    """Print what became of the cases; every tenth exact one of more than a moment is thinned too, for its error."""
    seconds, exact, thin, aside, gaps = [], 0, 0, 0, []
    for number, case in enumerate(drawn_cases(shipped_knowledge(), cases, fewest, most, seed)):
        start = process_time()
        try:
            _, engine, found = with_engine(case.built, case.evidence)
        except TooWide:
            aside += 1
            continue
        engine.check()
        seconds.append(process_time() - start)
        exact, thin = exact + (found is None), thin + (found is not None)
        if found is None and engine.tree.size > THINNED[1] and number % 10 == 0:
            found = thinned(case.built, case.evidence, *THINNED)
        if found and (gap := off(case, found)) is not None:
            gaps.append((gap, found.error))
    print(f"{cases} cases of {fewest} to {most} findings: {exact} exact, {thin} thinned, {aside} set aside")
    marks = ", ".join(f"{q} %: {np.percentile(seconds, q):.2f}" for q in (50, 75, 90, 99, 100))
    print(f"seconds of processor time: {marks}")
    worst = ", ".join(f"{gap:.4f} (told {error:.4f})" for gap, error in sorted(gaps, reverse=True)[:5])
    beyond = sum(gap > error for gap, error in gaps)
    print(f"thinned and compared: {len(gaps)}, {beyond} beyond what is told; largest differences {worst}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
