"""Information in bits, by the definitions (Shannon 1948, from memory), and results by fault sets, by listing."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from diagnose.network.engine import Outcomes
from diagnose.planning.information import MOST_JOINT, bits, by_fault_sets, entropy, supposing, told_of_causes
from diagnose.planning.information import _quick as quick
from tests.knowledge_by_hand import finding, knowledge


def test_entropy_of_a_coin_and_of_what_is_certain() -> None:
    quarter = 0.25 * 2 + 0.75 * np.log2(4 / 3)
    assert entropy(np.array([0.5, 0.0, 1.0, 0.25])) == pytest.approx([1, 0, 0, quarter])


def test_what_an_answer_tells_of_each_cause_is_summed() -> None:
    """A certain answer on one cause and none on the other: one bit. The other half certain: half a bit more."""
    shares = np.array([0.5, 0.5])
    assert told_of_causes(shares, np.array([[1.0, 0.3], [0.0, 0.3]])) == pytest.approx(1)
    three = told_of_causes(np.array([0.5, 0.25, 0.25]), np.array([[0.5], [1.0], [0.0]]))
    assert three == pytest.approx(0.5)
    assert told_of_causes(shares, np.array([[0.3], [0.3]])) == 0.0


def test_bits_are_what_the_doubt_falls_by_and_never_less_than_none() -> None:
    outcome = Outcomes(np.array([0.5, 0.5]), np.array([[1.0, 0.5, 0.0], [0.5, 0.5, 1.0]]))
    assert bits(outcome, 2.0) == pytest.approx(2 - (0.5 * 1 + 0.5 * 2))
    assert bits(outcome, 1.0) == 0.0


def test_results_by_fault_sets_are_sums_over_these() -> None:
    """Bayes' rule over three sets of faults, each with its chance of each of six joint results; a cause that is in
    none of them keeps its probability, and a result that cannot be divides by nothing."""
    p = np.array([0.5, 0.3, 0.2])
    table = np.array([[0.6, 0.4, 0, 0, 0, 0], [0.1, 0.2, 0.3, 0.2, 0.2, 0], [0, 0, 0, 0.5, 0.5, 0]])
    present = np.array([[1, 0], [0, 1], [1, 1]])
    ids = {"f": ("no", "yes"), "g": ("low", "right", "high")}
    results = [{"f": f, "g": g} for f in ids["f"] for g in ids["g"]]
    plain = knowledge(*(finding(id, [0.1] * (len(states) - 1), *states) for id, states in ids.items()))
    diagnosis = SimpleNamespace(
        knowledge=plain,
        engine=SimpleNamespace(marginals=lambda wanted: {v: np.array([0.9, 0.1]) for v in wanted}),
        built=SimpleNamespace(variable={"a": 7, "b": 8, "c": 9}.__getitem__),
    )
    now = SimpleNamespace(
        problem=SimpleNamespace(tests=[SimpleNamespace(results=table)], probabilities=p),
        results=[results],
        candidates=("a", "b"),
        present=present,
    )
    found = by_fault_sets(cast("Any", diagnosis), cast("Any", now), 0, [8, 9, 7])
    assert found.probabilities == pytest.approx((p @ table).reshape(2, 3))
    for (f, g), alone in np.ndenumerate(found.probabilities):
        joint = p * table[:, 3 * f + g]
        wanted = [joint[[1, 2]].sum(), 0.1 * alone, joint[[0, 2]].sum()] if alone else [0, 0.1, 0]
        assert found.causes[f, g] == pytest.approx(np.array(wanted) / (alone or 1))
    low = p @ (table[:, 0] + table[:, 3])
    told = supposing(cast("Any", diagnosis), cast("Any", now), 0, {"g": "low"}, ["b", "a"])
    both = [p[1] * 0.3 + p[2] * 0.5, p[0] * 0.6 + p[2] * 0.5]
    assert told == pytest.approx(np.array(both) / low)
    told = supposing(cast("Any", diagnosis), cast("Any", now), 0, {"f": "yes", "g": "low"}, ["a"])
    assert told == pytest.approx([p[2] * 0.5 / (p[1] * 0.2 + p[2] * 0.5)])


@pytest.mark.parametrize(
    ("size", "cards", "expands", "kept"),
    [
        (10, (2, 2, 2), 3, 3),  # eight joint results at most
        (10, (2, 2, 2, 2), 4, 3),
        (10, (3, 3), 2, 1),
        (10, (2, 2, 2), 2, 2),  # no more than the tree can join
        (10, (9,), 1, 1),  # one at least
        (1 << 18, (2, 2), 2, 2),
        ((1 << 18) + 1, (2, 2), 2, 1),
    ],
)
def test_as_many_findings_jointly_as_are_quick(
    size: int, cards: tuple[int, ...], expands: int, kept: int
) -> None:
    engine = SimpleNamespace(
        network=SimpleNamespace(cards=cards),
        tree=SimpleNamespace(size=size),
        expands=lambda variables: len(variables) <= expands,
    )
    ids = tuple(f"f{n}" for n in range(len(cards)))
    found = quick(cast("Any", engine), ids, lambda id: int(id[1:]))
    assert (found, MOST_JOINT) == (ids[:kept], 8)
