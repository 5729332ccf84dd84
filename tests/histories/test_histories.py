"""Real histories: all that was seen can be said, the proved cause is there, and comes out where it did before."""

from __future__ import annotations

import pytest

from tests.histories.measure import place, sayable
from tests.histories.moves import SOON, played
from tests.histories.reading import HistoryCase, histories, unknown
from tests.shipped import shipped_knowledge

FIRST, IN_THREE = 23, 31
"""How many of the histories come out first and among the first three: what is reached, not to be lost again."""

EXPOSED_SOON, EXPOSED = 15, 18
"""In how many the moves expose the proved cause within three and six, as at first contact (moves.py): likewise."""

each = pytest.mark.parametrize("one", histories(), ids=lambda one: one.id)


@each
def test_what_was_seen_can_be_said(one: HistoryCase) -> None:
    knowledge = shipped_knowledge()
    assert [wrong for told in one.told for t in told.tokens if (wrong := unknown(t, knowledge))] == []
    assert all(told.tokens for told in one.told if told.bearing)


@each
def test_the_proved_cause_is_in_the_knowledge(one: HistoryCase) -> None:
    knowledge = shipped_knowledge()
    assert set(one.causes) <= set(knowledge.causes)
    assert all(value in knowledge.facts[fact].values for fact, value in one.facts.items())


def test_each_tells_where_it_comes_from() -> None:
    assert len({one.id for one in histories()}) == len(histories()) == 34
    assert all(one.source and one.confidence in ("high", "medium", "low") for one in histories())


def test_all_that_bears_on_something_is_said() -> None:
    said, all_ = sayable()
    assert said == all_


@pytest.mark.slow
def test_causes_come_out_as_high_as_before() -> None:
    ranks = [place(one)[0] for one in histories()]
    assert sum(rank == 1 for rank in ranks) >= FIRST
    assert sum(rank <= 3 for rank in ranks) >= IN_THREE


@pytest.mark.slow
def test_moves_expose_as_many_causes_as_before() -> None:
    places = [played(one, shop=False)[0] for one in histories()]
    assert sum(0 < place <= SOON for place in places) >= EXPOSED_SOON
    assert sum(place > 0 for place in places) >= EXPOSED
