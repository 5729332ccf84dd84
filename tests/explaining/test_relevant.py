"""The most relevant explanation: worked numbers on a published network, and its definition by enumeration."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from diagnose.explaining.relevant import Statement, best_explanations, joint, statements, undominated
from diagnose.network.engine import Engine
from tests.explaining.asia import asia, engine
from tests.explaining.small import diagnosed
from tests.network.bruteforce import joint as everything
from tests.oracles.peers import worked

ORACLE = worked()["most_relevant"]


def found() -> tuple[Statement, ...]:
    asked = engine(ORACLE["evidence"])
    over = [asked.network.index[name] for name in ORACLE["over"]]
    return statements(joint(asked, over), joint(Engine(asked.network, {}, inside=over), over))


def says(states: dict[str, str]) -> tuple[int | None, ...]:
    return tuple({"yes": 1, "no": 0, None: None}[states.get(name)] for name in ORACLE["over"])


def near(value: float) -> Any:
    return pytest.approx(value, rel=1e-7)


def test_the_best_statement_and_the_next() -> None:
    best, second = found()[:2]
    assert (best.states, best.factor) == (says(ORACLE["best"]["states"]), near(ORACLE["best"]["factor"]))
    assert best.probability == near(ORACLE["best"]["probability"])
    assert (second.states, second.factor) == (
        says(ORACLE["second"]["states"]),
        near(ORACLE["second"]["factor"]),
    )


def test_the_most_probable_explanation_is_another_and_longer_one() -> None:
    full = [one for one in found() if None not in one.states]
    likeliest = max(full, key=lambda one: one.probability)
    assert likeliest.states == says(ORACLE["most_probable"]["states"])
    assert likeliest.probability == near(ORACLE["most_probable"]["probability"])


def test_what_the_best_makes_needless_is_left_away() -> None:
    kept = undominated(found())
    assert kept[0].states == says(ORACLE["best"]["states"])
    assert says(ORACLE["second"]["states"]) not in [one.states for one in kept]


def test_every_factor_is_how_much_likelier_the_evidence_is_with_the_statement_than_without() -> None:
    network = asia()
    whole = everything(network)
    seen = np.zeros_like(whole)
    at = {network.index[name]: ("no", "yes").index(state) for name, state in ORACLE["evidence"].items()}
    cut = tuple(at.get(v, slice(None)) for v in range(len(network.names)))
    seen[cut] = whole[cut]
    for one in found():
        held = tuple(
            slice(None)
            if name not in ORACLE["over"] or (s := one.states[ORACLE["over"].index(name)]) is None
            else s
            for name in network.names
        )
        likely = seen[held].sum() / whole[held].sum()
        otherwise = (seen.sum() - seen[held].sum()) / (1 - whole[held].sum())
        assert one.factor == near(float(likely / otherwise))


def test_one_more_cause_must_explain_better_by_the_gain() -> None:
    """By hand: the pair explains 1.5 times as well as its first cause, the triple 4 times as well as the pair."""
    one, pair = Statement((1, None, None), 10.0, 0.5), Statement((1, 1, None), 15.0, 0.2)
    triple = Statement((1, 1, 1), 60.0, 0.1)
    assert undominated([pair, one]) == (pair,)
    assert undominated([pair, one], 2.0) == (one,)
    assert undominated([triple, pair, one], 2.0) == (triple,)


def test_two_faults_that_each_have_a_sign_of_their_own_explain_all_only_together() -> None:
    """A worn pump sheds metal but spills no oil at a bore; the seal does that, and sheds nothing."""
    diagnosis = diagnosed(("metal_in_filter", "present"), ("oil_at_bore", "present"))
    assert set(best_explanations(diagnosis)[0].causes) == {"pump_worn", "seal_out"}
    alone = diagnosed(("no_start", "present"), ("metal_in_filter", "present"), ("oil_at_bore", "absent"))
    assert best_explanations(alone)[0].causes == ("pump_worn",)


def test_a_finding_that_says_nothing_is_explained_by_nothing() -> None:
    assert best_explanations(diagnosed(("no_start", "absent"))) == ()
