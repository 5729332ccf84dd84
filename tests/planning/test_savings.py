"""Which check comes first, on problems small enough for a sum on paper.

Four faults are equally likely, each repair costs 100 and cures one. With repairs alone it takes 100 (1 + 3/4
+ 1/2 + 1/4) = 250; with two left 150, with three 200. The check "halves" tells faults 0 and 1 from 2 and 3:
its price and 150. "fourth" tells fault 3 from the others: its price, a fourth of 100 and three fourths of
200.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np
import pytest

from diagnose.planning.options import CheckOption
from diagnose.planning.problem import DecisionProblem, Fix
from diagnose.planning.problem import Test as Check
from diagnose.planning.savings import in_order, quick_first, savings
from diagnose.planning.shop import Shop
from diagnose.planning.situation import Situation
from tests.planning.test_worked_examples import fix, single_faults

SHOP = Shop(labour=60, downtime=0)
"""A minute costs 1."""
FIXES: list[Fix] = [fix(f"fix {n}", 100, n, faults=4) for n in range(4)]


def check(name: str, cost: float, shown: Sequence[float], access: int = 0, shut: int = 0) -> Check:
    positive = np.array([0.0, *shown])
    return Check(name, cost, access, np.stack([1 - positive, positive], axis=1), shut)


def halves(cost: float, access: int = 0) -> Check:
    return check("halves", cost, [1, 1, 0, 0], access)


def fourth(cost: float, surely: float = 1.0, shut: int = 0) -> Check:
    return check("fourth", cost, [0, 0, 0, surely], shut=shut)


def standing(*tests: Check, opening: Sequence[float] = ()) -> Situation:
    problem: DecisionProblem = single_faults([0.25] * 4, FIXES, tests, opening=opening)
    options = tuple(cast(CheckOption, test) for test in tests)
    return Situation(problem, SHOP, (), options, (), (), (), 0)


def test_what_a_check_saves_is_what_repairs_alone_cost_less_its_price_and_what_follows() -> None:
    now = standing(halves(40), fourth(16), halves(110))
    found = savings(now)
    assert {n: one.money for n, one in found.items()} == pytest.approx({0: 60, 1: 59, 2: -10})
    assert found[0].step.estimate == pytest.approx(190)
    assert in_order(now, found) == ([], [0, 1])


def test_those_that_save_the_same_stand_by_number_and_what_saves_nothing_is_left_out() -> None:
    now = standing(halves(60), halves(100), halves(50), halves(60))
    assert in_order(now, savings(now)) == ([], [2, 0, 3])
    hardly = standing(halves(99.5))
    assert in_order(hardly, savings(hardly)) == ([], [0])
    dear = standing(halves(100))
    assert in_order(dear, savings(dear)) == ([], [])


# ---- what its dismantling would prevent ----


def prevented(cost: float, opening: float) -> tuple[list[int], list[int]]:
    """Halves takes 5 behind a cover; fourth cannot be done once that is off."""
    now = standing(halves(5, access=2), fourth(cost, shut=2), opening=[1000, opening])
    found = savings(now)
    assert found[0].money == pytest.approx(95 - opening)
    assert found[1].money == pytest.approx(75 - cost)
    return in_order(now, found)


@pytest.mark.parametrize(("cost", "before"), [(27, [1]), (27.5, [])])
def test_what_would_be_prevented_comes_before_where_both_save_a_tenth_more(
    cost: float, before: list[int]
) -> None:
    """Fourth, then halves where it was negative: cost + 25 + 3/4 (35 + 2/3 150 + 1/3 100) = 151.25 + cost,
    against 185 of halves alone; a tenth of its 65 is 6.5."""
    assert prevented(cost, 30) == (before, [n for n in (0, 1) if n not in before])


@pytest.mark.parametrize(("opening", "before"), [(12.1, [1]), (11.9, [])])
def test_it_does_not_where_closing_up_again_costs_less_than_it(opening: float, before: list[int]) -> None:
    assert prevented(12, opening)[0] == before


def test_of_many_that_would_be_prevented_eight_are_tried_the_cheapest_way_first() -> None:
    tests = [halves(5, access=1), *(fourth(12 + n / 100, shut=1) for n in range(9)), fourth(11.5, shut=1)]
    now = standing(*tests, opening=[12.5])
    before, rest = in_order(now, savings(now))
    assert before == [10, 1, 2, 3, 4, 5, 6, 7]
    assert rest == [0, 8, 9]


# ---- a much quicker one first ----


def first(*tests: Check, but: Sequence[int] = ()) -> int:
    now = standing(*tests)
    return quick_first(now, savings(now), 0, but)


@pytest.mark.parametrize(("cost", "number"), [(17, 1), (18, 0)])
def test_a_quicker_one_comes_first_where_it_is_worth_its_price_once_more(cost: float, number: int) -> None:
    """Fourth, then halves where negative: cost + 25 + 3/4 (40 + 133.33) = 155 + cost, against 190: 35 - cost
    more, and that is at least cost up to 17.5."""
    assert first(halves(40), fourth(cost)) == number


@pytest.mark.parametrize(("cost", "number"), [(13.9, 1), (14, 1), (14.1, 0)])
def test_it_takes_half_the_time_at_most(cost: float, number: int) -> None:
    """146 + cost against 178 would be worth it up to 16."""
    assert first(halves(28), fourth(cost)) == number


@pytest.mark.parametrize(("minutes", "number"), [(15, 0), (15.2, 1)])
def test_what_is_short_waits_for_nothing(minutes: float, number: int) -> None:
    assert first(halves(minutes), fourth(5)) == number


@pytest.mark.parametrize(("surely", "number"), [(0.18, 0), (0.19, 1)])
def test_it_adds_a_tenth_of_what_the_first_saves(surely: float, number: int) -> None:
    """A fourth that shows with probability q only: 35 q - 0.5 more, against a tenth of 60."""
    assert first(halves(40), fourth(0.5, surely)) == number


def test_it_is_none_of_those_that_are_not_to_be() -> None:
    assert first(halves(40), fourth(17), but=[1]) == 0
    assert first(halves(40), fourth(17), fourth(16), but=[2]) == 1


def test_what_saves_nothing_by_itself_is_not_tried() -> None:
    """Where two signs say something only together: fault 3 or the pair 0, 1 by one, 0 or 2 by the other."""
    assert first(halves(40), check("costs", 19, [0.2, 0.2, 0.2, 0.3])) == 0


@pytest.mark.parametrize(("little", "number"), [(3, 4), (4, 0)])
def test_four_are_tried_those_that_save_most_for_their_minutes(little: int, number: int) -> None:
    """Those that take half a minute save 26 a minute and are not enough; the last one would be, at 3.4 a
    minute."""
    assert first(halves(40), *[fourth(0.5, 0.18)] * little, fourth(17)) == number


def test_a_look_counts_as_half_a_minute_at_least() -> None:
    """Four that take 0.1 and save 2.15 stand before one that saves 3.4 a minute, and it is not tried."""
    assert first(halves(40), *[fourth(0.1, 0.03)] * 4, fourth(17)) == 0


def test_in_small_money_all_is_as_in_large() -> None:
    """The same with everything a hundredth, and an hour of the shop too."""
    small = [fix(f"fix {n}", 1, n, faults=4) for n in range(4)]
    tests = (halves(0.4), fourth(0.17))
    now = standing(*tests)
    now = replace(now, problem=single_faults([0.25] * 4, small, tests), shop=Shop(labour=0.6, downtime=0))
    assert quick_first(now, savings(now), 0) == 1
    assert in_order(now, savings(now)) == ([], [0, 1])
