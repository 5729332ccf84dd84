"""Cases drawn from the shipped knowledge itself: what is called 30 % must come true in 30 of 100.

A machine comes in with a complaint; the technician records it and looks at a handful of things, rather at those
that tell much, now and then unsure of what was seen. What is looked at is chosen by the complaint alone, never by
the hidden truth, so the posterior of an exact engine is calibrated by definition: whatever differs by more than
sampling error is a fault of the engine, of the network's builder or of the weight of "likely" and "unsure".

Tests: Spiegelhalter's z (Statistics in Medicine 1986) and Murphy's decomposition of the Brier score (Journal of
Applied Meteorology 1973), both from memory. Outcomes of one case hang together: sums take at most one
cause a case, or their variance from the cases, which are independent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.machine import Machine
from diagnose.network.messages import TooWide
from diagnose.network.network import Array, Network, NoisyMax
from diagnose.network.observed import LIKELIHOOD_RATIOS, likelihood
from diagnose.network.ties import untied
from tests.shipped import shipped_knowledge

CASES = 800
SEED = 20240229
FAMILY = "unit_injector_governed"
WIDEST = 1 << 14
"""Cases that need larger tables are left out: which these are depends on the evidence alone, so what remains must
be as calibrated as the whole."""
SPARE = 1.6
HANDFUL = (2, 9)
CONFIDENCES = ("sure", "likely", "unsure")
SHARES = (0.7, 0.2, 0.1)
FAR_OUT = 4.0
"""Standard errors that chance does not bring (6 in 100,000 each)."""

NOISE = 4.0
"""How many times as large as by sampling alone the reliability term may be; causes of one case go together."""

pytestmark = pytest.mark.slow
States = NDArray[np.int8]


# --- drawing worlds -----------------------------------------------------------------------------------------


def draw(network: Network, count: int, random: np.random.Generator) -> States:
    """Worlds from the top down, shape (count, variables): each parent's contribution drawn alone, the worst wins.

    By the mechanism of noisy-MAX, not by its table: no code of the engine has part in it.
    """
    worlds = np.zeros((count, len(network.names)), dtype=np.int8, order="F")
    for variable, family in enumerate(network.families):
        if isinstance(family, NoisyMax):
            value = pick(np.broadcast_to(family.leak, (count, len(family.leak))), random)
            for parent, link in zip(family.parents, family.links, strict=True):
                value = np.maximum(value, pick(link[worlds[:, parent]], random))
        else:
            rows = family.values[tuple(worlds[:, family.parents].T)]
            value = pick(np.broadcast_to(rows, (count, network.cards[variable])), random)
        worlds[:, variable] = value
    return worlds


def pick(rows: Array, random: np.random.Generator) -> States:
    """One state from each row of distributions."""
    below = np.cumsum(rows[:, :-1], axis=1)
    chosen: States = (random.random((len(rows), 1)) >= below).sum(axis=1, dtype=np.int8)
    return chosen


def report(true: int, card: int, confidence: str, random: np.random.Generator) -> int:
    """The state that is written down: the true one `ratio` times as likely as each other one."""
    ratio = LIKELIHOOD_RATIOS[confidence]
    if np.isinf(ratio):
        return true
    weights = np.ones(card)
    weights[true] = ratio
    return int(random.choice(card, p=weights / weights.sum()))


# --- cases --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """Posterior and truth of every cause in every case, shape (cases, causes); and of one finding a case that was
    reported as only likely or unsure, the posterior that it is as reported and whether it is (cases with one)."""

    posterior: Array
    truth: NDArray[np.bool_]
    believed: Array
    reported_right: NDArray[np.bool_]


@cache
def shipped() -> Built:
    family = shipped_knowledge().families[FAMILY]
    built = build(shipped_knowledge(), Machine(family=family.id, facts=dict(family.facts)))
    return untied(
        built, built.shares
    )  # what is drawn and what is asked is one network, without ties through facts


@cache
def sample() -> Sample:
    built, random = shipped(), np.random.default_rng(SEED)
    columns = roots(built)
    worlds, complaints = worlds_with_a_complaint(random)
    choices = {complaint: telling(built, complaint) for complaint in set(complaints)}
    rows: list[list[float]] = []
    truth, believed, right = [], [], []
    for world, complaint in zip(worlds, complaints, strict=True):
        evidence = look(world, complaint, choices[complaint], random)
        try:
            engine = Engine(built.network, evidence, (), WIDEST)
        except TooWide:
            continue
        if len(rows) == CASES:
            break
        rows.append([1 - float(engine.marginal(v)[0]) for v in columns])
        truth.append(world[columns] > 0)
        doubtful = next((v for v, row in evidence.items() if np.count_nonzero(row) > 1), None)
        if doubtful is not None:
            reported = int(evidence[doubtful].argmax())
            believed.append(engine.marginal(doubtful)[reported])
            right.append(world[doubtful] == reported)
    assert len(rows) == CASES, "too many cases were too tangled"
    return Sample(np.array(rows), np.array(truth), np.array(believed), np.array(right))


def roots(built: Built) -> list[int]:
    """The causes that no other cause brings about."""
    return [v for v in map(built.variable, built.causes) if not built.network.parents(v)]


def worlds_with_a_complaint(random: np.random.Generator) -> tuple[States, list[int]]:
    """Each world is given a complaint to come in with, before it is drawn; it counts if it has that complaint."""
    built = shipped()
    asked = np.array([built.variable(id) for id in built.others])
    kept: list[States] = []
    with_what: list[int] = []
    while len(with_what) < SPARE * CASES:
        worlds = draw(built.network, 10_000, random)
        complaint = random.choice(asked, len(worlds))
        shown = worlds[np.arange(len(worlds)), complaint] > 0
        kept.append(worlds[shown])
        with_what.extend(complaint[shown].tolist())
    return np.concatenate(kept), with_what


def telling(built: Built, complaint: int) -> tuple[list[int], Array]:
    """All other findings with the weight of each in the choice: how far its rate, with the complaint there, is
    from its rate in all worlds, both counted in drawn worlds. The choice has no part in the answer."""
    findings, shown, rates = pool()
    there = shown[:, findings.index(complaint)]
    moves = np.abs(shown[there].mean(axis=0) - rates) + 0.002
    others = [n for n, finding in enumerate(findings) if finding != complaint]
    return [findings[n] for n in others], moves[others] / moves[others].sum()


@cache
def pool() -> tuple[list[int], NDArray[np.bool_], Array]:
    """The findings, whether each shows in worlds to count in (worlds, findings), and how often it does."""
    findings = [shipped().variable(id) for id in shipped_knowledge().findings]
    worlds = draw(shipped().network, 30_000, np.random.default_rng(SEED + 1))
    shown = np.ascontiguousarray(worlds[:, findings] > 0)
    return findings, shown, shown.mean(axis=0)


def look(
    world: States, complaint: int, choice: tuple[list[int], Array], random: np.random.Generator
) -> dict[int, Array]:
    """The complaint, and a handful of findings as they were written down."""
    cards = shipped().network.cards
    evidence = {complaint: likelihood(cards[complaint], int(world[complaint]), np.inf)}
    for finding in random.choice(choice[0], int(random.integers(*HANDFUL)), replace=False, p=choice[1]):
        confidence = str(random.choice(CONFIDENCES, p=SHARES))
        seen = report(int(world[finding]), cards[finding], confidence, random)
        evidence[int(finding)] = likelihood(cards[finding], seen, LIKELIHOOD_RATIOS[confidence])
    return evidence


# --- measures -----------------------------------------------------------------------------------------------


def z_by_cause(of: Sample, expected: float = 5.0) -> Array:
    """(came true - called) / standard error for each cause called often enough, the rest together."""
    called, came = of.posterior.sum(axis=0), of.truth.sum(axis=0)
    variance = (of.posterior * (1 - of.posterior)).sum(axis=0)
    often = called >= expected
    rest = [(came - called)[~often].sum() / np.sqrt(variance[~often].sum())] if (~often).any() else []
    return np.array([*((came - called)[often] / np.sqrt(variance[often])), *rest])


EDGES = np.array([0, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0 + 1e-9])


def bins(of: Sample) -> Iterator[tuple[NDArray[np.bool_], float, float]]:
    """Of each bin of called probability: the members, the mean called, the share that came true."""
    place = np.digitize(of.posterior, EDGES)
    for number in range(1, len(EDGES)):
        members = place == number
        if members.any():
            yield members, float(of.posterior[members].mean()), float(of.truth[members].mean())


def clustered_z(by_case: Array) -> float:
    """Sum of independent terms, one a case and each with mean zero, over its standard error."""
    return float(by_case.sum() / np.sqrt((by_case**2).sum()))


def z_by_bin(of: Sample) -> list[float]:
    """(came true - called) / standard error of each bin, by one cause a case drawn at random: independent."""
    random = np.random.default_rng(SEED)
    found = []
    for members, _, _ in bins(of):
        order = np.where(members, random.random(members.shape), -1.0).argmax(axis=1)
        rows = np.flatnonzero(members.any(axis=1))
        called, came = of.posterior[rows, order[rows]], of.truth[rows, order[rows]]
        found.append(float((came - called).sum() / np.sqrt((called * (1 - called)).sum())))
    return found


def spiegelhalter(of: Sample) -> float:
    """The part of the Brier score that calibration fixes, in standard errors."""
    return clustered_z(((of.truth - of.posterior) * (1 - 2 * of.posterior)).sum(axis=1))


@dataclass(frozen=True, slots=True)
class Brier:
    """Murphy: score = reliability - resolution + uncertainty (up to the spread within bins). `noise`: what the
    reliability of perfect calibration would be expected to be, by sampling alone."""

    score: float
    reliability: float
    noise: float
    resolution: float
    uncertainty: float


def brier(of: Sample) -> Brier:
    base = float(of.truth.mean())
    weighed = [(float(members.mean()), called, came) for members, called, came in bins(of)]
    return Brier(
        float(((of.truth - of.posterior) ** 2).mean()),
        sum(weight * (called - came) ** 2 for weight, called, came in weighed),
        sum(float((of.posterior * (1 - of.posterior))[members].mean()) for members, _, _ in bins(of))
        / of.posterior.size,
        sum(weight * (came - base) ** 2 for weight, _, came in weighed),
        base * (1 - base),
    )


def first_named(of: Sample) -> tuple[float, float, float]:
    """Share of cases whose leading cause is really there, as called, and its standard error."""
    rows = np.arange(len(of.posterior))
    leader = of.posterior.argmax(axis=1)
    called = of.posterior[rows, leader]
    error = np.sqrt((called * (1 - called)).sum()) / len(rows)
    return float(of.truth[rows, leader].mean()), float(called.mean()), float(error)


# --- tests --------------------------------------------------------------------------------------------------


def chi_square_bound(degrees: int) -> float:
    """About the 99.99 % point (Wilson-Hilferty)."""
    return float(degrees * (1 - 2 / (9 * degrees) + 3.72 * np.sqrt(2 / (9 * degrees))) ** 3)


def test_every_cause_comes_true_as_often_as_it_is_called() -> None:
    z = z_by_cause(sample())
    assert len(z) > 40
    assert np.abs(z).max() < FAR_OUT
    assert (z**2).sum() < chi_square_bound(len(z))


def test_every_probability_comes_true_as_often_as_it_says() -> None:
    z = np.array(z_by_bin(sample()))
    assert len(z) == len(EDGES) - 1
    assert np.abs(z).max() < FAR_OUT
    assert (z**2).sum() < chi_square_bound(len(z))


def test_brier_score_is_what_calibration_makes_it(record_property: Callable[[str, object], None]) -> None:
    of = sample()
    parts = brier(of)
    for name, value in asdict(parts).items():
        record_property(name, value)
    assert abs(spiegelhalter(of)) < FAR_OUT
    assert parts.score == pytest.approx(parts.reliability - parts.resolution + parts.uncertainty, abs=1e-3)
    assert parts.reliability < NOISE * parts.noise
    assert parts.resolution > 0.03 * parts.uncertainty


def test_the_leading_cause_is_there_as_often_as_called(
    record_property: Callable[[str, object], None],
) -> None:
    share, called, error = first_named(sample())
    record_property("top1", share)
    print(f"leading cause present in {share:.3f} of cases, called {called:.3f} +- {error:.3f}")
    assert abs(share - called) < FAR_OUT * error


def z_of_reports(of: Sample) -> float:
    """(reports that were right - called right) / standard error. A wrong weight of doubt shifts all one way."""
    return float((of.reported_right - of.believed).sum() / np.sqrt((of.believed * (1 - of.believed)).sum()))


def test_doubtful_reports_are_right_as_often_as_believed() -> None:
    assert len(sample().believed) > CASES / 2
    assert abs(z_of_reports(sample())) < FAR_OUT


def bent(of: Sample, factor: float) -> Sample:
    """The same cases by an engine whose odds are off by a factor."""
    odds = factor * of.posterior / (1 - of.posterior)
    return replace(of, posterior=odds / (1 + odds))


@pytest.mark.parametrize("factor", [0.67, 1.5])
def test_odds_off_by_a_half_would_be_seen(factor: float) -> None:
    """The tests above can fail."""
    wrong = bent(sample(), factor)
    assert (z_by_cause(wrong) ** 2).sum() > chi_square_bound(len(z_by_cause(wrong)))
    assert abs(spiegelhalter(wrong)) > FAR_OUT


@pytest.mark.parametrize("factor", [0.33, 3.0])
def test_odds_off_by_three_would_be_seen(factor: float) -> None:
    wrong = bent(sample(), factor)
    assert np.square(z_by_bin(wrong)).sum() > chi_square_bound(len(EDGES) - 1)
    share, called, error = first_named(wrong)
    assert abs(share - called) > FAR_OUT * error
    assert brier(wrong).reliability > NOISE * brier(wrong).noise
