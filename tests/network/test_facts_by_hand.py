"""Machine facts: shares by Bayes' rule, what cannot be, and what a requirement takes, worked out here."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.knowledge.machine_facts import Fact, Requirement
from diagnose.network.facts import Facts, FactVariable, ImpossibleFacts
from tests.knowledge_by_hand import HERE, fact, given

PUMP = {"pump": {"mechanical": 0.1, "electronic": 0.9}, "rail": {"mechanical": 0.0, "electronic": 1.0}}


def facts(**told: str) -> Facts:
    """Of the machines 0.3 have a pump and 0.7 a rail; the work done lately is any of two things."""
    known = [
        fact("injection", {"pump": 0.3, "rail": 0.7}),
        given("control", "injection", PUMP),
        given(
            "lamp", "control", {"mechanical": {"no": 0.8, "yes": 0.2}, "electronic": {"no": 0.5, "yes": 0.5}}
        ),
        fact("work", {"none": 0.0, "injectors": 0.05, "wiring": 0.02}, several=True),
        Fact("colour", "colour", "", ("red", "blue", "grey"), HERE),
        fact("hours", {"few": 2.0, "many": 6.0}),
    ]
    return Facts({one.id: one for one in known}, told)


def one(of: Facts, id: str) -> list[float]:
    return [float(p) for p in of.joint(of.variables(id))]


def need(id: str, *values: str) -> Requirement:
    return Requirement(id, values, HERE)


def test_shares_as_they_stand_scaled_or_alike() -> None:
    assert one(facts(), "injection") == pytest.approx([0.3, 0.7])
    assert one(facts(), "hours") == pytest.approx([0.25, 0.75])
    assert one(facts(), "colour") == pytest.approx([1 / 3] * 3)
    assert one(facts(), "control") == pytest.approx([0.03, 0.97])
    assert one(facts(), "lamp") == pytest.approx([0.03 * 0.8 + 0.97 * 0.5, 0.03 * 0.2 + 0.97 * 0.5])


def test_what_is_known_above_and_below_weighs() -> None:
    assert one(facts(injection="pump"), "control") == pytest.approx([0.1, 0.9])
    electronic = 0.3 * 0.9 + 0.7
    assert one(facts(control="electronic"), "injection") == pytest.approx(
        [0.27 / electronic, 0.7 / electronic]
    )
    assert one(facts(control="mechanical"), "injection") == pytest.approx([1, 0])
    lit = {"pump": 0.1 * 0.2 + 0.9 * 0.5, "rail": 0.5}
    total = 0.3 * lit["pump"] + 0.7 * lit["rail"]
    assert one(facts(lamp="yes"), "injection") == pytest.approx(
        [0.3 * lit["pump"] / total, 0.7 * 0.5 / total]
    )
    assert one(facts(lamp="yes", injection="pump"), "control") == pytest.approx([0.02 / 0.47, 0.45 / 0.47])


def test_what_no_machine_has_together_is_an_error_with_its_names() -> None:
    with pytest.raises(ImpossibleFacts) as error:
        facts(injection="rail", control="mechanical", colour="red").consistent()
    assert set(error.value.names) == {"injection rail", "control mechanical"}
    assert facts(injection="rail", control="electronic").consistent()


def test_a_joint_has_an_axis_for_each() -> None:
    of = facts()
    pair = of.joint((*of.variables("control"), *of.variables("injection")))
    assert pair == pytest.approx(np.array([[0.03, 0.0], [0.27, 0.7]]))
    injectors, wiring = of.variables("work")
    assert injectors == FactVariable("work", "injectors", ("no", "yes"))
    assert of.joint((wiring,)) == pytest.approx([0.98, 0.02])
    assert of.joint((injectors, wiring)) == pytest.approx(np.outer([0.95, 0.05], [0.98, 0.02]))
    both = of.joint((wiring, *of.variables("colour")))
    assert both == pytest.approx(np.outer([0.98, 0.02], [1 / 3] * 3))


@pytest.mark.parametrize(
    ("told", "required", "chance"),
    [
        ({}, need("injection", "rail"), 0.7),
        ({}, need("injection", "rail", "pump", "unheard of"), 1.0),
        ({"injection": "rail"}, need("injection", "rail"), 1.0),
        ({"injection": "pump"}, need("injection", "rail"), 0.0),
        ({"injection": "steam"}, need("injection", "rail"), 0.7),  # the knowledge has no such value
        ({}, need("work", "wiring"), 1.0),  # may always have been done
        ({"work": "wiring"}, need("work", "injectors"), 0.0),
        ({}, need("unheard of", "x"), 1.0),
        ({"unheard of": "x"}, need("unheard of", "x"), 1.0),
        ({"unheard of": "y"}, need("unheard of", "x"), 0.0),
    ],
)
def test_the_chance_that_a_requirement_is_met(
    told: dict[str, str], required: Requirement, chance: float
) -> None:
    of = facts(**told)
    assert of.chance(required) == of.chance(required) == pytest.approx(chance)


def test_what_is_unknown_and_what_stands_above() -> None:
    of = facts(control="electronic", colour="mauve")
    assert [id for id in (*of.all, "unheard of") if of.unknown(id)] == [
        "injection", "lamp", "work", "colour", "hours"
    ]  # fmt: skip
    assert (of.parent("lamp"), of.parent("injection")) == ("", "")
    assert facts().parent("lamp") == "control"
    assert facts().above(["lamp", "hours", "control"]) == ["injection", "control", "lamp", "hours"]


def test_a_variable_as_a_fact() -> None:
    assert FactVariable("injection", "", ("pump", "rail")).as_fact(1) == {"injection": "rail"}
    wiring = FactVariable("work", "wiring", ("no", "yes"))
    assert (wiring.as_fact(1), wiring.as_fact(0), wiring.name) == ({"work": "wiring"}, {}, "work=wiring")


def test_facts_that_hang_on_each_other_in_a_circle_are_read_nevertheless() -> None:
    half = {"a": {"x": 0.5, "y": 0.5}, "b": {"x": 0.5, "y": 0.5}}
    known = [given("one", "two", half), given("two", "one", half)]
    assert Facts({one.id: one for one in known}, {}).consistent()
