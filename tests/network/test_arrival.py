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
from diagnose.network.priors import exposures, life
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


@pytest.mark.parametrize("hours", [9_000.0, 14_000.0, 25_000.0])
def test_the_original_part_and_those_after_it_are_counted_through_the_window(hours: float) -> None:
    """The density of the first life plus the steady rate of those after it, summed over 10,000 moments."""
    worn = happening(1000 / MEAN, Age(number(SHAPE), None, HERE, as_machine=True))
    width = 500 / 10_000
    age = hours - 500 + width * (np.arange(10_000) + 0.5)
    survived = np.exp(-((age / LIFE) ** SHAPE))
    density = SHAPE / LIFE * (age / LIFE) ** (SHAPE - 1) * survived
    failures = float((density + (1 - survived) / MEAN).sum()) * width
    assert presence(worn, Machine(hours=hours)) == pytest.approx(1 - np.exp(-failures), rel=1e-4)


@pytest.mark.parametrize(
    ("shape", "reference", "hours", "renewed", "times_as_likely"),
    [
        (3.0, 8_000, 16_000, None, 4.0),
        (3.0, 8_000, 30_000, 16_000, 4.0),  # of the part, not of the machine
        (2.5, 8_000, 2_000, None, 0.125),
        (3.0, 8_000, 1_000, None, 0.1),
        (3.0, 8_000, 0, None, 0.1),
        (3.0, 8_000, 80_000, None, 10.0),
        (3.0, 8_000, None, None, 1.0),
        (3.0, None, 16_000, None, 1.0),
    ],
)
def test_what_builds_up_does_so_with_the_hours(
    shape: float, reference: float | None, hours: float | None, renewed: float | None, times_as_likely: float
) -> None:
    """Odds times (age / reference)^(shape - 1), never below a tenth or above ten times."""
    one = happening(0.02, Age(number(shape), reference, HERE), per="share")
    machine = Machine(hours=hours, renewed={} if renewed is None else {"worn": renewed})
    odds = times_as_likely * 0.02 / 0.98
    assert presence(one, machine) == pytest.approx(odds / (1 + odds), abs=1e-12)


def test_a_share_of_every_machine_is_on_every_machine() -> None:
    assert presence(happening(1.0, per="share"), Machine()) == pytest.approx(1.0)
    assert presence(happening(0.02, per="share"), Machine(hours=16_000)) == pytest.approx(0.02, abs=1e-12)


@pytest.mark.parametrize("hours", [None, 100.0])
@pytest.mark.parametrize("age", [None, Age(number(1.0), None, HERE)])
def test_a_part_younger_than_the_window(hours: float | None, age: Age | None) -> None:
    """What has run 100 hours since it was renewed has had 100 hours to fail."""
    machine = Machine(hours=hours and 20_000, renewed={"worn": 100.0})
    assert presence(happening(0.08, age), machine) == pytest.approx(1 - np.exp(-0.008), abs=1e-12)


def test_what_never_happens_is_never_there() -> None:
    assert presence(happening(0.0, Age(number(SHAPE), None, HERE)), Machine(hours=9_000)) == 0.0


def test_a_worn_part_younger_than_the_window_counts_from_new() -> None:
    machine = Machine(hours=30_000, renewed={"worn": 300.0})
    assert presence(renewing(), machine) == pytest.approx(1 - np.exp(-((300 / LIFE) ** SHAPE)), rel=1e-9)


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


def test_starts_and_nights_where_no_fact_tells_them() -> None:
    """0.4 starts and 0.1 standing nights a running hour (common practice)."""
    starts, nights = (happening(1e-4, per=per) for per in ("per_start", "per_night"))
    assert presence(starts, Machine()) == pytest.approx(1 - np.exp(-1e-4 * 0.4 * 500), abs=1e-12)
    assert presence(nights, Machine()) == pytest.approx(1 - np.exp(-1e-4 * 0.1 * 500), abs=1e-12)
    duty = fact("duty", {"road": 1.0}, starts={"road": number(0.2)}, nights={"road": number(0.3)})
    known = exposures(knowledge(fact("dust", {"little": 1.0}), duty))
    assert [known.fact(per) for per in ("per_start", "per_night", "rate")] == ["duty", "duty", ""]
    assert [known.per_hour(per) for per in ("per_start", "per_night", "rate")] == [0.4, 0.1, 1e-3]
    assert [known.per_hour(per, "road") for per in ("per_start", "per_night")] == [0.2, 0.3]


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
