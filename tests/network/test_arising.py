"""Causes that arise by facts nobody has told: tables worked out by hand, sums by listing every machine."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from math import sqrt
from typing import Any

import numpy as np
import pytest

from diagnose.knowledge.records import Cause, Knowledge
from diagnose.network.arising import Arising, can_be
from diagnose.network.facts import Facts
from diagnose.network.machine import Machine
from tests.knowledge_by_hand import cause, fact, finding, given, knowledge, number, only, times

RATE, WINDOW = 0.04, 500
HAZARD = RATE / 1000 * WINDOW
PUMP = {"pump": {"mechanical": 0.1, "electronic": 0.9}, "rail": {"mechanical": 0.0, "electronic": 1.0}}


def whole() -> Knowledge:
    return knowledge(
        fact("work", {"none": 0.0, "hoses": 0.05, "wiring": 0.02, "paint": 0.3}, several=True),
        fact("habits", {"none": 0.0, "idles": 0.5, "washed": 0.25}, several=True),
        fact("weather", {"warm": 0.8, "frost": 0.2}),
        fact("injection", {"pump": 0.3, "rail": 0.7}),
        given("control", "injection", PUMP),
        fact("duty", {"road": 0.75, "standby": 0.25}, starts={"road": number(0.2), "standby": number(2.0)}),
    )


def worn(**rest: Any) -> Cause:
    return cause("worn", RATE, {}, per=rest.pop("per", "rate"), **rest)


def arising(portions: Mapping[str, float] | None = None, **told: str) -> Arising:
    own = whole()
    return Arising(own, Machine(facts=told), Facts(own.facts, told), portions)


def names(of: Arising, one: Cause) -> list[str]:
    return [v.name for v in of.variables(one)]


def there(hazard: float | list[float]) -> Any:
    return pytest.approx(-np.expm1(-np.asarray(hazard)), abs=1e-12)


JOBS = {"hoses": 9.0, "wiring": 21.0}


def test_jobs_each_bring_a_hazard_of_their_own() -> None:
    """The job that tells most (20 x sqrt(0.02 x 0.98) / 1.4 = 2) is the table's; the other adds 8 x 0.05."""
    of, one = arising(), worn(modifiers=times(work=JOBS))
    assert names(of, one) == ["work=wiring"]
    assert of.table(one)[:, 1] == there([HAZARD * (1 + 0.4), HAZARD * (21 + 0.4)])
    assert of.table(one).sum(axis=-1) == pytest.approx([1, 1])
    alone = cause("alone", RATE, {}, per="rate", modifiers=times(work={"wiring": 21.0}))
    assert of.table(alone)[:, 1] == there([HAZARD, HAZARD * 21])
    (wiring,) = of.variables(one)
    assert of.telling == pytest.approx({wiring: 20 * sqrt(0.02 * 0.98) / 1.4})


def test_a_job_that_spares_cannot_take_away_more_than_there_is() -> None:
    """Two jobs each nearly sure to prevent it leave nothing, not less: beside each other and beside the weather."""
    own = knowledge(
        fact("habits", {"none": 0.0, "idles": 0.9, "washed": 0.9}, several=True),
        fact("weather", {"warm": 0.99, "frost": 0.01}),
    )
    of = Arising(own, Machine(), Facts(own.facts, {}))
    jobs = times(habits={"idles": 0.0, "washed": 0.0})
    one = worn(modifiers=jobs)
    assert names(of, one) == ["habits=idles"]
    assert of.table(one)[:, 1] == there([HAZARD * 0.1, 0])
    frost = cause("frost", RATE, {}, per="rate", modifiers=(*jobs, *times(weather={"frost": 1000.0})))
    assert names(of, frost) == ["weather"]
    assert of.table(frost)[:, 1] == there([0, 0])


def test_what_tells_less_counts_at_its_mean() -> None:
    """Weather (29 x 0.4 / 6.8 = 1.7) is the table's; habits add 1 x 0.5 and 3 x 0.25, the rail multiplies."""
    one = worn(
        modifiers=(
            *times(weather={"frost": 30.0}),
            *times(habits={"idles": 2.0, "washed": 4.0}),
            *times(injection={"rail": 1.5}),
        )
    )
    of = arising()
    assert names(of, one) == ["weather"]
    mean = (1 + 0.5 + 0.75) * (0.3 + 0.7 * 1.5)
    assert of.table(one)[:, 1] == there([HAZARD * mean, HAZARD * mean * 30])
    assert of.marginal(one) == pytest.approx(0.8 * of.table(one)[0, 1] + 0.2 * of.table(one)[1, 1])
    assert list(of.telling.values()) == pytest.approx([29 * 0.4 / 6.8])


def test_what_multiplies_by_one_is_no_variable() -> None:
    of, one = arising(), worn(modifiers=times(weather={"frost": 1.0}))
    assert (names(of, one), of.telling) == ([], {})
    assert of.table(one)[1] == there(HAZARD)
    every = cause("every", RATE, {}, per="rate", only_if=only(injection=["pump", "rail"]))
    assert names(of, every) == []  # every machine is one of these


def test_known_facts_multiply_and_stand_in_no_table() -> None:
    of = arising(weather="frost", work="hoses")
    one = worn(modifiers=(*times(weather={"frost": 30.0}), *times(work=JOBS)))
    assert names(of, one) == []
    assert of.marginal(one) == there(HAZARD * 30 * 9)


