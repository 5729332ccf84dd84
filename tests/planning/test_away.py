"""Tests by taking away as checks: what is offered, and predictions beside the exact network of each result."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Noted, Opened, Repaired
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.away import away_id
from diagnose.knowledge.records import Finding, Knowledge, System
from diagnose.knowledge.removable import Carried, Removable
from diagnose.planning.away import offered, predicted
from diagnose.planning.checks import next_checks
from diagnose.planning.shop import Shop
from diagnose.planning.situation import situation
from tests.knowledge_by_hand import HERE, cause, condition, finding, knowledge, number


def part(id: str, carries: dict[str, float], mistaken: float = 0.0, **rest: Any) -> Removable:
    values: dict[str, Any] = {
        "ways": ("off",), "aliases": (), "brings": (), "watched": (), "told": (), "by": (), "minutes": number(10),
        "access": (), "tools": (), "hazards": (), "steps": (), "only_if": (), **rest,
    }  # fmt: skip
    carried = tuple(Carried(one, number(p), HERE) for one, p in carries.items())
    return Removable(
        id=id, name=id, system="test", carries=carried, mistaken=number(mistaken), place=HERE, **values
    )


def rattles(effectiveness: float = 1.0, mistaken: float = 0.0) -> Knowledge:
    """A belt's bearing, a damper by a condition, and a loose clip nobody can take out."""
    plain = knowledge(
        cause("bearing", 0.03, {"rattle": 0.8}),
        cause("damper", 0.02, {"shakes": 0.9}),
        cause("clip", 0.015, {"rattle": 0.6, "loose": 0.9}),
        condition("shakes", 0.001, {"rattle": 0.7}),
        finding("rattle", 0.001, other=0.002),
        finding("loose", 0.001),
    )
    belt = part("belt", {"bearing": effectiveness}, mistaken)
    weight = part("weight", {"shakes": 1.0})
    return replace(
        plain, removable={"belt": belt, "weight": weight}, systems={"test": System("test", "t", "", HERE)}
    )


def seen(knowledge: Knowledge, *notes: tuple[str, str]) -> Diagnosis:
    return diagnose(knowledge, case(*notes))


def case(*notes: tuple[str, str]) -> Case:
    return fold(1, [Opened("X-1"), *(Noted(id, state, sequence=n) for n, (id, state) in enumerate(notes, 2))])


RATTLE = ("rattle", "present")


def test_offered_where_the_part_can_be_behind_what_is_there() -> None:
    assert offered(seen(rattles(), RATTLE)) == {"belt": ("rattle@belt",), "weight": ("rattle@weight",)}
    assert offered(seen(rattles(), ("rattle", "absent"))) == {}
    assert offered(seen(rattles(), ("loose", "present"))) == {}


def test_not_offered_twice_but_again_after_a_repair_that_acts_on_it() -> None:
    known = rattles()
    notes = [RATTLE, ("rattle@belt", "still there")]
    assert offered(seen(known, *notes)) == {"weight": ("rattle@weight",)}
    events = [*case(*notes).history, Repaired((), ("clip",), sequence=9), Noted(*RATTLE, sequence=10)]
    assert offered(diagnose(known, fold(1, events))).keys() == {"belt", "weight"}


@pytest.mark.parametrize(("effectiveness", "mistaken"), [(1.0, 0.0), (0.8, 0.0), (1.0, 0.1), (0.7, 0.05)])
@pytest.mark.parametrize("name", ["belt", "weight"])
def test_predictions_are_those_of_the_network(name: str, effectiveness: float, mistaken: float) -> None:
    """With the finding alone as evidence the prediction is exact: P(told gone | exactly these faults, rattle)."""
    known = rattles(effectiveness, mistaken)
    plain = seen(known, RATTLE)
    candidates = ("bearing", "damper", "clip")
    faults = np.arange(1, 8)
    id = away_id("rattle", name)
    got = predicted(plain, candidates, faults, [id])[id]
    exact = [told_gone(known, id, candidates, int(f)) for f in faults]
    np.testing.assert_allclose(got[:, 0], exact, atol=1e-9)
    np.testing.assert_allclose(got.sum(axis=1), 1.0)


