"""Maximisation: from the expected counts to the numbers that explain them best, given what the knowledge
says.

A row theta of a link, leak or prior has a Dirichlet (Beta) density around what the knowledge says, theta0,
worth n0 cases. With expected counts c of its cells, the new row is (n0 theta0 + c) / (n0 + sum of c): the
conjugate update where all is seen, and otherwise one step of EM (Dempster, Laird & Rubin, JRSS B 39, 1977)
towards the mode of the posterior in the parametrisation by log odds. Each step raises `objective`.

A share holds at the reference; on a machine its odds are multiplied by a known factor r. The step then solves
n0 p0 + found = n0 p + sum over cases of p(r), which is the formula above where every r is 1.

What happens does so lambda times in the reference machine's window. Its density is a Gamma worth n0 such
windows, and the step is (n0 lambda0 + events) / (n0 + windows at risk): events over time at risk, as in
survival analysis (Kalbfleisch & Prentice, The Statistical Analysis of Failure Time Data, 1980, from memory).
A case only says whether the cause was there at the end of its machine's window (current status data); hidden
is how often it occurred, a Poisson number with mean lambda r, so that events are its mean where it was there
once at least. Windows at risk are those of all machines that ran: those that came in are among them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from diagnose.learning.expect import occurrences, priors_by_bin
from diagnose.learning.expected_counts import ExpectedCounts
from diagnose.learning.groups import ABSENT, EXCLUDED, PRESENT, CaseEvidence
from diagnose.learning.learnable import Numbers
from diagnose.learning.multipliers import BIN, LAST_BIN
from diagnose.learning.whole_network import Graph
from diagnose.network.network import Array

NEWTON = 80  # steps at most: 80 halvings of the bounds come closer than CLOSE
CLOSE = 1e-12  # of the log odds: below it a root is found
BINS = np.arange(-LAST_BIN, LAST_BIN + 1, dtype=np.int16)


def trials(graph: Graph, cases: Iterable[CaseEvidence]) -> Array:
    """How often (by weight) each cause could be there, in each bin of its factor: known to be absent, known
    to be there of itself, or hidden; shape (3, causes, bins). A cause that others bring about is hidden: it
    may be there and yet not of itself."""
    causes = np.arange(len(graph.numbers.causes))
    roots = np.zeros(len(causes), dtype=bool)
    roots[[graph.cause_of[v] for v in graph.roots]] = True
    found = np.zeros((3, len(causes), len(BINS)))
    for known in cases:
        here = causes[known.standing != EXCLUDED]
        standing = known.standing[here]
        kind = np.where(
            roots[here] & (standing == ABSENT), 0, np.where(roots[here] & (standing == PRESENT), 1, 2)
        )
        found[kind, here, known.bins[here] + LAST_BIN] += known.weight
    return found


def of_roots(graph: Graph, values: Array, trials: Array) -> ExpectedCounts:
    """What the causes tell that are known to be there or not, and that nothing brings about."""
    tally, count = ExpectedCounts.empty(graph), len(graph.numbers.causes)
    causes = np.arange(count)[:, None]
    p = priors_by_bin(graph.numbers, values, causes, BINS)
    absent, present, _ = trials
    tally.events[:] = (present * occurrences(graph.numbers, causes, p)).sum(axis=1)
    tally.counts[1 : 2 * count : 2] = present.sum(axis=1)
    tally.counts[0 : 2 * count : 2] = absent.sum(axis=1)
    tally.log_probability = float((present * _log(p)).sum() + (absent * _log(1 - p)).sum())
    odds = p / np.maximum(1 - p, 1e-300)
    tally.known[:count] = (present / np.maximum(odds, 1e-300) + absent * odds).sum(axis=1)
    tally.whole[:count] = tally.known[:count]
    return tally


def maximised(
    numbers: Numbers,
    tally: ExpectedCounts,
    trials: Array,
    at_risk: Array,
    learnt: NDArray[np.bool_],
    now: Array,
) -> Array:
    """The next values, of the rows that are `learnt`, shape (rows,); the others stay as they are `now`.
    `at_risk`: of each cause that happens, the windows."""
    of_cell = numbers.row_of_cell
    counts = numbers.ess[of_cell] * numbers.values + tally.counts
    found = counts / np.add.reduceat(counts, numbers.start[:-1])[of_cell]
    count = len(numbers.causes)
    shares = ~numbers.happens
    priors = -np.expm1(-solved_rates(numbers, tally.events, at_risk))
    priors[shares] = solved_priors(
        numbers.ess[:count][shares],
        numbers.values[1 : 2 * count : 2][shares],
        tally.counts[1 : 2 * count : 2][shares],
        trials.sum(axis=0)[shares],
    )
    found[1 : 2 * count : 2] = priors
    found[0 : 2 * count : 2] = 1 - priors
    return np.where(learnt[of_cell], found, now)


def solved_rates(numbers: Numbers, events: Array, at_risk: Array) -> Array:
    """For each cause how often it happens on the reference machine, shape (causes,)."""
    worth = numbers.ess[: len(numbers.causes)]
    found: Array = (worth * numbers.rates(numbers.values) + events) / (worth + at_risk)
    return found


def objective(
    numbers: Numbers, log_probability: float, values: Array, trials: Array, at_risk: Array
) -> float:
    """The logarithm of the posterior density of the numbers, up to a constant. Time at risk outside the
    windows of the cases passed without an event: of a Poisson number P(none) = exp(-mean)."""
    weights = numbers.ess[numbers.row_of_cell] * numbers.values
    weights[: 2 * len(numbers.causes)][np.repeat(numbers.happens, 2)] = 0.0
    known = weights > 0
    of_rows = float((weights[known] * np.log(values[known])).sum())
    return log_probability + of_rows + _of_rates(numbers, values, trials, at_risk)


def _of_rates(numbers: Numbers, values: Array, trials: Array, at_risk: Array) -> float:
    happens = numbers.happens
    worth = numbers.ess[: len(happens)][happens]
    before, rates = numbers.rates(numbers.values)[happens], numbers.rates(values)[happens]
    in_cases = (trials.sum(axis=0) * np.exp(BIN * BINS)).sum(axis=1)[happens]
    gamma = worth * (before * _log(rates) - rates)
    return float((gamma + rates * (in_cases - at_risk[happens])).sum())


def solved_priors(ess: Array, before: Array, found: Array, trials: Array) -> Array:
    """For each cause the prior that solves the equation above, given how often it was found and its trials by
    bin.

    Newton on the log odds between bounds that close in; the right side rises with them, so there is one
    solution.
    """
    target = ess * before + found
    low, high = np.full(len(ess), -40.0), np.full(len(ess), 40.0)
    at = np.log(before / (1 - before))
    for _ in range(NEWTON):
        p = 1 / (1 + np.exp(-(at[:, None] + BIN * BINS)))
        middle = p[:, LAST_BIN]
        excess = ess * middle + (trials * p).sum(axis=1) - target
        slope = ess * middle * (1 - middle) + (trials * p * (1 - p)).sum(axis=1)
        low, high = np.where(excess < 0, at, low), np.where(excess > 0, at, high)
        step = at - excess / slope
        after = np.where((step > low) & (step < high), step, (low + high) / 2)
        after = np.where(excess == 0, at, after)
        moved, at = np.abs(after - at).max(initial=0.0), after
        if moved < CLOSE:
            break
    result: Array = 1 / (1 + np.exp(-at))
    return result


def _log(p: Array) -> Array:
    return np.log(np.maximum(p, 1e-300))
