"""What a check keeps the machine standing for: a report from the laboratory, a night (common practice)."""

from __future__ import annotations

import re

import pytest

from diagnose.moves.advice import advised
from diagnose.planning.shop import Shop
from tests.shipped import diagnosed, shipped_knowledge

NIGHT = re.compile(r"after a night|stood overnight|over ?night|in the morning|laborator", re.IGNORECASE)
AT_ONCE = {
    "ask_kind_of_start": "asked, not waited for",
    "compare_fuel_for_sulfur": "the strip is read at once",
    "look_up_from_below": "over night only for a small leak",
    "open_rail_plug": "after a night if possible",
}
"""Checks that speak of a night or a laboratory and wait for neither."""
TO_WORK = 10.0
"""Minutes at least of a check under load: it must be warm, and be brought to work (common practice)."""


def test_checks_that_take_a_night_or_a_laboratory_say_how_long_the_machine_stands() -> None:
    said = {
        check.id
        for check in shipped_knowledge().checks.values()
        if NIGHT.search(" ".join((check.name, *check.steps))) and not check.wait
    }
    assert said == set(AT_ONCE)


def test_a_check_under_load_takes_the_time_to_bring_it_to_work() -> None:
    checks = shipped_knowledge().checks.values()
    assert [c.id for c in checks if "load" in c.wants and c.minutes.value < TO_WORK] == []


def test_waiting_costs_the_downtime_and_not_the_work() -> None:
    shop = Shop(labour=100.0, downtime=30.0)
    assert shop.waiting(16.0) == 480.0
    assert shop.time(60.0) == 130.0


@pytest.mark.parametrize("id", ["pump_worn_plough"])
def test_the_plan_reckons_with_the_waiting(id: str) -> None:
    now = advised(diagnosed(id), Shop())
    waiting = [(n, one) for n, one in enumerate(now.situation.checks) if one.wait]
    assert waiting
    for number, option in waiting:
        price = Shop().time(option.minutes) + Shop().waiting(option.wait)
        assert now.situation.problem.tests[number].cost == pytest.approx(price)
        assert now.check_price(option).money >= price