def told_gone(known: Knowledge, id: str, candidates: tuple[str, ...], fault_set: int) -> float:
    """From the network with the stretch: all causes held, the other cause away."""
    gone = seen(known, RATTLE, (id, "gone"))
    engine, built = gone.engine, gone.built
    held = {built.variable(c): fault_set >> bit & 1 for bit, c in enumerate(candidates)}
    held[built.others["rattle"]] = 0
    variable = built.variable(id)
    free = type(engine)(
        built.network, {v: e for v, e in engine.evidence.items() if v != variable}, [variable]
    )
    p = free.given([{**held, variable: 0}, {**held, variable: 1}], ())[0]
    mistaken = known.removable[id.partition("@")[2]].mistaken
    still = float(p[1] / p.sum())
    return 1 - still * (1 - (mistaken.value if mistaken else 0.0))


def test_next_proposes_it_with_its_results() -> None:
    diagnosis = seen(rattles(), RATTLE)
    shop = Shop()
    found = {check.id: check for check in next_checks(diagnosis, situation(diagnosis, shop))}
    belt = found["try:belt"]
    assert belt.name == "Try with belt off"
    assert belt.minutes == 10
    assert belt.bits > 0.1
    gone = next(result for result in belt.results if result.states == {"rattle@belt": "gone"})
    assert gone.leading == "bearing"
    exact = seen(rattles(), RATTLE, ("rattle@belt", "gone")).cause("bearing")
    assert exact is not None
    assert gone.leading_probability == pytest.approx(exact.probability, abs=0.02)


def test_gone_without_the_finding_noted_says_that_it_was_there() -> None:
    alone, both = seen(rattles(), ("rattle@belt", "gone")), seen(rattles(), RATTLE, ("rattle@belt", "gone"))
    for one, other in zip(alone.causes, both.causes, strict=True):
        assert one.probability == pytest.approx(other.probability, abs=1e-12)


def test_a_result_of_before_is_read_under_its_own_name() -> None:
    from diagnose.knowledge.removable import RemovalTest

    known = rattles()
    told = RemovalTest("quiet_without_belt", ("rattle",), "Quiet without the belt", (), HERE)
    known = replace(
        known, removable={**known.removable, "belt": replace(known.removable["belt"], told=(told,))}
    )
    for old, new in (("present", "gone"), ("absent", "still there")):
        before, now = seen(known, ("quiet_without_belt", old)), seen(known, RATTLE, ("rattle@belt", new))
        assert before.unused == ()
        for one, other in zip(before.causes, now.causes, strict=True):
            assert one.probability == pytest.approx(other.probability, abs=1e-12)


def test_a_try_that_misleads_leaves_room() -> None:
    """Gone though it would be there still: odds of the bearing by Bayes' rule over the fault sets, by hand."""
    known = rattles(mistaken=0.1)
    sure, doubtful = (
        seen(rattles(), RATTLE, ("rattle@belt", "gone")),
        seen(known, RATTLE, ("rattle@belt", "gone")),
    )
    p_before = seen(known, RATTLE).cause("bearing")
    a, b = sure.cause("bearing"), doubtful.cause("bearing")
    assert a is not None
    assert b is not None
    assert p_before is not None
    assert a.probability == pytest.approx(1.0)
    assert p_before.probability < b.probability < 1.0
    p_gone = _p_gone(known)
    expected = p_gone * 1.0 + 0.1 * _p_still_and_bearing(known)
    assert b.probability == pytest.approx(expected / (p_gone + 0.1 * (1 - p_gone)), abs=1e-9)


def _p_gone(known: Knowledge) -> float:
    """P(gone with the belt off | rattle), told without mistake."""
    exact = replace(known, removable={"belt": part("belt", {"bearing": 1.0})})
    one = seen(exact, RATTLE, ("rattle@belt", "gone"))
    return float(np.exp(one.engine.log_probability - seen(exact, RATTLE).engine.log_probability))


def _p_still_and_bearing(known: Knowledge) -> float:
    exact = replace(known, removable={"belt": part("belt", {"bearing": 1.0})})
    cause_then = seen(exact, RATTLE, ("rattle@belt", "still there")).cause("bearing")
    assert cause_then is not None
    return (1 - _p_gone(known)) * cause_then.probability


def test_shape_of_a_test() -> None:
    from diagnose.knowledge.observable import observable

    one: Finding = observable(rattles(), "rattle@belt")
    assert (one.states, one.name) == (("gone", "still there"), "rattle with belt off")
