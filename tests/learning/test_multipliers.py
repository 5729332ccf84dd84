"""What facts and age do to each cause, for many machines at once: against the network's own way, one by one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Age, Knowledge
from diagnose.learning import reference
from diagnose.learning.counts import School, known_of, left_out
from diagnose.learning.expect import occurrences, priors_by_bin
from diagnose.learning.groups import EXCLUDED
from diagnose.learning.multipliers import BIN, LAST_BIN
from diagnose.network.arising import Arising
from diagnose.network.facts import Facts
from diagnose.network.machine import Machine
from tests.cases.strategies import calm
from tests.knowledge_by_hand import (
    HERE,
    cause,
    fact,
    finding,
    knowledge,
    number,
    only,
    times,
)
from tests.knowledge_by_hand import (
    given as depends,
)
from tests.learning.worlds import lesson


def age(shape: float, at: float | None = None, as_machine: bool = False) -> Age:
    return Age(Number(shape, "judgement", 10, HERE), at, HERE, as_machine)


def depot() -> Knowledge:
    """Rare causes of every kind, so that what is to be expected and its probability are nearly the same."""
    starts = {"road": number(0.1), "yard": number(1.5)}
    nights = {"road": number(0.05), "yard": number(0.2)}
    return knowledge(
        fact("duty", {"road": 0.7, "yard": 0.3}, starts=starts, nights=nights),
        fact("aid", {"none": 0.4, "heater": 0.6}),
        depends("plug", "aid", {"none": {"no": 1.0, "yes": 0.0}, "heater": {"no": 0.5, "yes": 0.5}}),
        cause("plain", 1e-3, {"f": 0.5}, per="rate"),
        cause("dusty", 1e-3, {"f": 0.5}, per="rate", modifiers=times(duty={"yard": 3.0}, aid={"none": 0.5})),
        cause("worn", 1e-3, {"f": 0.5}, per="rate", age=age(2.5)),
        cause("by_age", 1e-3, {"f": 0.5}, per="rate", age=age(2.0, 8000.0)),
        cause(
            "seldom",
            1e-3,
            {"f": 0.5},
            per="rate",
            age=age(3.0, None, True),
            modifiers=times(duty={"road": 2.0}),
        ),
        cause("starter", 1e-5, {"f": 0.5}, per="per_start", age=age(1.8)),
        cause("frost", 1e-5, {"f": 0.5}, per="per_night", modifiers=times(plug={"yes": 0.2})),
        cause("slow", 2e-3, {"f": 0.5}, age=age(2.0, 5000.0), modifiers=times(aid={"none": 2.0})),
        cause("heater", 1e-3, {"f": 0.5}, per="rate", only_if=only(aid=["heater"])),
        finding("f", 0.1),
    )


hours = st.floats(1.0, 40_000.0)
CAUSES = tuple(depot().causes)
known = st.fixed_dictionaries(
    {},
    optional={
        "duty": st.sampled_from(["road", "yard"]),
        "aid": st.sampled_from(["none", "heater"]),
    },
)
machines = st.builds(
    Machine,
    facts=known,
    hours=st.none() | hours,
    renewed=st.dictionaries(st.sampled_from(CAUSES), hours),
    last_right=st.none() | st.floats(1.0, 5_000.0),
)
SCHOOL = School(depot())


@calm
@given(machines)
def test_causes_are_as_likely_as_in_the_network(machine: Machine) -> None:
    """On average over the facts not known, up to half a bin, and to second order in a small probability: a mean of
    probabilities is not quite the probability at the mean."""
    base, numbers = SCHOOL.knowledge, SCHOOL.graph.numbers
    arising = Arising(base, machine, Facts(base.facts, machine.facts))
    kind, bins = SCHOOL.factors.by_facts(machine.facts), SCHOOL.factors.bins(machine)
    mine = priors_by_bin(numbers, numbers.values, np.arange(len(CAUSES)), bins)
    for place, one in enumerate(base.causes.values()):
        assert kind.possible[place] == (one.id != "heater" or machine.facts.get("aid") != "none")
        if not kind.possible[place]:
            continue
        exact = arising.marginal(one)
        if abs(bins[place]) == LAST_BIN:
            assert abs(np.log(exact / reference.present(one))) > BIN * LAST_BIN - 0.1
            continue
        tolerance = BIN / 2 + (
            1e-9 if set(machine.facts) == {"duty", "aid"} and one.id != "frost" else 3 * exact
        )
        assert abs(np.log(mine[place] / exact)) <= tolerance, one.id


def test_the_reference_machine_has_a_factor_of_one() -> None:
    """A rate of 2 per 1,000 h makes one occurrence in 500 h; 0.4 starts an hour (common practice) 200 starts."""
    base = knowledge(
        cause("a", 2.0, {}, per="rate"),
        cause("b", 0.01, {}, per="per_start"),
        cause("c", 0.3, {}),
        finding("f", 0.1),
    )
    a, b, c = base.causes.values()
    assert [reference.present(one) for one in (a, b, c)] == pytest.approx(
        [1 - np.exp(-1), 1 - np.exp(-2), 0.3]
    )
    assert [reference.frequency(one, reference.present(one)) for one in (a, b, c)] == pytest.approx(
        [2.0, 0.01, 0.3]
    )
    assert School(base).factors.bins(Machine()).tolist() == [0, 0, 0]


def test_twice_the_time_is_twice_the_occurrences_and_not_twice_the_odds() -> None:
    """In closed form: 1 - exp(-2 x 1) in 1,000 h at 2 per 1,000 h; odds of a share do not know the window."""
    base = knowledge(cause("a", 2.0, {}, per="rate"), cause("c", 0.3, {}), finding("f", 0.1))
    school = School(base)
    bins = school.factors.bins(Machine(last_right=1000.0))
    p = priors_by_bin(school.graph.numbers, school.graph.numbers.values, np.arange(2), bins)
    assert bins[1] == 0
    assert p == pytest.approx([1 - np.exp(-2), 0.3], rel=3e-3)  # half a bin is 2.5 % of the occurrences


def test_a_cause_that_is_there_occurred_once_at_least() -> None:
    """A Poisson number with mean 1 is 1 / (1 - exp(-1)) on average where it is not 0."""
    base = knowledge(cause("a", 2.0, {}, per="rate"), cause("c", 0.3, {}), finding("f", 0.1))
    p = np.array([1 - np.exp(-1), 0.3])
    found = occurrences(School(base).graph.numbers, np.arange(2), p)
    assert found == pytest.approx([1 / (1 - np.exp(-1)), 1.0])


def test_facts_that_no_machine_has_together_leave_the_case_out() -> None:
    one = lesson("1", ["plain"], [], Machine(facts={"aid": "none", "plug": "yes"}))
    assert left_out(SCHOOL, one) == "no machine has its facts together"


def test_what_a_machine_cannot_have_is_excluded_by_what_is_known() -> None:
    place = list(CAUSES).index("heater")
    for facts, excluded in (({"aid": "none"}, True), ({}, False), ({"plug": "yes"}, False)):
        one = known_of(SCHOOL, lesson("1", ["plain"], [], Machine(facts=facts)))
        assert (one.standing[place] == EXCLUDED) == excluded


def test_many_kinds_of_machines_are_looked_up_by_what_matters_to_each_cause() -> None:
    """A cause whose facts are known does not hang on other facts; one whose fact is not known, on those
    beside it."""
    factors = School(depot()).factors
    for duty in ("road", "yard"):
        for aid in ("none", "heater"):
            factors.by_facts({"duty": duty, "aid": aid})
    kept = [id for id, _ in factors._found]
    assert [kept.count(id) for id in ("plain", "worn", "starter", "seldom", "heater", "dusty")] == [
        1,
        1,
        2,
        2,
        2,
        4,
    ]
    assert kept.count("frost") == 4  # by its starts and, as nobody knows of a plug, by the aid
