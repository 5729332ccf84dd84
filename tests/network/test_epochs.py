"""Repairs split time: exact posteriors over two and more epochs.

Persistence across an intervention: Breese & Heckerman, UAI 1996 (abstract read). The numbers of the table are
constructed, derived two ways (enumeration and closed form); "redrawn" noise is not offered by the program.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from diagnose.knowledge.records import Knowledge
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.engine import Posterior, posterior
from diagnose.network.history import History, Renewal
from diagnose.network.machine import Machine
from tests.knowledge_by_hand import cause, condition, finding, knowledge


def seen(built: Built, states: dict[tuple[str, int], int]) -> Posterior:
    network = built.network
    evidence = {}
    for (id, epoch), state in states.items():
        variable = built.variable(id, epoch)
        evidence[variable] = np.eye(network.cards[variable])[state]
    return posterior(network, evidence)


@pytest.fixture
def two_causes() -> Knowledge:
    return knowledge(cause("a", 0.10, {"c": 0.9}), cause("b", 0.04, {"c": 0.7}), finding("c", 0.02))


@pytest.mark.parametrize(
    ("effectiveness", "persists", "b_after", "a_still"),
    [(1.0, 0.356235319561, 0.595278246206, 0.0), (0.95, 0.388423553582, 0.546971263483, 0.087454559093)],
)
def test_replaced_and_the_complaint_persists(
    two_causes: Knowledge, effectiveness: float, persists: float, b_after: float, a_still: float
) -> None:
    before = build(two_causes, Machine())
    first = seen(before, {("c", 0): 1})
    assert np.exp(first.log_probability) == pytest.approx(0.1331704, abs=1e-12)
    assert first.marginals[before.variable("a")][1] == pytest.approx(0.679388212396, abs=1e-11)
    assert first.marginals[before.variable("b")][1] == pytest.approx(0.220006848369, abs=1e-11)

    history = History(({"a": Renewal(effectiveness)},), frozenset({("c", 0)}))
    after = build(two_causes, Machine(), history)
    both = seen(after, {("c", 0): 1, ("c", 1): 1})
    assert np.exp(both.log_probability - first.log_probability) == pytest.approx(persists, abs=1e-11)
    assert both.marginals[after.variable("b")][1] == pytest.approx(b_after, abs=1e-11)
    assert both.marginals[after.variable("a")][1] == pytest.approx(a_still, abs=1e-11)


def test_perfect_repair_is_the_cause_ruled_out(two_causes: Knowledge) -> None:
    history = History(({"a": Renewal(1.0)},), frozenset({("c", 0)}))
    after = build(two_causes, Machine(), history)
    persisting = seen(after, {("c", 0): 1, ("c", 1): 1})
    plain = build(two_causes, Machine())
    ruled_out = seen(plain, {("a", 0): 0, ("c", 0): 1})
    assert persisting.marginals[after.variable("b")] == pytest.approx(
        ruled_out.marginals[plain.variable("b")]
    )


def test_a_cured_complaint_points_back_to_what_was_replaced(two_causes: Knowledge) -> None:
    """The complaint gone after the repair of A: A it was, B stays as rare as it was or rarer."""
    after = build(two_causes, Machine(), History(({"a": Renewal(1.0)},), frozenset({("c", 0)})))
    cured = seen(after, {("c", 0): 1, ("c", 1): 0})
    assert cured.marginals[after.variable("a", 0)][1] == pytest.approx(1.0, abs=1e-12)
    assert cured.marginals[after.variable("b")][1] < 0.04


def test_untouched_findings_are_one_variable(two_causes: Knowledge) -> None:
    history = History(({"b": Renewal(1.0)},), frozenset({("d", 0)}))
    whole = knowledge(*two_causes.causes.values(), *two_causes.findings.values(), finding("d", 0.1))
    built = build(whole, Machine(), history)
    assert built.variable("d", 0) == built.variable("d", 1)


def test_what_is_told_of_the_past_says_the_same_before_and_after_a_repair(two_causes: Knowledge) -> None:
    """Washed lately, asked for only after the first repair, speaks of the machine as it came in."""
    washed = replace(finding("washed", 0.05), past=True)
    a, b = two_causes.causes["a"], cause("b", 0.04, {"c": 0.7, "washed": 0.8})
    whole = knowledge(a, b, *two_causes.findings.values(), washed)
    repairs = ({"b": Renewal(1.0)},)
    told_first = build(whole, Machine(), History(repairs, frozenset({("c", 0), ("washed", 0)})))
    told_later = build(whole, Machine(), History(repairs, frozenset({("c", 0), ("washed", 1)})))
    first = seen(told_first, {("c", 0): 1, ("washed", 0): 1})
    later = seen(told_later, {("c", 0): 1, ("washed", 1): 1})
    for id, epoch in product("ab", (0, 1)):
        now, then = told_later.variable(id, epoch), told_first.variable(id, epoch)
        assert later.marginals[now] == pytest.approx(first.marginals[then], abs=1e-12)
    assert later.marginals[told_later.variable("b", 0)][1] > 0.5


def test_what_is_told_at_a_comeback_speaks_of_the_machine_as_it_came_back(two_causes: Knowledge) -> None:
    washed = replace(finding("washed", 0.05), past=True)
    whole = knowledge(
        cause("a", 0.1, {"washed": 0.9}), two_causes.causes["b"], *two_causes.findings.values(), washed
    )
    repairs = ({"a": Renewal(1.0)}, {"a": Renewal(1.0)})
    seen_at = frozenset({("washed", 0), ("washed", 1), ("washed", 2)})
    built = build(whole, Machine(), History(repairs, seen_at, visits=(0, 1)))
    at = [built.variable("washed", epoch) for epoch in range(3)]
    assert at[0] != at[1] == at[2]


def brute_force(
    priors: tuple[float, float], repairs: list[dict[int, Renewal]], seen_at: list[int], observed: list[int]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """P(cause present at the end | the complaint's states in the epochs), inhibitors enumerated.

    Causes 0 and 1 with links 0.9 and 0.7 and leak 0.02 to the complaint; the inhibitors are drawn once.
    """
    strengths = (0.9, 0.7)
    total = np.zeros(2)
    mass = 0.0
    for state in product((0, 1), repeat=2):
        for open0, open1, leak in product((0, 1), repeat=3):
            p = float(np.prod([q if s else 1 - q for q, s in zip(priors, state, strict=True)]))
            p *= strengths[0] if open0 else 1 - strengths[0]
            p *= strengths[1] if open1 else 1 - strengths[1]
            p *= 0.02 if leak else 0.98
            for weight, path in paths(state, repairs):
                shown = [int(leak or (path[t][0] and open0) or (path[t][1] and open1)) for t in seen_at]
                if shown == observed:
                    mass += p * weight
                    total += p * weight * np.array(path[-1])
    return total / mass


def paths(
    state: tuple[int, ...], repairs: list[dict[int, Renewal]]
) -> list[tuple[float, list[tuple[int, ...]]]]:
    found: list[tuple[float, list[tuple[int, ...]]]] = [(1.0, [state])]
    for repair in repairs:
        longer = []
        for weight, path in found:
            for after in product((0, 1), repeat=2):
                p = weight
                for i in (0, 1):
                    if i not in repair:
                        p *= after[i] == path[-1][i]
                        continue
                    gone = (1 - repair[i].infant) * (repair[i].effectiveness if path[-1][i] else 1)
                    p *= 1 - gone if after[i] else gone
                if p:
                    longer.append((p, [*path, after]))
        found = longer
    return found


@pytest.mark.parametrize("observed", [[1, 1, 1, 1], [1, 1, 1, 0], [1, 0, 0, 1], [1, 1, 0, 0]])
def test_many_epochs_against_enumeration(two_causes: Knowledge, observed: list[int]) -> None:
    """Three repairs, with ineffective repair and infant failure."""
    numbered = [{0: Renewal(0.9, 0.05)}, {1: Renewal(0.8)}, {0: Renewal(0.7, 0.02), 1: Renewal(0.95, 0.01)}]
    named = tuple({"ab"[i]: renewal for i, renewal in repair.items()} for repair in numbered)
    history = History(named, frozenset(("c", t) for t in range(4)))
    built = build(two_causes, Machine(), history)
    found = seen(built, {("c", t): state for t, state in enumerate(observed)})
    expected = brute_force((0.10, 0.04), numbered, [0, 1, 2, 3], observed)
    assert [found.marginals[built.variable(id)][1] for id in "ab"] == pytest.approx(expected, abs=1e-12)


def test_ordered_states_through_a_condition_keep_their_noise() -> None:
    """Nothing was repaired that matters: the same reading again is no news, a different one impossible."""
    whole = knowledge(
        cause("a", 0.2, {"k": [[0.5, 0.3]]}),
        cause("b", 0.1, {"k": [[0.2, 0.6]]}),
        condition("k", [0.02, 0.01], {"f": [[0.7, 0.1], [0.2, 0.75]]}, "normal", "low", "none"),
        finding("f", [0.03, 0.01], "normal", "low", "none"),
    )
    history = History(({"a": Renewal(1.0)},), frozenset({("f", 0)}))
    built = build(whole, Machine(), history)
    plain = build(whole, Machine())
    for state in (0, 1, 2):
        persisting = seen(built, {("f", 0): 2, ("f", 1): state}).marginals[built.variable("b")]
        if state == 2:
            expected = seen(plain, {("a", 0): 0, ("f", 0): 2}).marginals[plain.variable("b")]
            assert persisting == pytest.approx(expected, abs=1e-12)


def test_a_consequence_stays_when_its_root_is_replaced() -> None:
    """Debris from a pump does not leave with the pump (common practice)."""
    whole = knowledge(
        cause("pump", 0.05, {"debris": 0.6, "low": 0.9}),
        cause("debris", 0.001, {"low": 0.5}),
        finding("low", 0.01),
    )
    history = History(({"pump": Renewal(1.0)},), frozenset({("low", 0)}))
    built = build(whole, Machine(), history)
    found = seen(built, {("low", 0): 1, ("low", 1): 1})
    assert found.marginals[built.variable("debris")][1] > 0.3
    assert found.marginals[built.variable("pump")][1] == 0
