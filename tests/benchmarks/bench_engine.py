"""Times the engine beside pyAgrum in one run, and checks that both say the same.

    python -m tests.benchmarks.bench_engine [--full] [--seed N] [--repeat N] [--tangle X]

Prints ratios (pyAgrum's time / ours: more than 1 = ours is faster); absolute times belong to the machine at
hand. pyAgrum gets full tables where they fit; its network is built before the clock starts, ours is compiled
within it.
Exit code 1 if any two numbers differ by more than 1e-9.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from time import perf_counter
from typing import Any, TypeVar

import numpy as np

from diagnose.network.divorce import divorce, renumbered
from diagnose.network.engine import Engine, Outcomes, posterior
from diagnose.network.network import Array, Network
from tests.benchmarks.subset_recursion import two_layer_posterior
from tests.benchmarks.synthetic import (
    Case,
    Synthetic,
    knowledge_network,
    sample_case,
    two_layer_case,
    two_layer_network,
)
from tests.oracles.peers import agrum, to_agrum

TOLERANCE = 1e-9
WIDEST = 22
"""log2 of the largest table that pyAgrum is asked to make."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Line:
    """One comparison: seconds each, largest difference between the numbers."""

    what: str
    ours: float
    theirs: float | None
    difference: float | None
    note: str = ""

    def __str__(self) -> str:
        if self.theirs is None:
            return f"{self.what:<44}{self.ours * 1e3:>9.1f} ms {'-':>12} {'-':>8}  {self._gap()}  {self.note}"
        ratio = self.theirs / self.ours
        return (
            f"{self.what:<44}{self.ours * 1e3:>9.1f} ms{self.theirs * 1e3:>10.1f} ms {ratio:>7.1f}x"
            f"  {self._gap()}  {self.note}"
        )

    def _gap(self) -> str:
        return "   -   " if self.difference is None else f"{self.difference:.1e}"


HEADER = f"{'':<44}{'ours':>12}{'pyAgrum':>13}{'ratio':>9}  differ"


def timed(work: Callable[[], T], repeat: int = 1) -> tuple[float, T]:
    """Median seconds, and the last result."""
    seconds = []
    for _ in range(repeat):
        start = perf_counter()
        result = work()
        seconds.append(perf_counter() - start)
    return median(seconds), result


# --- pyAgrum doing the same work ---------------------------------------------------------------------


def agrum_engine(net: Any, evidence: Mapping[int, Array], targets: Sequence[int]) -> Any:
    """Lazy propagation told what is seen and what is asked, nothing computed yet."""
    engine = agrum().LazyPropagation(net)
    engine.setTargets({f"v{target}" for target in targets})
    engine.setEvidence({f"v{variable}": row.tolist() for variable, row in evidence.items()})
    return engine


def agrum_present(engine: Any, causes: Sequence[int]) -> Array:
    """P(cause present) for each cause."""
    engine.makeInference()
    return np.array([engine.posterior(f"v{cause}")[1] for cause in causes])


def agrum_marginal(net: Any, evidence: Mapping[int, Array], target: int) -> Array:
    """P(target | evidence)."""
    engine = agrum_engine(net, evidence, [target])
    engine.makeInference()
    return np.array(engine.posterior(f"v{target}").tolist())


def agrum_outcomes(
    net: Any, evidence: Mapping[int, Array], findings: Sequence[int], causes: Sequence[int]
) -> list[Array]:
    """For each finding, P(cause present | evidence, result), shape (2, causes): one propagation a result."""
    engine = agrum_engine(net, evidence, causes)
    found = []
    for finding in findings:
        engine.addEvidence(f"v{finding}", 0)
        rows = [agrum_present(engine, causes)]
        engine.chgEvidence(f"v{finding}", 1)
        rows.append(agrum_present(engine, causes))
        engine.eraseEvidence(f"v{finding}")
        found.append(np.stack(rows))
    return found


# --- comparisons -------------------------------------------------------------------------------------------


def compare_posteriors(synthetic: Synthetic, net: Any, case: Case, repeat: int) -> Line:
    """All cause posteriors."""
    network, causes = synthetic.network, synthetic.causes
    ours, answer = timed(lambda: posterior(network, case.evidence, causes), repeat)
    theirs, expected = timed(lambda: agrum_present(agrum_engine(net, case.evidence, causes), causes), repeat)
    got = np.array([answer.marginals[cause][1] for cause in causes])
    return Line("all cause posteriors", ours, theirs, largest(got, expected))


def compare_information(synthetic: Synthetic, net: Any, case: Case, repeat: int, full: bool) -> Line:
    """Both results of every unobserved finding: the causes given each, and the bits."""
    network, causes = synthetic.network, synthetic.causes
    findings = [finding for finding in synthetic.findings if finding not in case.evidence]
    chosen = findings if full else findings[::20]
    ours, outcomes = timed(lambda: all_outcomes(network, case.evidence, findings, causes), repeat)
    seconds, expected = timed(lambda: agrum_outcomes(net, case.evidence, chosen, causes))
    foreseen = dict(zip(findings, outcomes, strict=True))
    gap = max(largest(foreseen[f].causes, rows) for f, rows in zip(chosen, expected, strict=True))
    for finding in chosen:
        row = agrum_marginal(net, case.evidence, finding)
        gap = max(gap, largest(foreseen[finding].probabilities, row))
    note = "" if full else f"pyAgrum: {len(chosen)} findings timed, scaled to {len(findings)}"
    return Line(
        "expected information of all findings", ours, seconds * len(findings) / len(chosen), gap, note
    )


