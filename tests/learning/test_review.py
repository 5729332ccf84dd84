"""Cases that stand there twice, and cases whose findings do not go with their cause, are noticed and
listed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from diagnose.cases.case import Observation
from diagnose.knowledge.records import Knowledge
from diagnose.learning.case_survey import fingerprint
from diagnose.learning.counts import School, known_of
from diagnose.learning.lesson import ConfirmedCause, Lesson
from diagnose.learning.review import SURPRISING, UNLIKELY, doubts, limit, shown
from diagnose.network.engine import posterior
from diagnose.network.machine import Machine
from diagnose.network.network import Network
from diagnose.network.observed import hard
from tests.knowledge_by_hand import cause, finding, knowledge
from tests.learning.test_learning import GRADER, learnt_from, row
from tests.learning.worlds import cases, lesson, small

PUMP = [Observation("metal", "present"), Observation("gauge", "none"), Observation("oil_at_bore", "absent")]


# --- twice --------------------------------------------------------------------------------------------------


def test_a_case_that_stands_there_twice_counts_once(tmp_path: Path) -> None:
    made = cases(small(), 60, seed=1)
    once = learnt_from(small(), made, tmp_path)
    again = replace(made[7], case="700")
    twice = learnt_from(small(), [*made, again], tmp_path)
    assert twice.repeated == (("700", made[7].case),)
    assert twice.counted == once.counted == len(made)
    assert twice.values.tolist() == once.values.tolist()


def test_the_same_story_of_another_machine_or_time_is_another_case() -> None:
    one = lesson("1", ["pump"], PUMP, Machine("CRUSHER-2", hours=4000))
    assert fingerprint(one) == fingerprint(replace(one, case="2"))
    assert fingerprint(one) != fingerprint(replace(one, machine=replace(one.machine, hours=4100.0)))
    assert fingerprint(one) != fingerprint(replace(one, machine=replace(one.machine, number="CRUSHER-3")))
    assert fingerprint(one) != fingerprint(replace(one, closed="2024-05-02"))


def test_where_nothing_else_tells_cases_apart_their_names_do() -> None:
    """Cases without names, hours and days: many are alike, and only the same name is the same case."""
    one = lesson("a1", ["pump"], PUMP, Machine())
    assert fingerprint(one) != fingerprint(replace(one, case="b2"))
    assert fingerprint(one) == fingerprint(replace(one, knowledge="another"))


# --- strange ------------------------------------------------------------------------------------------------

POISON = [
    Observation("oil_at_bore", "present"),
    Observation("smoke", "present"),
    Observation("drip", "present"),
    Observation("metal", "absent"),
]


def workshop() -> Knowledge:
    """Two causes that show quite different things."""
    return knowledge(
        cause("pump", 0.1, {"metal": 0.97, "noise": 0.9}),
        cause("seal", 0.1, {"oil_at_bore": 0.95, "smoke": 0.9, "drip": 0.9}),
        *(finding(id, 0.01) for id in ("metal", "noise", "oil_at_bore", "smoke", "drip")),
    )


def test_a_poisoned_case_is_noticed_named_and_set_aside(tmp_path: Path) -> None:
    """Everything seen speaks of the seal; the pump is said to have been confirmed."""
    made = cases(workshop(), 200, seed=2)
    poisoned = lesson("9999", ["pump"], POISON, GRADER)
    learnt = learnt_from(workshop(), [*made, poisoned], tmp_path)
    (suspect,) = (one for one in learnt.suspects if one.aside)
    assert suspect.case == "9999"
    assert suspect.decades == max(one.decades for one in learnt.suspects)
    assert suspect.causes == ("pump",)
    assert {id for id, _, _ in suspect.findings} <= {"oil_at_bore", "smoke", "drip", "metal"}
    assert all(share < 0.05 for _, _, share in suspect.findings)
    assert learnt.values.tolist() == learnt_from(workshop(), made, tmp_path).values.tolist()


def test_a_strange_case_counts_if_one_says_so(tmp_path: Path) -> None:
    poisoned = lesson("9999", ["pump"], POISON, GRADER)
    learnt = learnt_from(workshop(), [*cases(workshop(), 200, seed=2), poisoned], tmp_path, set_aside=False)
    assert [one.case for one in learnt.suspects if one.aside] == ["9999"]
    link = learnt.numbers.link["pump", "metal"]
    without = learnt_from(workshop(), cases(workshop(), 200, seed=2), tmp_path)
    assert row(learnt, link)[1] < row(without, link)[1]


def test_right_cases_are_hardly_ever_strange() -> None:
    """By Markov's inequality at most once in a hundred where findings are independent given the causes; and five
    in a hundred are beyond the limit that is found by drawing (binomial, four standard errors)."""
    school = School(workshop())
    known = [
        known_of(school, one, place) for place, one in enumerate(cases(workshop(), 5000, seed=4, looked=0.9))
    ]
    found = list(doubts(school.graph, school.graph.numbers.values, known))
    decades = np.array([one.decades for one in found])
    assert (decades >= 1).mean() <= 0.1
    assert (decades >= SURPRISING).mean() <= 0.01
    listed = np.array([one.chance <= limit(found) for one in found])
    assert 0 < listed.mean() < UNLIKELY + 4 * np.sqrt(UNLIKELY / len(found))


def test_one_cause_is_doubted_as_bayes_formula_says() -> None:
    """Where findings are independent given the cause and one cause is there: P(c | seen) / w(c) by hand."""
    base = knowledge(
        cause("a", 0.2, {"f": 0.9}), cause("b", 0.5, {"g": 0.8}), finding("f", 0.1), finding("g", 0.3)
    )
    school = School(base)
    seen = [Observation("f", "absent"), Observation("g", "present")]
    known = known_of(school, lesson("1", ["a"], seen, GRADER))
    (doubt,) = doubts(school.graph, school.graph.numbers.values, [known])
    with_a, with_b = (0.9 * 0.1) * 0.3, 0.9 * (1 - 0.7 * 0.2)
    weight_of_a = 0.25 / (0.25 + 1.0)
    assert 10**doubt.decades == pytest.approx(weight_of_a + (1 - weight_of_a) * with_b / with_a)
    assert doubt.chance == pytest.approx(
        0.25 * with_a / (0.25 * with_a + 1.0 * with_b)
    )  # one in four has a rather than b
    assert doubt.findings[0][0] == school.graph.findings["f"]


def test_wrong_causes_are_noticed_about_as_often_as_is_possible() -> None:
    """No test that says "wrong" of no more right cases finds more causes drawn at random than their posterior
    probability (Neyman & Pearson 1933, from memory), here by the exact engine. One
    thing told twice by a hidden condition costs the quick figures a little."""
    school = School(small())
    graph = school.graph
    made = [one for one in cases(small(), 900, seed=11, looked=0.9) if len(one.confirmed) == 1]
    made = [one for one in made if one.epochs[0].observations]
    quick, exact = [], []
    for said in ([one.confirmed[0].cause for one in made], [OTHER[one.confirmed[0].cause] for one in made]):
        told = [
            replace(one, confirmed=(ConfirmedCause(id, "by sight"),))
            for one, id in zip(made, said, strict=True)
        ]
        known = [known_of(school, one, place) for place, one in enumerate(told)]
        quick.append(np.array([-one.chance for one in doubts(graph, graph.numbers.values, known)]))
        exact.append(np.array([-_chance(graph.network, one) for one in told]))
    possible = _caught(*exact)
    assert 0.4 < possible < 0.95
    assert _caught(*quick) > possible - 0.05


OTHER = {"pump": "seal", "seal": "pump", "debris": "seal"}


def _caught(right: np.ndarray, wrong: np.ndarray) -> float:
    """Share of wrong cases beyond what one right case in twenty reaches."""
    return float((wrong > np.quantile(right, 0.95)).mean())


def _chance(network: Network, one: Lesson) -> float:
    """P(the cause listed | seen, one cause is there)."""
    seen: dict[str, str | int] = {o.finding: o.state for o in one.epochs[0].observations}
    chances = {}
    for id, wrecks in (("pump", ("debris",)), ("seal", ()), ("debris", ())):
        causes = {c: int(c == id) for c in OTHER if c not in wrecks}
        both = posterior(network, hard(network, seen | causes), []).log_probability
        chances[id] = np.exp(both - posterior(network, hard(network, causes), []).log_probability)
    odds = {"pump": 0.2 / 0.8, "seal": 0.3 / 0.7, "debris": 0.05 / 0.95}
    listed = one.confirmed[0].cause
    return float(odds[listed] * chances[listed] / sum(odds[id] * chances[id] for id in odds))


@pytest.mark.parametrize("causes", [["pump"], ["pump", "seal"]])
def test_what_causes_show_is_what_the_engine_says(causes: list[str]) -> None:
    """Where findings hang together through nothing but known causes, the quick figures are exact."""
    school = School(workshop())
    graph = school.graph
    known = known_of(school, lesson("1", causes, [], GRADER))
    evidence = hard(graph.network, {id: int(id in causes) for id in ("pump", "seal")})
    exact = posterior(graph.network, evidence).marginals
    quick = shown(graph, graph.numbers.values, [known])
    for variable in graph.findings.values():
        assert quick[variable][:, 0] == pytest.approx(exact[variable], abs=1e-12)
