"""Presence on arrival against closed forms, and against a fleet that is run hour by hour.

Constant hazard, Weibull with known age, and the steady rate of a renewal process (elementary renewal theorem; Cox,
Renewal Theory, 1962, from memory); the numbers of the table are computed in closed form (window 500 h).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from diagnose.knowledge.records import Age, Cause
from diagnose.network.arising import Arising
from diagnose.network.build import build
from diagnose.network.engine import posterior
from diagnose.network.facts import Facts
from diagnose.network.machine import Machine
from diagnose.network.priors import life
from tests.knowledge_by_hand import HERE, cause, fact, finding, knowledge, number, times

LIFE, SHAPE = 16_000.0, 2.5
MEAN = 14_196.2210800


def happening(rate: float, age: Age | None = None, per: str = "rate", **rest: Any) -> Cause:
    return cause("worn", rate, {"noise": 0.8}, per=per, age=age, **rest)


def presence(one: Cause, machine: Machine, *facts: Any) -> float:
    whole = knowledge(one, finding("noise", 0.001), *facts)
    return Arising(whole, machine, Facts(whole.facts, machine.facts)).marginal(one)


def renewing() -> Cause:
    """Replaced at failure for ever: its rate is one over its mean life."""
    return happening(1000 / MEAN, Age(number(SHAPE), None, HERE))


def test_a_constant_hazard() -> None:
    assert presence(happening(0.08), Machine()) == pytest.approx(0.039210560848, abs=1e-12)


@pytest.mark.parametrize(
    ("start", "expected"),
    [(0, 0.000172618591), (4_000, 0.010642897719), (8_000, 0.028515041824), (12_000, 0.050994202483)],
)
def test_a_part_whose_age_is_known(start: float, expected: float) -> None:
    machine = Machine(hours=30_000, renewed={"worn": start + 500})
    assert presence(renewing(), machine) == pytest.approx(expected, abs=1e-11)


@pytest.mark.parametrize("hours", [None, 2_000.0, 40_000.0])
def test_a_part_whose_age_is_not_known_has_the_steady_rate(hours: float | None) -> None:
    assert presence(renewing(), Machine(hours=hours)) == pytest.approx(0.034607611962, abs=1e-11)


def test_the_life_from_a_rate() -> None:
    part = life(1 / MEAN, SHAPE, None)
    assert part.life == pytest.approx(LIFE, rel=1e-9)
    assert part.mean == pytest.approx(MEAN, rel=1e-9)


def test_with_a_reference_the_hazard_at_that_age_is_the_rate() -> None:
    part = life(1e-5, 2.0, 8_000)
    assert part.hazard(8_000 - 0.5, 8_000 + 0.5) == pytest.approx(1e-5, rel=1e-9)
    assert part.hazard(16_000 - 0.5, 16_000 + 0.5) == pytest.approx(2e-5, rel=1e-9)


def test_what_is_seldom_replaced_ages_with_the_machine_until_it_has_been_replaced() -> None:
    """Young machines hardly have it; after many lives it has the steady rate."""
    worn = happening(1000 / MEAN, Age(number(SHAPE), None, HERE, as_machine=True))
    young, old = (presence(worn, Machine(hours=h)) for h in (1_000.0, 100_000.0))
    assert young < 0.002
    assert old == pytest.approx(0.034607611962, rel=1e-6)


def test_a_machine_younger_than_the_window() -> None:
    assert presence(happening(0.08), Machine(hours=100)) == pytest.approx(1 - np.exp(-0.008), abs=1e-12)


def test_when_it_was_last_right_is_the_window() -> None:
    assert presence(happening(0.08), Machine(last_right=50)) == pytest.approx(1 - np.exp(-0.004), abs=1e-12)


def test_starts_and_nights_follow_the_fact_that_tells_them() -> None:
    duty = fact(
        "duty",
        {"road": 0.75, "standby": 0.25},
        starts={"road": number(0.2), "standby": number(2.0)},
        nights={"road": number(0.1), "standby": number(1.0)},
    )
    starts = happening(1e-4, per="per_start")
    on_road, mixed = (
        presence(starts, Machine(facts={"duty": "road"}), duty),
        presence(starts, Machine(), duty),
    )
    assert on_road == pytest.approx(1 - np.exp(-1e-4 * 0.2 * 500), abs=1e-12)
    assert mixed == pytest.approx(0.75 * on_road + 0.25 * (1 - np.exp(-1e-4 * 2.0 * 500)), abs=1e-12)
    nights = happening(1e-4, per="per_night")
    standby = presence(nights, Machine(facts={"duty": "standby"}), duty)
    assert standby == pytest.approx(1 - np.exp(-1e-4 * 1.0 * 500), abs=1e-12)


def test_a_fact_multiplies_the_hazard_of_what_happens_and_the_odds_of_a_share() -> None:
    dust = fact("dust", {"little": 0.9, "much": 0.1})
    much = Machine(facts={"dust": "much"})
    happens = happening(0.08, modifiers=times(dust={"much": 3.0}))
    assert presence(happens, much, dust) == pytest.approx(1 - np.exp(-0.12), abs=1e-12)
    share = happening(0.02, per="share", modifiers=times(dust={"much": 3.0}))
    odds = 3 * 0.02 / 0.98
    assert presence(share, much, dust) == pytest.approx(odds / (1 + odds), abs=1e-12)


def test_two_causes_and_a_complaint() -> None:
    """Rates 0.08 and 0.02 per 1,000 h, noisy-OR 0.8 and 0.6, leak 0.0005: 0.997 faults an arrival."""
    whole = knowledge(
        cause("a", 0.08, {"complaint": 0.8}, per="rate"),
        cause("b", 0.02, {"complaint": 0.6}, per="rate"),
        finding("complaint", 0.0005),
    )
    built = build(whole, Machine())
    found = posterior(built.network, {built.variable("complaint"): np.array([0.0, 1.0])})
    assert np.exp(found.log_probability) == pytest.approx(0.037632700023, abs=1e-12)
    assert found.marginals[built.variable("a")][1] == pytest.approx(0.834889989230, abs=1e-11)
    assert found.marginals[built.variable("b")][1] == pytest.approx(0.162010056878, abs=1e-11)


@pytest.mark.parametrize("renewed", [None, 6_000.0])
def test_a_fleet_that_is_run_finds_as_many(renewed: float | None) -> None:
    """100,000 parts replaced at failure, run for 20 mean lives, looked at once: failed in the last 500 h?
    Of known age: those that were still right 500 h ago. Four standard errors."""
    random = np.random.default_rng(3)
    fleet, end = 100_000, 20 * MEAN
    failed = np.zeros(fleet, dtype=bool)
    if renewed is None:
        clock = -random.random(fleet) * MEAN
        running = np.ones(fleet, dtype=bool)
        while running.any():
            clock[running] += LIFE * random.weibull(SHAPE, int(running.sum()))
            failed |= running & (clock > end - 500) & (clock <= end)
            running = clock <= end
        expected = presence(renewing(), Machine())
    else:
        lives = LIFE * random.weibull(SHAPE, 40 * fleet)
        sound = lives > renewed - 500  # still right at the start of the window
        failed = lives[sound] <= renewed
        expected = presence(renewing(), Machine(hours=30_000, renewed={"worn": renewed}))
    error = np.sqrt(expected * (1 - expected) / len(failed))
    assert abs(failed.mean() - expected) < 4 * error + (2e-4 if renewed is None else 0)
