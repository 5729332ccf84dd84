"""Which causes can still be behind what was found, once something was repaired."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Event, Noted, Opened, Repaired
from diagnose.diagnosis import diagnose
from diagnose.knowledge.records import Knowledge
from tests.knowledge_by_hand import HERE, cause, finding, knowledge, number
from tests.moves.test_stops_by_hand import renew

ROUGH, SMOOTH = Noted("rough", "present"), Noted("rough", "absent")
RENEWED = Repaired(("renew",), ("sensor",))


def world(effectiveness: float) -> Knowledge:
    plain = knowledge(
        cause("sensor", 0.3, {"rough": 0.9}),
        cause("bolt", 0.2, {"rough": 0.4}),
        cause("lamp", 0.5, {"dark": 0.9}),
        finding("rough", 0.01),
        finding("dark", 0.01),
    )
    one = renew("renew", "sensor")
    cure = replace(one.cures[0], effectiveness=number(effectiveness), place=HERE)
    return replace(plain, repairs={"renew": replace(one, cures=(cure,))})


def relevant(effectiveness: float, *events: Event) -> dict[str, bool]:
    told = [Opened("M-1"), *events]
    case = fold(1, [replace(event, sequence=n) for n, event in enumerate(told, 1)])
    return {one.id: one.relevant for one in diagnose(world(effectiveness), case).causes}


def test_what_nothing_found_speaks_of_is_not_behind_it() -> None:
    assert relevant(0.9, ROUGH) == {"sensor": True, "bolt": True, "lamp": False}


@pytest.mark.parametrize(("effectiveness", "still"), [(0.9, True), (0.9999, False)])
def test_what_was_repaired_is_as_long_as_it_is_likely_still_there(effectiveness: float, still: bool) -> None:
    """Of nine in ten a tenth stays and would hardly run smoothly: 1 % and more; of all but one in 10,000 less."""
    assert relevant(effectiveness, ROUGH, RENEWED) == {"sensor": still, "bolt": True, "lamp": False}


def test_what_was_not_touched_stays_behind_what_was_found_before() -> None:
    found = relevant(0.9999, ROUGH, RENEWED, SMOOTH)
    assert found == {"sensor": False, "bolt": True, "lamp": False}
