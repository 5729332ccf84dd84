"""Where a cause strikes that is not there once for each cylinder: shares of places, sums worked out here."""

from __future__ import annotations

import pytest

from diagnose.knowledge.records import Condition, Link
from diagnose.network.strikes import EACH, ELSEWHERE, SEVERAL, itself, strike, struck, to_strike
from tests.knowledge_by_hand import HERE, links

CYLINDERS = {"low#cylinder 2": 0.25, "low#cylinder 5": 0.25, f"low#{ELSEWHERE}": 0.5}
(LINK,) = links({"low": [[0.4, 0.2]]})


def values(link: Link) -> list[list[float]]:
    return [[number.value for number in row] for row in link.strengths]


def led(condition: Condition, copy: str) -> list[list[float]]:
    return values(next(link for link in condition.leads_to if link.effect == copy))


def test_one_place_by_its_share_or_several() -> None:
    """In its first state (0.4) and its second (0.2): at each place, and at several; together they are the link."""
    to = to_strike("wear", LINK, CYLINDERS)
    assert to.effect == struck("wear", "low") == "wear>low"
    (row,) = values(to)
    once = 1 - SEVERAL
    shares = [once * 0.25, once * 0.25, once * 0.5, SEVERAL]
    assert row == pytest.approx([share * p for share in shares for p in (0.4, 0.2)])
    assert sum(row) == pytest.approx(0.6)
    assert sum(values(to_strike("wear", LINK, CYLINDERS, several=0.3))[0][-2:]) == pytest.approx(0.18)
    assert to_strike("wear", LINK, {}) is LINK


def test_at_one_place_the_finding_is_there_in_that_state_at_several_at_each_with_a_half() -> None:
    where = strike("wear", LINK, CYLINDERS)
    assert where.id == "wear>low"
    assert where.states == (
        "nowhere", *(f"{copy} {state}" for copy in (*CYLINDERS, "several") for state in (0, 1))
    )  # fmt: skip
    assert [number.value for number in where.leak] == [0.0] * 8
    none, first, second = [0, 0], [1, 0], [0, 1]
    half = [[EACH, 0], [0, EACH]]
    assert led(where, "low#cylinder 2") == [first, second, none, none, none, none, *half]
    assert led(where, "low#cylinder 5") == [none, none, first, second, none, none, *half]
    assert led(where, f"low#{ELSEWHERE}") == [none, none, none, none, first, second, first, second]


@pytest.mark.parametrize(
    "copies",
    [
        {"weak#bank left": 0.5, "weak#bank right": 0.5},
        {"weak#bank left": 0.5, f"weak#{ELSEWHERE}": 0.5},
        {"weak#cylinder 1": 0.5, "weak#cylinder 2": 0.5},
    ],
    ids=str,
)
def test_of_two_banks_or_where_all_are_named_several_are_all(copies: dict[str, float]) -> None:
    (link,) = links({"weak": 0.4})
    where = strike("wear", link, copies)
    for copy in copies:
        assert led(where, copy)[-1] == [1.0]


def test_a_cause_is_where_it_is() -> None:
    assert values(itself("wear", HERE)) == [[1.0]]
    assert itself("wear", HERE).effect == "wear"
