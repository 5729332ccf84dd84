"""Unlikely causes counted few at a time, against exact inference on the same network."""

from __future__ import annotations

from itertools import combinations
from math import exp

import numpy as np
import pytest

from diagnose.network import rare
from diagnose.network.build import build
from diagnose.network.compiling import hub_of
from diagnose.network.engine import Engine
from diagnose.network.machine import Machine
from diagnose.network.messages import TooWide
from diagnose.network.network import Array
from diagnose.network.observed import one_hot
from diagnose.network.rare import _Parted, few_at_a_time
from tests.knowledge_by_hand import cause, condition, finding, knowledge

CAUSES = [f"c{i}" for i in range(10)]
WHOLE = knowledge(
    *(cause(c, 0.01 * (1 + i % 4), {"k": 0.5, "m": 0.1 * i, f"f{i % 3}": 0.8}) for i, c in enumerate(CAUSES)),
    condition("k", 0.01, {"vague": 0.9, "f1": 0.3}),
    condition("m", 0.01, {"vague": 0.8, "f0": 0.4}),
    finding("vague", 0.02),
    *(finding(f"f{i}", 0.01) for i in range(3)),
)
BUILT = build(WHOLE, Machine())
SEEN = {"vague": 1, "f0": 1, "f1": 1, "f2": 0}


def evidence(**doubtful: float) -> dict[int, Array]:
    certain = {BUILT.variable(id): one_hot(2, state) for id, state in SEEN.items()}
    return certain | {BUILT.variable(id): np.array([1.0, ratio]) for id, ratio in doubtful.items()}


@pytest.mark.parametrize("doubtful", [{}, {"f1": 3.0}])
def test_each_set_weighs_what_exact_inference_says(doubtful: dict[str, float]) -> None:
    """P(evidence, exactly this set) / P(evidence, none of them), all sets of up to three of six unlikely causes."""
    seen = evidence(**doubtful)
    counted = [BUILT.variable(c) for c in CAUSES[4:]]
    parted = _Parted(BUILT, seen, frozenset(counted), 1 << 16)
    sets = [s for size in range(4) for s in combinations(counted, size)]
    asked = [BUILT.variable(c) for c in CAUSES[:4]]
    weights, present = parted.weighed(sets, asked)

    def exactly(chosen: tuple[int, ...]) -> Engine:
        return Engine(BUILT.network, seen | {v: one_hot(2, int(v in chosen)) for v in counted})

    none = exactly(()).log_probability
    for column, chosen in enumerate(sets):
        engine = exactly(chosen)
        assert weights[column] == pytest.approx(exp(engine.log_probability - none), rel=1e-9)
        for v in asked:
            assert present[v][column] == pytest.approx(1 - engine.marginal(v)[0], abs=1e-12)


@pytest.mark.parametrize("count", [2, 5])
def test_the_error_told_covers_the_error_made(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rare, "EXACT", (count,))
    exact = Engine(BUILT.network, evidence())
    found = few_at_a_time(BUILT, evidence(), 1 << 16).presences
    for c in CAUSES:
        v = BUILT.variable(c)
        assert found.of[v] == pytest.approx(1 - exact.marginal(v)[0], abs=4 * found.error + 0.004)
    assert found.error < 0.02


def test_all_causes_exact_is_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rare, "EXACT", (12,))
    exact = Engine(BUILT.network, evidence())
    found = few_at_a_time(BUILT, evidence(), 1 << 16)
    assert found.rare == frozenset()
    assert found.presences.error == 0
    for c in CAUSES:
        assert found.presences.of[BUILT.variable(c)] == pytest.approx(
            1 - exact.marginal(BUILT.variable(c))[0], abs=1e-12
        )


def test_draws_that_say_too_little_tell_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without any cause in the tree, nearly no set drawn explains what was seen."""
    monkeypatch.setattr(rare, "EXACT", (0,))
    with pytest.raises(TooWide):
        few_at_a_time(BUILT, evidence(), 1 << 16)


def test_more_draws_come_closer(monkeypatch: pytest.MonkeyPatch) -> None:
    """The standard error falls as the root of the draws."""
    monkeypatch.setattr(rare, "EXACT", (2,))
    errors = []
    for draws in (64, 1024):
        monkeypatch.setattr(rare, "DRAWS", draws)
        errors.append(few_at_a_time(BUILT, evidence(), 1 << 16).presences.error)
    assert errors[1] < errors[0] / 2.5


def test_an_opening_says_what_one_more_contribution_makes_of_the_evidence() -> None:
    """The derivative at a hub, by which unlikely causes are ranked, against the evidence with it come in."""
    seen, counted = evidence(), [BUILT.variable(c) for c in CAUSES]
    parted = _Parted(BUILT, seen, frozenset(counted), 1 << 16)
    hub = hub_of(BUILT.network, BUILT.variable("k"))
    brought = np.array([0.3, 0.7])
    beliefs = parted.engine.tree.run({hub: brought[:, None]}, [], 1)
    ratio = exp(float(beliefs.log_probability[0]) - parted.engine.tree_log_probability)
    assert float(brought @ parted.engine.tree.openings([hub])[hub]) == pytest.approx(ratio, rel=1e-12)
    assert ratio > 1.5
