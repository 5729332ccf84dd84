"""What repairs do to causes, by hand: two that can fail independently both fail with the product."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import Epoch
from diagnose.evidence.renewals import history
from tests.evidence.small import case, saw, whole


def test_a_repair_renews_what_it_cures() -> None:
    pump, belt = history(whole(), case(repairs=(("new_pump",), ("tighten",))), ()).repairs
    assert (list(pump), list(belt)) == (["pump"], ["belt"])
    assert (pump["pump"].effectiveness, pump["pump"].infant) == pytest.approx((0.9, 0.02))
    assert (belt["belt"].effectiveness, belt["belt"].infant) == pytest.approx((0.8, 0.0))


def test_two_repairs_of_one_cause_leave_what_both_leave() -> None:
    """Left with 0.1 x 0.5; the likelier of the two infant failures."""
    (done,) = history(whole(), case(repairs=(("new_pump", "flush"),)), ()).repairs
    assert done["pump"].effectiveness == pytest.approx(0.95)
    assert done["pump"].infant == 0.05


def test_what_no_repair_of_the_knowledge_covers_is_mostly_cured() -> None:
    """0.9 (judgement), no infant failure; causes told replace those that the repair could have cured."""
    plain = case(repairs=(("new_pump",),))
    told = replace(
        plain, epochs=(Epoch(), Epoch(repairs=("new_pump", "unheard_of"), causes=("belt", "lost")))
    )
    (done,) = history(whole(), told, ()).repairs
    assert list(done) == ["belt"]
    assert (done["belt"].effectiveness, done["belt"].infant) == pytest.approx((0.9, 0.0))


def test_causes_that_the_knowledge_no_longer_has_are_left_out() -> None:
    (done,) = history(whole(), case(repairs=(("ghost", "tighten"),)), ()).repairs
    assert list(done) == ["belt"]


def test_what_was_seen_stands_in_its_time_and_tests_in_theirs() -> None:
    seen = (saw("whine"), saw("squeal@belt_off", "gone"), saw("squeal", "absent", 1, place=""))
    found = history(whole(), case(*seen, repairs=(("tighten",),)), seen)
    assert found.observed == {("whine", 0), ("squeal", 1)}
    (away,) = found.away
    assert (away.part, away.epoch, away.watched, away.carried) == ("belt_off", 0, ("squeal",), {"belt": 1.0})