def all_outcomes(
    network: Network, evidence: Mapping[int, Array], findings: Sequence[int], causes: Sequence[int]
) -> list[Outcomes]:
    """From nothing: compile, then every result, then the bits (pyAgrum's time has none)."""
    outcomes = Engine(network, evidence).outcomes([(finding,) for finding in findings], causes)
    for outcome in outcomes:
        information(outcome)
    return outcomes


def information(outcome: Outcomes) -> float:
    """Bits that the finding is expected to tell about the causes, each taken alone."""
    expected = outcome.probabilities @ outcome.causes
    return float((binary_entropy(expected) - outcome.probabilities @ binary_entropy(outcome.causes)).sum())


def binary_entropy(chance: Array) -> Array:
    """Bits; 0 where the chance is 0 or 1."""
    inside = np.clip(chance, 1e-300, 1 - 1e-16)
    entropy: Array = -inside * np.log2(inside) - (1 - inside) * np.log2(1 - inside)
    return entropy


def compare_two_layer(synthetic: Synthetic, positives: int, repeat: int) -> list[Line]:
    """The large two-layer network against pyAgrum (split families) and the subset recursion."""
    case = two_layer_case(synthetic, seed=1, positives=positives)
    network, evidence = synthetic.network, case.evidence
    causes = sorted(network.ancestors(evidence) - evidence.keys())
    ours, answer = timed(lambda: posterior(network, evidence, synthetic.causes), repeat)
    got = np.array([answer.marginals[cause][1] for cause in causes])
    seconds, (recursion, _) = timed(lambda: two_layer_posterior(network, evidence))
    exact = np.array([recursion[cause] for cause in causes])
    what = f"two layers, {positives} positive, 20 negative"
    note = f"subset recursion {seconds * 1e3:.1f} ms, differs {largest(got, exact):.1e}"
    theirs = agrum_two_layer(network, evidence, causes)
    if theirs is None:
        return [Line(what, ours, None, largest(got, exact), note + "; tables too large for pyAgrum")]
    return [Line(what, ours, theirs[0], max(largest(got, exact), largest(got, theirs[1])), note)]


def agrum_two_layer(
    network: Network, evidence: Mapping[int, Array], causes: Sequence[int]
) -> tuple[float, Array] | None:
    """pyAgrum cannot hold the wide families as tables: it gets the ancestors with families split."""
    kept = sorted(network.ancestors(evidence))
    number = {variable: place for place, variable in enumerate(kept)}
    part = Network(
        tuple(network.names[v] for v in kept),
        tuple(network.states[v] for v in kept),
        tuple(renumbered(network.families[v], number) for v in kept),
    )
    split = divorce(part, max_parents=2)
    moved = {v: split.index[network.names[v]] for v in kept}
    net = to_agrum(split)
    seen = {moved[v]: row for v, row in evidence.items()}
    targets = [moved[cause] for cause in causes]
    tree = agrum_engine(net, seen, targets).junctionTree()
    if max(len(tree.clique(node)) for node in tree.nodes()) > WIDEST:
        return None
    return timed(lambda: agrum_present(agrum_engine(net, seen, targets), targets))


def largest(first: Array, second: Array) -> float:
    """The largest difference."""
    return float(np.abs(first - second).max())


def run(full: bool, seed: int, repeat: int, tangle: float) -> list[Line]:
    """Every comparison, printed as it comes."""
    synthetic = knowledge_network(tangle=tangle)
    network = synthetic.network
    links = sum(len(family.parents) for family in network.families)
    case = sample_case(synthetic, seed)
    print(f"{len(synthetic.causes)} causes, {len(synthetic.findings)} findings, {links} links;")
    print(f"{len(case.evidence)} findings seen, {len(case.faults)} true faults,", end=" ")
    print(f"{len(network.ancestors(case.evidence))} ancestors of the evidence\n{HEADER}")
    net = to_agrum(network)
    lines = [show(compare_posteriors(synthetic, net, case, repeat))]
    lines.append(show(compare_information(synthetic, net, case, repeat, full)))
    large = two_layer_network()
    for positives in (8, 10, 12, 14, 16):
        lines += map(show, compare_two_layer(large, positives, repeat))
    return lines


def show(line: Line) -> Line:
    """Print at once, so that a slow comparison does not hide the others."""
    print(line, flush=True)
    return line


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description="the engine beside pyAgrum, in one run")
    parser.add_argument("--full", action="store_true", help="pyAgrum scores every finding, not a sample")
    parser.add_argument("--seed", type=int, default=1, help="which case")
    parser.add_argument("--repeat", type=int, default=5, help="runs of which the median counts")
    parser.add_argument("--tangle", type=float, default=0.25, help="0..1, how entangled the conditions are")
    call = parser.parse_args()
    lines = run(call.full, call.seed, call.repeat, call.tangle)
    wrong = [line.what for line in lines if line.difference is not None and line.difference > TOLERANCE]
    print(f"numbers differ: {', '.join(wrong)}" if wrong else f"all numbers agree to {TOLERANCE:.0e}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
