"""Links on average where there is no room for all, against exact inference on the same network."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.network.build import build
from diagnose.network.engine import Engine
from diagnose.network.machine import Machine
from diagnose.network.messages import TooWide
from diagnose.network.network import Array
from diagnose.network.observed import one_hot
from diagnose.network.thinning import _Case, thinned
from tests.knowledge_by_hand import cause, condition, finding, knowledge

CAUSES = [f"c{i}" for i in range(6)]
BUILT = build(
    knowledge(
        *(cause(c, 0.02 * (1 + i % 3), {f"k{i % 4}": 0.5, f"f{i % 3}": 0.6}) for i, c in enumerate(CAUSES)),
        condition("k0", 0.001, {"k1": 0.3, "k3": 0.05, "f0": 0.7}),
        condition("k1", 0.001, {"k2": 0.1, "f1": 0.8}),
        condition("k2", 0.001, {"k3": 0.4, "f2": 0.6}),
        condition("k3", 0.001, {"f0": 0.5, "f3": 0.9}),
        *(finding(f"f{i}", 0.01) for i in range(4)),
    ),
    Machine(),
)
ALL = 1 << 20
SIDE = 4
TANGLED = build(
    knowledge(
        *(cause(f"c{i}", 0.02, {f"k0_{i % SIDE}": 0.6, f"k0_{(i + 1) % SIDE}": 0.5}) for i in range(8)),
        *(
            condition(
                f"k{row}_{i}",
                0.001,
                {
                    f"k{row + 1}_{j}" if row < 2 else f"f{j}": (0.7, 0.3, 0.05, 0.1)[(j - i) % SIDE]
                    for j in range(SIDE)
                },
            )
            for row in range(3)
            for i in range(SIDE)
        ),
        *(finding(f"f{i}", 0.01) for i in range(SIDE)),
    ),
    Machine(),
)


def seen(*states: int) -> dict[int, Array]:
    return {BUILT.variable(f"f{i}"): one_hot(2, state) for i, state in enumerate(states)}


def presences(engine: Engine) -> Array:
    return np.array([1 - engine.marginal(BUILT.variable(c))[0] for c in CAUSES])


def test_where_there_is_room_nothing_is_let_go_and_the_answer_is_exact() -> None:
    evidence = seen(1, 1, 0, 1)
    found = thinned(BUILT, evidence, ALL, ALL)
    assert (found.links, found.error, found.strongest) == (frozenset(), 0.0, 0.0)
    assert presences(found.engine) == pytest.approx(presences(Engine(BUILT.network, evidence)), abs=1e-12)


@pytest.mark.parametrize("states", [(1, 1, 0, 1), (1, 0, 0, 1), (0, 1, 1, 0), (1, 1, 1, 1)])
def test_a_link_on_average_costs_about_what_is_told(states: tuple[int, ...]) -> None:
    """Each link alone: what taking it back moves at its ends is what exact inference says with it, nearly; and it
    is of its size, neither nothing nor far too much."""
    evidence = seen(*states)
    case = _Case(BUILT, evidence, ALL, ALL)
    exact = Engine(BUILT.network, evidence)
    for link in case.links:
        _, engine = case.without([link])
        told = case.pulls(engine, [link])[link]
        moved = max(float(np.abs(engine.marginal(v) - exact.marginal(v)).max()) for v in link)
        assert told >= moved / 3 - 0.002
        assert told <= 12 * moved + 0.02


def test_causes_stay_as_likely_before_anything_is_seen() -> None:
    """A link on average forgets only that the one speaks of the other."""
    evidence = {BUILT.variable("f2"): np.array([1.0, 1.0])}  # says nothing
    case = _Case(BUILT, evidence, ALL, ALL)
    _, engine = case.without(case.links)
    for id in ("k3", "k2", "f2"):
        known = Engine(BUILT.network, {}).marginals([BUILT.variable(id)])[BUILT.variable(id)]
        assert engine.marginal(BUILT.variable(id)) == pytest.approx(
            known, abs=0.02
        )  # a mechanism's causes share causes of their own


def test_what_matters_most_is_kept() -> None:
    """With half the room, the answer stays as near as the error says."""
    evidence = {TANGLED.variable(f"f{i}"): one_hot(2, int(i < 3)) for i in range(SIDE)}
    exact = Engine(TANGLED.network, evidence)
    found = thinned(TANGLED, evidence, exact.tree.width // 2, ALL)
    assert found.links
    causes = [TANGLED.variable(id) for id in TANGLED.causes]
    off = max(abs(found.engine.marginal(v)[0] - exact.marginal(v)[0]) for v in causes)
    assert off <= found.error <= 4 * off


def test_no_room_at_all_is_said() -> None:
    with pytest.raises(TooWide):
        thinned(BUILT, seen(1, 1, 0, 1), 1, ALL)


def test_all_tables_together_stay_within_their_bound() -> None:
    evidence = {TANGLED.variable(f"f{i}"): one_hot(2, int(i < 3)) for i in range(SIDE)}
    most = Engine(TANGLED.network, evidence).tree.size // 2
    found = thinned(TANGLED, evidence, ALL, most)
    assert found.links
    assert found.engine.tree.size <= most


def test_at_a_hub_the_pull_on_a_cause_is_what_exact_inference_says() -> None:
    """Also where what is seen elsewhere speaks for the effect; only that the average stands in the leak is left."""
    causes = [cause(f"c{i}", 0.05, {"k": 0.5} | ({"g": 0.9} if i == 1 else {})) for i in range(8)]
    world = build(
        knowledge(*causes, condition("k", 0.001, {"f": 0.8}), finding("f", 0.01), finding("g", 0.01)),
        Machine(),
    )
    evidence = {world.variable(id): one_hot(2, 1) for id in "fg"}
    case = _Case(world, evidence, ALL, ALL)
    link = (world.variable("c0"), world.variable("k"))
    _, engine = case.without([link])
    told = case.pulls(engine, [link])[link]
    exact = Engine(world.network, evidence).marginal(link[0])[1]
    assert told == pytest.approx(abs(exact - engine.marginal(link[0])[1]), rel=0.1)


def test_a_cause_that_only_the_link_ties_in_counts_as_likely_as_what_it_comes_from_makes_it() -> None:
    """Dust is not seen itself, and leads to nothing else; but the open duct that lets it in was found."""
    others = [cause(f"o{i}", 0.1, {"k": 0.3}) for i in range(8)]
    duct, dust = cause("duct", 0.05, {"dust": 0.9, "g": 0.9}), condition("dust", 0.01, {"k": 0.8})
    below = condition("k", 0.01, {"f": 0.9}), finding("f", 0.01), finding("g", 0.01)
    world = build(knowledge(duct, *others, dust, *below), Machine())
    evidence = {world.variable("f"): one_hot(2, 0), world.variable("g"): one_hot(2, 1)}
    case = _Case(world, evidence, ALL, ALL)
    link = (world.variable("dust"), world.variable("k"))
    _, engine = case.without([link])
    assert link[0] not in engine.region
    moved = abs(float(Engine(world.network, evidence).marginal(link[1])[1] - engine.marginal(link[1])[1]))
    assert moved <= case.pulls(engine, [link])[link] <= 4 * moved
