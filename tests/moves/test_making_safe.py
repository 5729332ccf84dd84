"""What stands under a stop is cleared first; what is sure is repaired instead."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import pytest

from diagnose.knowledge.records import Hazard
from diagnose.moves.move import MAKE_SAFE, making_safe
from diagnose.moves.standing import SURE, Standing
from diagnose.moves.stops import DO_NOT_CRANK, Stop
from diagnose.planning.keep_running import MOVE, STOP, WATCH
from diagnose.planning.options import CheckOption

CHECK = cast(CheckOption, SimpleNamespace(id="look", name="Look at it"))
HAZARD = cast(Hazard, SimpleNamespace(id="liquid"))


def stop(word: str, probability: float = 0.3, clearing: bool = True, hazard: Hazard | None = None) -> Stop:
    return Stop(word, "Bearing going", "", frozenset(), (CHECK,) if clearing else (), hazard, "", probability)


def standing(*stops: Stop, first_takes: float = 10.0, clearing_takes: float = 10.0) -> Standing:
    """Where the check that saves most takes so many minutes, and what clears the stop so many."""
    now = SimpleNamespace(
        stops=stops,
        order=SimpleNamespace(first=0),
        situation=SimpleNamespace(minutes=lambda number: first_takes),
        check_price=lambda option: SimpleNamespace(minutes=clearing_takes),
    )
    return cast(Standing, now)


@pytest.mark.parametrize("word", [STOP, DO_NOT_CRANK])
def test_what_can_be_cleared_is(word: str) -> None:
    move = making_safe(standing(stop(word)))
    assert move is not None
    assert (move.kind, move.id) == (MAKE_SAFE, "look")


@pytest.mark.parametrize(
    "held", [stop(STOP, SURE), stop(STOP, clearing=False), stop(MOVE), stop(WATCH)], ids=str
)
def test_what_is_sure_cannot_be_cleared_or_forbids_little_is_not(held: Stop) -> None:
    assert making_safe(standing(held)) is None


def test_the_next_stop_is_looked_at_where_the_first_cannot_be_cleared() -> None:
    assert making_safe(standing(stop(STOP, SURE), stop(STOP))) is not None


def test_a_much_quicker_check_goes_before_what_may_be_wrecked_but_not_before_what_hurts() -> None:
    assert making_safe(standing(stop(STOP), first_takes=2, clearing_takes=500)) is None
    assert making_safe(standing(stop(STOP, hazard=HAZARD), first_takes=2, clearing_takes=500)) is not None
