"""What each answer to "when was it last right?" would make of a case: against whole diagnoses with the answer
told, and money worked out on a problem of two faults.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Checked, Event, Noted, Opened, Repaired
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.observable import LAST_RIGHT_ANSWERS
from diagnose.knowledge.records import Knowledge
from diagnose.planning.planner import Planner
from diagnose.planning.problem import Test as Look
from diagnose.planning.shop import Shop
from diagnose.planning.since import ASK_LAST_RIGHT, MATTERS, SHARES, Since, since
from diagnose.planning.situation import Situation, situation
from tests.knowledge_by_hand import cause, finding, knowledge
from tests.planning.test_options_by_hand import repair

HOURS = list(LAST_RIGHT_ANSWERS.values())


def known(brings: float) -> Knowledge:
    """A crack that happens, soot that builds up, and a stuck valve that the soot may bring about too."""
    sooty = {"rough": 0.6, "stuck": brings} if brings else {"rough": 0.6}
    plain = knowledge(
        cause("crack", 0.02, {"rough": 0.9}, per="rate"),
        cause("soot", 0.05, sooty),
        cause("stuck", 0.01, {"rough": 0.5, "sticks": 0.9}, per="rate"),
        finding("rough", 0.001),
        replace(finding("sticks", 0.001), kind="inspection"),
    )
    repairs = [
        replace(repair(id, (id, 0.97)), minutes=plain.causes["soot"].frequency, name=id)
        for id in ("crack", "soot", "stuck")
    ]
    return replace(plain, repairs={one.id: one for one in repairs})


def seen(*events: Event, last_right: float | None = None, brings: float = 0.0) -> Diagnosis:
    told = [Opened("M-1", last_right=last_right), Noted("rough", "present"), *events]
    return diagnose(known(brings), fold(1, [replace(event, sequence=n) for n, event in enumerate(told, 1)]))


def listed(now: Situation, hours: float | None, brings: float = 0.0) -> np.ndarray:
    """P(exactly these of the candidates | rough), by listing all sets: noisy OR of what is there, with what
    each has of itself when nothing was noted."""
    nothing = diagnose(known(0.0), fold(1, [Opened("M-1", last_right=hours, sequence=1)]))
    itself = {one.id: one.probability for one in nothing.causes}
    shows = {"crack": 0.9, "soot": 0.6, "stuck": 0.5}
    found = []
    for fault in SETS:
        there = {id for bit, id in enumerate(now.candidates) if fault >> bit & 1}
        p = 1 - (1 - 0.001) * float(np.prod([1 - shows[id] for id in there]))
        for id in now.candidates:
            of_it = itself[id]
            if id == "stuck" and "soot" in there:
                of_it = 1 - (1 - of_it) * (1 - brings)
            p *= of_it if id in there else 1 - of_it
        found.append(p)
    return np.array(found) / sum(found)


SETS = [0, 1, 2, 3, 4, 5, 6, 7]


def told(
    *events: Event, last_right: float | None = None, brings: float = 0.0
) -> tuple[Since | None, Situation]:
    """On all fault sets, the last bit of which says that it is none of the candidates."""
    diagnosis = seen(*events, last_right=last_right, brings=brings)
    now = situation(diagnosis, Shop())
    chances = listed(now, last_right, brings)
    problem = replace(
        now.problem,
        faults=np.array([0, *SETS[1:], 8]),
        probabilities=np.array([0.0, *chances[1:], chances[0]]),
        last_resort=4000.0,
        aftermath=None,
    )
    now = replace(now, problem=problem)
    return since(diagnosis, now), now


@pytest.mark.parametrize(("brings", "off"), [(0.0, 1e-9), (0.3, 0.02)])
def test_each_answer_does_what_a_diagnosis_with_it_does(brings: float, off: float) -> None:
    """Where the soot brings the valve about, nearly: within two per cent."""
    found, now = told(brings=brings)
    assert found is not None
    after = [{c.id: c.probability for c in seen(last_right=h, brings=brings).causes} for h in HOURS]
    whole = np.array([[row[id] for id in now.candidates] for row in after])
    assert found.causes == pytest.approx(whole, abs=off)
    assert np.ptp(whole[:, now.candidates.index("crack")]) > 0.3
    assert found.lead == now.candidates.index(seen(brings=brings).causes[0].id)


def test_who_was_asked_or_told_it_is_not_asked() -> None:
    assert told(last_right=100.0)[0] is None
    assert told(Checked(ASK_LAST_RIGHT))[0] is None
    assert told(Checked(ASK_LAST_RIGHT), Repaired((), ("crack",)), Noted("rough", "present"))[0] is None
    assert told(Checked("other"))[0] is not None
    diagnosis = seen()
    assert since(diagnosis, replace(situation(diagnosis, Shop()), candidates=())) is None


def test_what_it_saves_is_what_each_answer_saves_by_its_share() -> None:
    """Repairs alone after each answer, and without one, from the chances that are listed for it."""
    found, now = told()
    assert found is not None
    planner = Planner(replace(now.problem, tests=()))
    beliefs = np.array([_row(now, hours) for hours in HOURS])
    start = planner.start(now.open_now)
    untold, *answered = (
        float(planner.values([replace(start, belief=one)])[0]) for one in (SHARES @ beliefs, *beliefs)
    )
    assert found.cost == pytest.approx(untold)
    assert found.gain == pytest.approx(untold - float(SHARES @ answered))
    assert 1 < found.gain < found.cost


def test_a_check_that_would_be_done_anyhow_counts_with_and_without_an_answer() -> None:
    """One that tells every set from the others for nothing: then no answer saves anything, and the cost is
    that of knowing."""
    diagnosis, now = seen(), told()[1]
    tells = Look("all", 0.0, 0, np.eye(len(now.problem.faults)))
    known_ = replace(now, problem=replace(now.problem, tests=(tells,)))
    found = since(diagnosis, known_)
    assert found is not None
    planner, belief = Planner(now.problem), SHARES @ np.array([_row(now, hours) for hours in HOURS])
    sure = [replace(planner.start(), belief=one) for one in np.eye(len(belief))]
    assert found.cost == pytest.approx(float(belief @ planner.values(sure)))
    assert found.gain == pytest.approx(0.0, abs=1e-6)


def _row(now: Situation, hours: float) -> np.ndarray:
    chances = listed(now, hours)
    return np.array([0.0, *chances[1:], chances[0]])


def rows(*leading: tuple[float, ...], lead: int = 0, cost: float = 1000.0, gain: float = 0.0) -> Since:
    return Since(np.array(leading), lead, lambda: (cost, gain))


def test_whether_an_answer_turns_or_moves_the_leading_cause() -> None:
    assert rows((0.5, 0.625), (0.9, 0.1)).turns
    assert rows((0.9, 0.1), (0.5, 0.625)).turns
    assert not rows((0.5, 0.59), (0.9, 0.1)).turns
    assert not rows((0.5, 0.625), (0.5, 0.1), lead=0).moves
    assert rows((0.5, 0.625), (0.5, 0.1), lead=1).moves
    assert rows((0.5, 0.0), (0.625, 0.0)).moves
    assert not rows((0.5, 0.0), (0.59, 0.9)).moves


def test_what_it_must_save() -> None:
    """A twentieth of what is to be spent beyond its price, where it moves the leading cause; anything where
    it turns it."""
    moving, still = ((0.5, 0.0), (0.7, 0.0)), ((0.5, 0.0), (0.5, 0.0))
    assert MATTERS == 0.05
    assert rows(*moving, gain=53).pays(2)
    assert not rows(*moving, gain=52).pays(2)
    assert not rows(*moving, gain=51).pays(2)
    assert not rows(*still, gain=500).pays(2)
    assert rows((0.1, 0.5), (0.7, 0.1), gain=0).pays(2)
