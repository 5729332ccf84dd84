"""What planning says of a repair, that the complaint will still be there, against the network after that repair.

The oracle is exact inference apart from planning: the network is built with the repair as one more epoch
(network/build.py, held against enumeration in tests/network/test_epochs.py) and asked for the complaint then.
What remains between the two: sets of more faults than three are fitted by their marginals only; what is repaired
beside the candidates, and the likeliest set only, count on average; a fault brought back through a hidden condition
is taken as if the condition came anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from diagnose.cases.case import Case, Epoch, fold
from diagnose.cases.events import Noted, Opened
from diagnose.cases.scenario import folder, load_folder
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.evidence.renewals import history
from diagnose.knowledge.loader import load
from diagnose.knowledge.observable import observable
from diagnose.knowledge.records import Cure, Knowledge, Repair
from diagnose.network.build import build
from diagnose.network.engine import Engine
from diagnose.network.observed import LIKELIHOOD_RATIOS, likelihood
from diagnose.network.ties import untied
from diagnose.planning.after_repairs import standing
from diagnose.planning.aftermath import Aftermath
from diagnose.planning.planner import Planner
from diagnose.planning.problem import DecisionProblem, Fix
from diagnose.planning.repairs import repair_choices
from diagnose.planning.shop import Shop
from diagnose.planning.situation import Situation, situation
from tests.knowledge_by_hand import HERE, cause, condition, finding, knowledge, number

CLOSE = 0.025
"""Largest error on small networks drawn at random, where all causes are candidates."""


def after_repair(diagnosis: Diagnosis, repairs: Sequence[Repair]) -> float:
    """P(some complaint that stands is still there after these repairs), exact."""
    known, case = diagnosis.knowledge, diagnosis.case
    causes = tuple(dict.fromkeys(cure.cause for repair in repairs for cure in repair.cures))
    later: Case = replace(case, epochs=(*case.epochs, Epoch(tuple(r.id for r in repairs), causes)))
    seen = [item.observation for item in diagnosis.evidence]
    built = build(known, case.machine, history(known, later, seen))
    built = untied(
        built, [built.network.index[diagnosis.built.network.names[v]] for v in diagnosis.built.averaged]
    )
    evidence = {}
    for one in seen:
        states, ratio = observable(known, one.finding).states, LIKELIHOOD_RATIOS[one.confidence]
        evidence[built.variable(one.finding, one.epoch)] = likelihood(
            len(states), states.index(one.state), ratio
        )
    complaints = [built.variable(id) for id in standing(diagnosis)]
    if any(v in evidence for v in complaints):
        return 1.0  # the repair does not act on it
    engine = Engine(built.network, evidence, inside=complaints)
    return 1 - float(engine.given([dict.fromkeys(complaints, 0)], ())[0][0])


def promised(problem: DecisionProblem, fix: int) -> float:
    """P(still broken) as planning has it."""
    start = Planner(problem).start()
    return float(1 - (start.belief @ problem.moves[fix])[0])


def mend(id: str, rng: np.random.Generator, *causes: str) -> Repair:
    cures = tuple(Cure(one, number(float(rng.uniform(0.7, 1.0))), HERE) for one in causes)
    infant = number(float(rng.uniform(0.05, 0.2)))
    return replace(plain_repair(id, cures), infant=infant)


def plain_repair(id: str, cures: tuple[Cure, ...]) -> Repair:
    return Repair(id, id, "test", number(30), (), (), (), cures, None, (), ("Try it.",), (), HERE)


def drawn(seed: int) -> Knowledge:
    """Five causes, one of which wrecks another, hidden conditions shared, a complaint with another cause, two
    findings; a repair of each cause and one of two."""
    rng = np.random.default_rng(seed)

    def p(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    plain = knowledge(
        cause("root", p(0.05, 0.3), {"wrecked": p(0.3, 0.9), "flow_low": p(0.1, 0.9)}),
        cause("wrecked", p(0.02, 0.1), {"flow_low": p(0.3, 1.0), "dead": p(0.3, 1.0)}),
        cause("clogged", p(0.05, 0.3), {"flow_low": p(0.3, 1.0)}),
        cause("wire", p(0.05, 0.3), {"signal_lost": p(0.5, 1.0)}),
        cause("sensor", p(0.05, 0.3), {"signal_lost": p(0.5, 1.0), "dead": p(0.0, 0.5)}),
        condition("flow_low", p(0.0, 0.05), {"dead": p(0.4, 1.0), "gauge_low": p(0.5, 1.0)}),
        condition("signal_lost", p(0.0, 0.05), {"dead": p(0.4, 1.0), "code": p(0.5, 1.0)}),
        finding("dead", p(0.0, 0.05), other=p(0.01, 0.2)),
        finding("gauge_low", p(0.0, 0.05)),
        finding("code", p(0.0, 0.05)),
    )
    repairs = [mend(f"mend_{id}", rng, id) for id in plain.causes]
    repairs.append(mend("mend_both", rng, "wrecked", "clogged"))
    return replace(plain, repairs={one.id: one for one in repairs})


def cases(seed: int) -> Diagnosis:
    """The complaint and, by turns, something found beside it."""
    found = [("gauge_low", "present"), ("gauge_low", "absent"), ("code", "present"), ("code", "absent")]
    beside = [Noted(id, state) for id, state in found[seed % 4 : seed % 4 + 1 + seed % 2]]
    known = drawn(seed)
    return diagnose(known, fold(1, [Opened("M-1"), Noted("dead", "present"), *beside]))


def largest_error(now: Situation, diagnosis: Diagnosis, problem: DecisionProblem) -> float:
    return max(
        abs(promised(problem, number) - after_repair(diagnosis, repairs))
        for number, repairs in enumerate(now.repairs)
    )


@cache
def situations() -> tuple[tuple[Diagnosis, Situation], ...]:
    return tuple((one, situation(one, Shop())) for one in map(cases, range(12)))


def errors(change: str = "") -> list[float]:
    """The largest error in each case, with one thing left out of planning."""
    return [largest_error(now, one, without(now.problem, change)) for one, now in situations()]


def without(problem: DecisionProblem, change: str) -> DecisionProblem:
    past = problem.aftermath
    assert past is not None
    if change == "infant":
        return replace(problem, fixes=tuple(replace(fix, infant=None, anew=0.0) for fix in problem.fixes))
    if change == "something else":
        left = {pair: 0.0 if pair[1] == 0 else p for pair, p in past.left.items()}
        return replace(problem, aftermath=replace(past, left=left))
    if change == "brought back":
        return replace(problem, aftermath=replace(past, brings=past.brings * 0))
    return problem


def test_every_repair_leaves_what_the_network_after_it_says() -> None:
    assert max(errors()) < CLOSE


@pytest.mark.parametrize("change", ["infant", "something else", "brought back"])
def test_with_one_way_left_out_it_does_not(change: str) -> None:
    assert max(errors(change)) > 2 * CLOSE


def test_what_is_left_of_one_fault_by_hand() -> None:
    """One cause (0.2, strength 0.8), another cause (0.1 x 0.9), leak 0.05, a perfect repair: what stays is what
    brings the complaint about without it, 1 - 0.95 x 0.91, of P(complaint) = 1 - 0.95 x 0.91 x (1 - 0.16)."""
    plain = knowledge(cause("pump", 0.2, {"dead": 0.8}), finding("dead", 0.05, other=0.1))
    perfect = plain_repair("new", (Cure("pump", number(1.0), HERE),))
    diagnosis = diagnose(
        replace(plain, repairs={"new": perfect}), fold(1, [Opened("M-1"), Noted("dead", "present")])
    )
    sound = 0.95 * 0.91
    expected = (1 - sound) / (1 - sound * 0.84)
    assert promised(situation(diagnosis, Shop()).problem, 0) == pytest.approx(expected, abs=1e-9)
    assert after_repair(diagnosis, [perfect]) == pytest.approx(expected, abs=1e-9)


@pytest.mark.slow
def test_on_the_shipped_knowledge_the_advised_repair_is_near() -> None:
    """Every sixth worked scenario, the repair that is advised: on average within 0.025, nowhere off by 0.1, and not
    on one side (before something else, new parts and consequences counted: 0.09 too low on average)."""
    known, off = load(), []
    for scenario in load_folder(folder(), known)[::6]:
        diagnosis = diagnose(known, scenario.case())
        best = next(iter(repair_choices(diagnosis, situation(diagnosis, Shop()))), None)
        if best is not None and standing(diagnosis):
            off.append(best.still_broken - after_repair(diagnosis, best.repairs))
    assert len(off) > 10
    assert np.mean(np.abs(off)) < 0.025
    assert (
        np.max(np.abs(off)) < 0.2
    )  # 0.19 and 0.15 too low in two knocks, where what is wrecked follows from its roots
    assert abs(np.mean(off)) < 0.025  # 0.021 too low, of which the two knocks are 0.017


def test_a_new_part_that_fails_beside_the_candidates_by_hand() -> None:
    """One fault, cured for sure, nothing else behind it; the new part brings the complaint about anew in 0.2: then
    something else is there."""
    nothing_left = Aftermath(2, {(1, 0): 0.0}, np.array([1.0]), np.zeros((1, 1)))
    fix = Fix("new", 10.0, 0, np.array([1.0, 0.0]), np.zeros(2), anew=0.2)
    faults = np.array([0, 1, 2])
    problem = DecisionProblem(
        faults, np.array([0, 1.0, 0]), (), (fix,), 100.0, np.zeros(0), aftermath=nothing_left
    )
    np.testing.assert_allclose(problem.moves[0][1], [0.8, 0.0, 0.2], atol=1e-12)