def test_facts_that_decide_come_first_and_the_most_telling_one_last() -> None:
    """A rail alone has it; frost multiplies it by 30: by hand for each of the four kinds of machine."""
    of = arising()
    one = worn(only_if=only(injection=["rail"]), modifiers=times(weather={"frost": 30.0}))
    assert names(of, one) == ["injection", "weather"]
    assert of.table(one)[0, :, 1] == pytest.approx([0, 0])
    assert of.table(one)[1, :, 1] == there([HAZARD, HAZARD * 30])
    assert of.marginal(one) == pytest.approx(
        0.7 * (0.8 * of.table(one)[1, 0, 1] + 0.2 * of.table(one)[1, 1, 1])
    )
    rail, weather = of.variables(one)
    assert of.telling == pytest.approx({rail: sqrt(0.3 * 0.7) / 0.7, weather: 29 * 0.4 / 6.8})


def test_a_fact_may_decide_and_multiply() -> None:
    of = arising()
    one = worn(only_if=only(weather=["frost"]), modifiers=times(weather={"frost": 30.0}))
    assert names(of, one) == ["weather"]
    assert of.table(one)[:, 1] == there([0, HAZARD * 30])


def test_what_a_fact_tells_is_the_most_of_all_causes() -> None:
    of = arising()
    strong, weak = (worn(modifiers=times(weather={"frost": x})) for x in (30.0, 2.0))
    (weather,) = of.variables(strong)
    assert names(of, cause("other", RATE, {}, per="rate", modifiers=weak.modifiers)) == ["weather"]
    assert of.telling == pytest.approx({weather: 29 * 0.4 / 6.8})


def test_what_no_machine_of_this_kind_has() -> None:
    """No rail has a mechanical control: the fact that decides says so for every machine, and tells nothing."""
    of, one = arising(injection="rail"), worn(only_if=only(control=["mechanical"]))
    assert of.marginal(one) == 0.0
    assert list(of.telling.values()) == [0.0]


def test_starts_follow_the_unknown_duty_and_its_multiplier() -> None:
    """Starts by hour 0.2 or 2.0; a standby machine wears twice as much a start."""
    of = arising()
    one = worn(per="per_start", modifiers=times(duty={"standby": 2.0}))
    assert names(of, one) == ["duty"]
    assert of.table(one)[:, 1] == there([RATE * WINDOW * 0.2, RATE * WINDOW * 2.0 * 2.0])
    plain = cause("plain", RATE, {}, per="per_start")
    assert of.table(plain)[:, 1] == there([RATE * WINDOW * 0.2, RATE * WINDOW * 2.0])
    assert of.per_hour(one) == pytest.approx(0.75 * 0.2 + 0.25 * 2.0)
    assert arising(duty="road").per_hour(one) == 0.2
    assert of.per_hour(worn()) == 1e-3
    assert of.per_hour(worn(per="per_night")) == 0.1  # no fact tells nights


def test_parts_of_a_cause_together_have_its_number() -> None:
    """None of three parts failed is the whole not failed, machine by machine."""
    one = worn(modifiers=times(weather={"frost": 30.0}))
    shares = (0.5, 0.3, 0.2)
    none = np.prod([arising({"worn": share}).table(one)[:, 0] for share in shares], axis=0)
    assert none == pytest.approx(arising().table(one)[:, 0], abs=1e-12)
    assert arising({"worn": 0.3}).table(one)[0, 1] == there(0.3 * HAZARD)


def test_the_whole_hazard_of_all_machines_is_the_listed_one() -> None:
    """What is to be expected (the hazard, before it is made a probability) is linear in jobs: so its sum over every
    machine listed is exact, whichever fact stands in the table."""
    one = worn(
        only_if=only(injection=["rail"]),
        modifiers=(*times(work=JOBS), *times(habits={"washed": 4.0}), *times(weather={"frost": 3.0})),
    )
    listed = 0.0
    for rail, hoses, wiring, washed, frost in product((0, 1), repeat=5):
        weight = (0.3, 0.7)[rail] * (0.95, 0.05)[hoses] * (0.98, 0.02)[wiring]
        weight *= (0.75, 0.25)[washed] * (0.8, 0.2)[frost]
        jobs = 1 + 8 * hoses + 20 * wiring
        listed += weight * rail * jobs * (1 + 3 * washed) * (1 + 2 * frost) * HAZARD
    of = arising()
    hazards = -np.log(of.table(one)[..., 0])
    assert float((of.facts.joint(of.variables(one)) * hazards).sum()) == pytest.approx(listed, rel=1e-9)


def test_what_a_machine_can_have() -> None:
    """By what is known of it: a rail has no mechanical control; what nobody told excludes nothing."""
    mechanical = finding("governor", 0.01, only_if=only(control=["mechanical"]))
    both = worn(only_if=only(control=["electronic"], injection=["pump"]))
    answers = {
        told: [
            can_be(whole(), Machine(facts={"injection": told} if told else {}))(one)
            for one in (mechanical, both)
        ]
        for told in ("", "pump", "rail")
    }
    assert answers == {"": [True, True], "pump": [True, True], "rail": [False, False]}
