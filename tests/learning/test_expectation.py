"""Expected counts are exact: against the listing of every hidden contribution, and against closed forms."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from diagnose.cases.case import Epoch, Observation
from diagnose.cases.events import CONFIDENCES
from diagnose.knowledge.machine_facts import Requirement
from diagnose.knowledge.records import Knowledge
from diagnose.learning.counts import UNPROVEN, School, known_of
from diagnose.learning.expect import MISSED, RATIOS, tally_of
from diagnose.learning.groups import ABSENT, EXCLUDED, OPEN, PRESENT, CaseEvidence, grouped
from diagnose.learning.lesson import ConfirmedCause, Lesson
from diagnose.learning.whole_network import Graph
from diagnose.network import buckets, contributions
from diagnose.network.build import build
from diagnose.network.contributions import ContributionTree
from diagnose.network.leaves import Factor
from diagnose.network.machine import Machine
from diagnose.network.network import Network
from diagnose.network.observed import likelihood
from tests.knowledge_by_hand import HERE, cause, condition, finding, knowledge
from tests.learning.brute_force import expected
from tests.learning.worlds import small

LOADER = Machine("LOADER-4")


def lesson(
    causes: Sequence[str], seen: Sequence[tuple[str, ...]], proven: bool = True, machine: Machine = LOADER
) -> Lesson:
    observations = tuple(Observation(*one) for one in seen)  # type: ignore[arg-type]
    found = tuple(ConfirmedCause(id, "by sight") for id in causes)
    return Lesson(
        "1",
        machine,
        epochs=(Epoch(observations=observations),),
        confirmed=found,
        is_closed=True,
        proven=proven,
    )


def likelihoods(network: Network, graph: Graph, known: CaseEvidence) -> dict[int, np.ndarray]:
    """What is known of a case, as weights of the states, for the listing."""
    told = {
        ABSENT: np.array([1.0, 0.0]),
        OPEN: np.array([1.0, MISSED]),
        PRESENT: np.array([0.0, 1.0]),
        EXCLUDED: np.array([1.0, 0.0]),
    }
    names = graph.network.names
    weights = {
        network.index[names[v]]: told[int(known.standing[c])]
        for v, c in graph.cause_of.items()
        if names[v] in network.index
    }
    for variable, (state, confidence) in known.findings.items():
        card = graph.network.cards[variable]
        weights[network.index[names[variable]]] = likelihood(card, state, RATIOS[confidence])
    return weights


CASES = {
    "absent findings only": lesson(["pump"], [("code", "absent"), ("metal", "absent")]),
    "findings with hidden and known parents": lesson(
        ["seal"], [("gauge", "low"), ("code", "present"), ("oil_at_bore", "present")]
    ),
    "two causes, one the other's consequence": lesson(
        ["pump", "debris"], [("metal", "present"), ("gauge", "none")]
    ),
    "a doubtful report": lesson(["pump"], [("gauge", "low", "unsure"), ("metal", "absent", "likely")]),
    "not proven": lesson(["seal"], [("gauge", "none"), ("metal", "present")], proven=False),
    "nothing below the condition": lesson(["pump"], [("metal", "present")]),
}


@pytest.mark.parametrize("which", CASES)
def test_expected_counts_are_those_of_the_listing(which: str) -> None:
    school = School(small())
    known = known_of(school, CASES[which])
    network = build(school.knowledge, LOADER).network
    assert_equal(school, known, network)


def assert_equal(school: School, known: CaseEvidence, network: Network) -> None:
    graph, numbers = school.graph, school.graph.numbers
    listed, _ = expected(network, likelihoods(network, graph, known))
    tally = tally_of(graph, numbers.values, grouped(graph, [known]))
    relevant = {network.names[v] for v in looked_at(network, graph, known)}
    for number, row in enumerate(numbers.rows):
        mine = tally.counts[numbers.start[number] : numbers.start[number + 1]]
        its = listed.get((row.effect, row.parent, row.state), np.zeros(len(mine)))
        if row.kind == "prior" and not graph.parents[graph.variable_of[row.effect]]:
            continue  # roots that are known need no inference; those that are not are tested below
        if row.effect in relevant:
            assert mine == pytest.approx(known.weight * its, abs=1e-12), row
        else:
            assert not mine.any(), row


def looked_at(network: Network, graph: Graph, known: CaseEvidence) -> set[int]:
    """Findings that were looked at, the causes that others bring about, and all above either."""
    names = graph.network.names
    seen = [network.index[names[v]] for v in known.findings]
    caused = [
        network.index[id]
        for id in graph.variable_of
        if id in network.index and network.parents(network.index[id])
    ]
    return network.ancestors([*seen, *caused])


def test_an_unlisted_root_of_an_unproven_case_is_as_likely_as_in_the_listing() -> None:
    school = School(small())
    known = known_of(school, CASES["not proven"])
    network = build(school.knowledge, LOADER).network
    listed, _ = expected(network, likelihoods(network, school.graph, known))
    tally = tally_of(school.graph, school.graph.numbers.values, grouped(school.graph, [known]))
    place = school.graph.numbers.causes.index("pump")
    assert tally.counts[2 * place : 2 * place + 2] == pytest.approx(
        UNPROVEN * listed["pump", "", 0], abs=1e-12
    )


def test_the_logarithm_of_the_probability_is_that_of_the_listing() -> None:
    """With roots known to be there or not, their priors aside, which are counted elsewhere."""
    school = School(small())
    known = known_of(school, CASES["findings with hidden and known parents"])
    network = build(school.knowledge, LOADER).network
    _, probability = expected(network, likelihoods(network, school.graph, known))
    tally = tally_of(school.graph, school.graph.numbers.values, grouped(school.graph, [known]))
    assert tally.log_probability == pytest.approx(np.log(probability / (0.8 * 0.3)), abs=1e-12)


def test_cases_together_tell_what_they_tell_alone() -> None:
    school = School(small())
    graph, values = school.graph, school.graph.numbers.values
    known = [known_of(school, one) for one in CASES.values()]
    together = tally_of(graph, values, grouped(graph, known))
    alone = [tally_of(graph, values, grouped(graph, [one])) for one in known]
    assert together.counts == pytest.approx(sum(one.counts for one in alone), abs=1e-12)
    assert together.log_probability == pytest.approx(sum(one.log_probability for one in alone), abs=1e-12)


def test_what_a_machine_cannot_have_says_nothing_of_what_could_bring_it_about() -> None:
    """A cause below the condition, on heated machines only: that it is absent from others is no evidence."""
    base = knowledge(
        cause("pump", 0.2, {"pressure": 0.5}),
        cause("heater", 0.1, {}, only_if=(Requirement("start_aid", ("heater",), HERE),)),
        condition("pressure", 0.05, {"code": 0.7, "heater": 0.9}),
        finding("code", 0.04),
    )
    machine = Machine("LOADER-4", facts={"start_aid": "none"})
    school = School(base)
    known = known_of(school, lesson(["pump"], [("code", "absent")], machine=machine))
    assert_equal(school, known, build(base, machine).network)


def test_a_condition_that_a_machine_cannot_have_is_left_out() -> None:
    base = small()
    sound = replace(base.conditions["pressure"], only_if=(Requirement("injection", ("common rail",), HERE),))
    base = replace(base, conditions={"pressure": sound})
    machine = Machine("LOADER-4", facts={"injection": "unit injector"})
    school = School(base)
    known = known_of(school, lesson(["pump"], [("code", "present"), ("metal", "present")], machine=machine))
    tally = tally_of(school.graph, school.graph.numbers.values, grouped(school.graph, [known]))
    numbers = school.graph.numbers
    assert not tally.counts[numbers.start[numbers.leak["pressure"]] :][:2].any()
    assert tally.counts[numbers.start[numbers.leak["code"]] :][:2] == pytest.approx([0, 1])


def counts_of(base: Knowledge, one: Lesson, row: Callable[[Graph], int]) -> np.ndarray:
    school = School(base)
    tally = tally_of(
        school.graph, school.graph.numbers.values, grouped(school.graph, [known_of(school, one)])
    )
    start = school.graph.numbers.start
    return tally.counts[start[row(school.graph)] : start[row(school.graph) + 1]]


def test_a_finding_with_one_known_cause_in_closed_form() -> None:
    """Noisy-OR of one cause with strength w and leak l: P(the cause did it | shown) = w / (w + l - w l)."""
    base = knowledge(cause("seal", 0.3, {"oil": 0.9}), finding("oil", 0.08))
    shown = lesson(["seal"], [("oil", "present")])
    did = 0.9 / (0.9 + 0.08 - 0.9 * 0.08)
    assert counts_of(base, shown, lambda g: g.numbers.link["seal", "oil"])[1] == pytest.approx(did, abs=1e-12)
    by_itself = 0.08 / (0.9 + 0.08 - 0.9 * 0.08)
    assert counts_of(base, shown, lambda g: g.numbers.leak["oil"])[1] == pytest.approx(by_itself, abs=1e-12)


def test_every_confidence_has_its_ratio() -> None:
    assert len(RATIOS) == len(CONFIDENCES)
    assert RATIOS[0] == np.inf


# --- many cases in chunks -----------------------------------------------------------------------------------


def _three() -> tuple[ContributionTree, dict[int, np.ndarray], dict[tuple[int, int], float]]:
    """A pair of variables with a table, and weights that differ from case to case."""
    table = np.array([[0.6, 0.1], [0.1, 0.2]])
    tree = ContributionTree([Factor((0, 1), table)], {0: 2, 1: 2})
    weights = {0: np.array([[1.0, 0.2, 0.7, 0.0, 0.4], [0.5, 1.0, 0.1, 1.0, 0.9]])}
    return tree, weights, {(s, t): table[s, t] for s in range(2) for t in range(2)}


def test_every_chunk_of_a_batch_has_its_own_weights(monkeypatch: pytest.MonkeyPatch) -> None:
    """Expectations and marginals of five cases, two at a time, by the sum over the table."""
    tree, weights, table = _three()
    monkeypatch.setattr(contributions, "ROOM", 2 * tree.width)
    monkeypatch.setattr(buckets, "CHUNK", 2 * tree.width)
    found, run = tree.contributions(weights, 5), tree.run(weights, [0, 1], 5)
    for case in range(5):
        joint = np.array([[table[s, t] * weights[0][s, case] for t in range(2)] for s in range(2)])
        assert np.exp(found.log_probability[case]) == pytest.approx(joint.sum(), abs=1e-12)
        assert found.factors[0][..., case] == pytest.approx(joint / joint.sum(), abs=1e-12)
        assert found.marginals[0][:, case] == pytest.approx(joint.sum(axis=1) / joint.sum(), abs=1e-12)
        assert run.marginals[1][:, case] == pytest.approx(joint.sum(axis=0) / joint.sum(), abs=1e-12)
        assert np.exp(run.log_probability[case]) == pytest.approx(joint.sum(), abs=1e-12)
