"""Parts that are not broken yet: the conditional Weibull probability and both courses in money, worked out here."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import pytest

from diagnose.cases.case import Case, Epoch
from diagnose.knowledge.records import Access, Cure, Knowledge, Life, Part, Repair
from diagnose.network.machine import Machine
from diagnose.planning.shop import Shop
from diagnose.planning.wear import failure_probability, outlook, part_age
from tests.knowledge_by_hand import HERE, cause, finding, knowledge, number

SHOP = Shop(labour=60, downtime=0, comeback=300, hand_over=2000, horizon=4000, consumables=0.0)
SEAL = Repair(
    "seal", "seal", "test", number(30), ("cover",), (), (Part("seal", 1, 100, False),),
    (Cure("worn", number(0.9), HERE), Cure("torn", number(0.9), HERE)), None, (), ("Try it.",), (), HERE,
    life=Life(number(10_000), 2.0, HERE),
)  # fmt: skip


def whole() -> Knowledge:
    plain = knowledge(
        cause("worn", 0.1, {"leak": 0.9}), cause("torn", 0.1, {"leak": 0.9}), finding("leak", 0.01)
    )
    return replace(
        plain, repairs={"seal": SEAL}, access={"cover": Access("cover", "cover", (), 7, 8, (), HERE)}
    )


def test_failing_within_the_horizon_given_that_it_is_good_now() -> None:
    """S(t) = exp(-(t / n)^b): of those that survived 6,000 h, the share that does not survive 10,000."""
    assert failure_probability(6000, 4000, 10_000, 2.0) == pytest.approx(1 - exp(-1) / exp(-0.36))
    assert failure_probability(0, 10_000, 10_000, 3.0) == pytest.approx(1 - exp(-1))
    assert failure_probability(5000, 1000, 10_000, 1.0) == pytest.approx(1 - exp(-0.1))  # has no age


def test_renewed_now_or_left_in() -> None:
    """Price 100, 30 + 15 minutes at 1 and a comeback of 300; a renewed seal is worth 60 after 4,000 h, one renewed
    half-way 80; the old one nothing at 10,000 h."""
    found = outlook(whole(), Case(1, Machine(hours=6000.0)), SEAL, SHOP)
    assert found is not None
    fails = 1 - exp(-0.64)
    assert (found.age, found.life, found.fails) == pytest.approx((6000, 10_000, fails))
    assert found.renewed == pytest.approx(-60)
    assert found.left_in == pytest.approx(fails * (100 + 45 + 300 - 80))
    assert found.behind == pytest.approx(found.left_in + 60)
    young = outlook(whole(), Case(1, Machine(hours=1000.0)), SEAL, SHOP)
    assert young is not None
    fails = 1 - exp(0.01 - 0.25)
    assert young.left_in == pytest.approx(fails * 365 - (1 - fails) * 50)


def test_without_life_or_age_nothing_is_said() -> None:
    assert outlook(whole(), Case(1, Machine()), SEAL, SHOP) is None
    assert outlook(whole(), Case(1, Machine(hours=6000.0)), replace(SEAL, life=None), SHOP) is None


@pytest.mark.parametrize(
    ("renewed", "epoch", "age"),
    [
        ({}, None, 9000.0),
        ({"worn": 500.0}, None, 500.0),
        ({"worn": 500.0, "torn": 200.0, "other": 10.0}, None, 200.0),
        ({"other": 10.0}, None, 9000.0),
        ({"worn": 500.0}, Epoch(repairs=("seal",)), 0.0),
        ({}, Epoch(causes=("torn",)), 0.0),
        ({"worn": 500.0}, Epoch(repairs=("bulb",), causes=("other",)), 500.0),
    ],
)
def test_a_part_is_as_old_as_since_it_was_last_renewed(
    renewed: dict[str, float], epoch: Epoch | None, age: float
) -> None:
    epochs = (Epoch(), *([epoch] if epoch else []))
    assert part_age(Case(1, Machine(hours=9000.0, renewed=renewed), epochs=epochs), SEAL) == age
