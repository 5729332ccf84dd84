"""The question for the cylinder: what each answer would say, exact against the enumeration of test_places.py."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Checked, Event, Noted, Opened
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.located import at
from diagnose.knowledge.observable import WHERE
from diagnose.planning.options import check_options
from diagnose.planning.placing import offered, predicted
from tests.network.test_places import AT_2, AT_4, Enumerated, rough_running

CAUSES = ("injector", "valve", "wiring")
FAULTS = np.arange(8)


def seen(*told: Event, cylinders: int = 6) -> Diagnosis:
    events = (Opened("x", facts={"cylinders": str(cylinders)}), *told)
    case = fold(1, [replace(one, sequence=n) for n, one in enumerate(events, 1)])
    return diagnose(rough_running(), case)


@pytest.mark.parametrize("count", [4, 6])
def test_under_each_fault_set_the_answer_is_as_likely_as_by_enumeration(count: int) -> None:
    now = seen(Noted("cold", "present", place=AT_4), Noted("miss", "present"), cylinders=count)
    (id,) = offered(now)
    assert id == at("miss", AT_4)
    told = {("cold", AT_4): 1, ("miss", ""): 1}
    by_answer = [Enumerated({**told, ("miss", AT_4): state}, count).sets for state in (0, 1)]
    for fault, found in zip(FAULTS.tolist(), predicted(now, CAUSES, FAULTS, [id])[id], strict=True):
        there = tuple(fault >> bit & 1 for bit in range(len(CAUSES)))
        whole = sum(sets[there] for sets in by_answer)
        assert found == pytest.approx([sets[there] / whole for sets in by_answer], abs=1e-9), there


@pytest.mark.parametrize(
    "told",
    [
        (Noted("miss", "present"),),
        (Noted("miss", "present"), Noted("cold", "present")),
        (Noted("miss", "absent"), Noted("cold", "present", place=AT_4)),
        (Noted("miss", "present", place=AT_2), Noted("cold", "present", place=AT_4)),
    ],
    ids=["one", "no place told", "not there", "both told"],
)
def test_nobody_is_asked_where_no_place_is_told_or_all_are(told: tuple[Event, ...]) -> None:
    assert list(offered(seen(*told))) == []


def test_it_stands_among_the_checks_until_it_was_asked() -> None:
    told = (Noted("cold", "present", place=AT_4), Noted("miss", "present"))
    asked = f"{WHERE}miss"
    (option,) = (one for one in check_options(seen(*told)) if one.id == asked)
    assert (option.minutes, option.findings) == (1.0, (at("miss", AT_4),))
    assert asked not in [one.id for one in check_options(seen(*told, Checked(asked)))]
