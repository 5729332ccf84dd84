"""Taking a part out is an intervention: exact posteriors with stretches of time in which a part was out.

The first numbers are worked by closed form and enumeration apart from the program. Drawn knowledge is checked
against enumeration of every mechanism's draw (structural equations, Pearl's do-operator): facts unknown, carried
causes that others bring about and that wreck others, imperfect taking away, what the taking away itself brings,
repairs before and after.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from diagnose.knowledge.away import away_id
from diagnose.knowledge.records import Knowledge
from diagnose.network import pgmpy_bridge as bridge
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.engine import Engine, Posterior, posterior
from diagnose.network.history import History, Renewal, Stretch
from diagnose.network.link_tables import OTHER_STRENGTH
from diagnose.network.machine import Machine
from tests.knowledge_by_hand import cause, condition, fact, finding, knowledge, only, times

Bits = np.ndarray[Any, np.dtype[np.bool_]]


def seen(built: Built, states: Mapping[tuple[str, int], int]) -> Posterior:
    cards = built.network.cards
    evidence = {(v := built.variable(id, epoch)): np.eye(cards[v])[s] for (id, epoch), s in states.items()}
    return posterior(built.network, evidence)


def two_causes() -> Knowledge:
    return knowledge(cause("a", 0.02, {"f": 0.8}), cause("b", 0.01, {"f": 0.6}), finding("f", 0.005))


def part_of_a(epoch: int = 0, effectiveness: float = 1.0) -> Stretch:
    return Stretch("part", epoch, {"a": effectiveness}, ("f",))


@pytest.mark.parametrize(
    ("still_there", "a", "b", "both"),
    [(0, 1.0, 0.004024144869, 0.01582448), (1, 0.02, 0.548769371012, 0.01097)],
)
def test_worked_numbers(still_there: int, a: float, b: float, both: float) -> None:
    built = build(two_causes(), Machine(), History(observed=frozenset({("f", 0)}), away=(part_of_a(),)))
    answer = seen(built, {("f", 0): 1, (away_id("f", "part"), 0): still_there})
    assert answer.marginals[built.variable("a")][1] == pytest.approx(a, abs=1e-11)
    assert answer.marginals[built.variable("b")][1] == pytest.approx(b, abs=1e-11)
    assert np.exp(answer.log_probability) == pytest.approx(both, abs=1e-11)


def test_a_stretch_ends_when_the_part_is_back() -> None:
    """Looked at again with the part back, the sign is there as before: nothing is learnt, nothing is cured."""
    history = History(observed=frozenset({("f", 0)}), away=(part_of_a(),))
    built = build(two_causes(), Machine(), history)
    assert built.variable("f", 0) != built.variable(away_id("f", "part"), 0)
    answer = seen(built, {(away_id("f", "part"), 0): 0, ("f", 0): 1})
    assert answer.marginals[built.variable("a")][1] == pytest.approx(1.0)


def test_what_the_part_does_not_carry_needs_no_copy() -> None:
    whole = knowledge(*two_causes().causes.values(), *two_causes().findings.values(), finding("g", 0.1))
    built = build(whole, Machine(), History(away=(Stretch("part", 0, {"a": 1.0}, ("f", "g")),)))
    assert built.variable(away_id("g", "part"), 0) == built.variable("g")


def test_a_history_without_stretches_has_the_network_of_before() -> None:
    plain, with_part = (
        build(two_causes(), Machine()),
        build(two_causes(), Machine(), History(away=(part_of_a(),))),
    )
    assert not any("@" in name for name in plain.network.names)
    assert {"f@without:part"} <= set(with_part.network.names) - set(plain.network.names)


# ---- two equal parts swapped between two cylinders ----


def test_a_swap_between_two_cylinders() -> None:
    """Injector or cylinder, at places j and k; injectors swapped. The sign at j goes with the part and shows at k,
    or it stays at j. Enumerated over both injectors, both places and the draws of their links; a part's draw moves
    with it."""
    p_injector, p_place, link, leak = 0.03, 0.02, 0.9, 0.004
    mass = {True: 0.0, False: 0.0}
    there = {True: 0.0, False: 0.0}
    for bits in np.ndindex(*(2,) * 10):
        injector_j, injector_k, place_j, place_k, *draws = bits
        chances = (p_injector, p_injector, p_place, p_place, *(link,) * 4, leak, leak)
        p = float(np.prod([c if b else 1 - c for c, b in zip(chances, bits, strict=True)]))
        works_ij, works_ik, works_pj, works_pk, leak_j, leak_k = draws
        at_j = leak_j or (place_j and works_pj) or (injector_j and works_ij)
        at_k = leak_k or (place_k and works_pk) or (injector_k and works_ik)
        swapped_j = leak_j or (place_j and works_pj) or (injector_k and works_ik)
        swapped_k = leak_k or (place_k and works_pk) or (injector_j and works_ij)
        if at_j and not at_k:
            moved = not swapped_j
            assert not moved or swapped_k
            mass[moved] += p
            there[moved] += p * injector_j
    whole = knowledge(
        cause("injector", p_injector, {"rough": link}),
        cause("place", p_place, {"rough": link}),
        finding("rough", leak),
    )
    stretch = Stretch("swap", 0, {"injector": 1.0}, ("rough",))
    built = build(whole, Machine(), History(away=(stretch,)))
    for moved in (True, False):
        answer = seen(built, {("rough", 0): 1, (away_id("rough", "swap"), 0): int(not moved)})
        assert answer.marginals[built.variable("injector")][1] == pytest.approx(
            there[moved] / mass[moved], abs=1e-9
        )


# ---- against enumeration ----


class Drawn:
    """A small knowledge with random numbers, and the same as structural equations over all draws at once."""

    def __init__(self, seed: int, repaired: bool = False):
        rng = np.random.default_rng(seed)
        u = {name: float(rng.uniform(0.05, 0.6)) for name in ("a", "b", "c")}
        w = {name: float(rng.uniform(0.2, 0.95)) for name in ("ac", "ak", "bk", "bf", "cf", "cg", "kf", "kg")}
        leaks = {name: float(rng.uniform(0.01, 0.2)) for name in ("k", "f", "g")}
        share, odds, other = float(rng.uniform(0.2, 0.8)), float(rng.uniform(2, 6)), 0.07
        self.effectiveness = {"a": [1.0, 0.7][seed % 2], "k": [0.8, 1.0][seed // 2 % 2]}
        self.brings = float(rng.uniform(0.1, 0.5)) if seed % 3 == 0 else 0.0
        self.repair = Renewal(0.85, 0.05)
        self.knowledge = knowledge(
            fact("kind", {"old": share, "new": 1 - share}),
            cause("a", u["a"], {"c": w["ac"], "k": w["ak"]}, modifiers=times(kind={"old": odds})),
            cause("b", u["b"], {"k": w["bk"], "f": w["bf"]}, only_if=only(kind=["old"])),
            cause("c", u["c"], {"f": w["cf"], "g": w["cg"]}, modifiers=times(kind={"old": odds})),
            condition("k", leaks["k"], {"f": w["kf"], "g": w["kg"]}),
            finding("f", leaks["f"], other=other),
            finding("g", leaks["g"]),
        )
        rolls = {
            "old": share,
            "other": other * OTHER_STRENGTH,
            **w,
            **{f"leak {n}": p for n, p in leaks.items()},
        }
        rolls |= {"left a": 1 - self.effectiveness["a"], "left k": 1 - self.effectiveness["k"]}
        rolls["brings"] = self.brings
        if repaired:
            rolls |= {"stays": 1 - self.repair.effectiveness, "infant": self.repair.infant, "again": w["ac"]}
        self.bit, self.weight = enumerated(rolls | dict.fromkeys("abc", 0.5))
        for name in ("a", "b", "c"):
            times_as_often = u[name] / (1 - u[name]) * odds
            old = u["b"] if name == "b" else times_as_often / (1 + times_as_often)
            p = np.where(self.bit["old"], old, 0.0 if name == "b" else u[name])
            self.weight = self.weight * np.where(self.bit[name], p, 1 - p) / 0.5

    def causes(self) -> dict[str, Bits]:
        bit = self.bit
        return {"a": bit["a"], "b": bit["b"], "c": bit["c"] | (bit["a"] & bit["ac"])}

    def shown(self, there: Mapping[str, Bits], out: tuple[str, ...] = ()) -> dict[str, Bits]:
        """Condition and findings, with these carried causes and conditions set sound as far as they go."""
        bit = self.bit
        a = there["a"] & bit["left a"] if "a" in out else there["a"]
        c = np.zeros_like(a) if "c" in out else there["c"]
        k = bit["leak k"] | (a & bit["ak"]) | (there["b"] & bit["bk"])
        if "k" in out:  # whatever stands above it there: what is left of it as it was
            k = (bit["leak k"] | (there["a"] & bit["ak"]) | (there["b"] & bit["bk"])) & bit["left k"]
        f = bit["leak f"] | (c & bit["cf"]) | (k & bit["kf"]) | (there["b"] & bit["bf"])
        f |= bit["other"]
        g = bit["leak g"] | (k & bit["kg"]) | (c & bit["cg"])
        if out and self.brings:
            g |= bit["brings"]
        return {"k": k, "f": f, "g": g}

    def stretch(self, out: tuple[str, ...], epoch: int = 0) -> Stretch:
        carried = {id: self.effectiveness.get(id, 1.0) for id in out}
        brings = {"g": (self.brings,)} if self.brings else {}
        return Stretch("part", epoch, carried, ("f", "g"), brings)

    def answer(self, holds: Bits, targets: Mapping[str, Bits]) -> tuple[float, dict[str, float]]:
        p = float(self.weight[holds].sum())
        return p, {id: float(self.weight[holds & bits].sum()) / p for id, bits in targets.items()}


def enumerated(rolls: Mapping[str, float]) -> tuple[dict[str, Bits], np.ndarray[Any, np.dtype[np.float64]]]:
    """Every outcome of these rolls at once, with its weight; what is sure is no roll."""
    open_rolls = [name for name, p in rolls.items() if 0 < p < 1]
    rows = np.indices((2,) * len(open_rolls), dtype=np.int8).reshape(len(open_rolls), -1).astype(bool)
    bit = dict(zip(open_rolls, rows, strict=True))
    weight = np.ones(rows.shape[1])
    for name in open_rolls:
        weight *= np.where(bit[name], rolls[name], 1 - rolls[name])
    return {name: bit.get(name, np.full(rows.shape[1], p >= 1)) for name, p in rolls.items()}, weight


OUT = [("a",), ("c",), ("k",), ("a", "c"), ("a", "k")]


@pytest.mark.parametrize("out", OUT, ids="+".join)
@pytest.mark.parametrize("seed", range(6))
def test_agrees_with_enumeration(seed: int, out: tuple[str, ...]) -> None:
    drawn = Drawn(seed)
    history = History(observed=frozenset({("f", 0), ("g", 0)}), away=(drawn.stretch(out),))
    built = build(drawn.knowledge, Machine(), history)
    there = drawn.causes()
    before, without = drawn.shown(there), drawn.shown(there, out)
    for states in (
        {"f": 1, "f@": 0},
        {"f": 1, "f@": 1},
        {"f": 1, "f@": 0, "g": 1, "g@": 1},
        {"g": 1, "g@": 0},
    ):
        holds = np.ones_like(drawn.bit["a"])
        given = {}
        for name, state in states.items():
            id = name.rstrip("@")
            holds &= (without if name.endswith("@") else before)[id] == bool(state)
            given[away_id(id, "part") if name.endswith("@") else id, 0] = state
        p, expected = drawn.answer(holds, there | {"k": before["k"], "kind": ~drawn.bit["old"]})
        got = seen(built, given)
        assert np.exp(got.log_probability) == pytest.approx(p, rel=1e-9)
        for id, chance in expected.items():
            assert got.marginals[built.variable(id)][1] == pytest.approx(chance, abs=1e-9), id


@pytest.mark.parametrize("epoch", [0, 1])
@pytest.mark.parametrize("seed", range(4))
def test_agrees_with_enumeration_across_a_repair(seed: int, epoch: int) -> None:
    """A part out before or after a repair of another cause; the sign seen before the repair and after it."""
    drawn = Drawn(seed, repaired=True)
    history = History(
        ({"c": drawn.repair},), frozenset({("f", 0), ("f", 1)}), (drawn.stretch(("a",), epoch),)
    )
    built = build(drawn.knowledge, Machine(), history)
    first = drawn.causes()
    bit = drawn.bit
    renewed = (first["c"] & bit["stays"]) | bit["infant"] | (first["a"] & bit["again"])
    later = first | {"c": renewed}
    without = drawn.shown(later if epoch else first, ("a",))
    for still in (0, 1):
        holds = drawn.shown(first)["f"] & drawn.shown(later)["f"] & (without["f"] == bool(still))
        p, expected = drawn.answer(holds, later)
        got = seen(built, {("f", 0): 1, ("f", 1): 1, (away_id("f", "part"), epoch): still})
        assert np.exp(got.log_probability) == pytest.approx(p, rel=1e-9)
        for id, chance in expected.items():
            assert got.marginals[built.variable(id)][1] == pytest.approx(chance, abs=1e-9), id


@pytest.mark.parametrize("seed", range(4))
def test_two_parts_out_one_after_the_other(seed: int) -> None:
    drawn = Drawn(seed)
    one = Stretch("one", 0, {"a": drawn.effectiveness["a"]}, ("f",))
    two = Stretch("two", 0, {"c": 1.0}, ("f",))
    built = build(drawn.knowledge, Machine(), History(observed=frozenset({("f", 0)}), away=(one, two)))
    there = drawn.causes()
    before = drawn.shown(there)["f"]
    drawn.brings = 0.0
    first, second = drawn.shown(there, ("a",))["f"], drawn.shown(there, ("c",))["f"]
    holds = before & first & ~second
    p, expected = drawn.answer(holds, there)
    got = seen(built, {("f", 0): 1, (away_id("f", "one"), 0): 1, (away_id("f", "two"), 0): 0})
    assert np.exp(got.log_probability) == pytest.approx(p, rel=1e-9)
    for id, chance in expected.items():
        assert got.marginals[built.variable(id)][1] == pytest.approx(chance, abs=1e-9), id


@pytest.mark.parametrize("seed", range(3))
def test_agrees_with_pgmpy(seed: int) -> None:
    drawn = Drawn(seed)
    history = History(observed=frozenset({("f", 0)}), away=(drawn.stretch(("a", "c")),))
    built = build(drawn.knowledge, Machine(), history)
    evidence = {
        built.variable("f"): np.array([0.0, 1.0]),
        built.variable(away_id("f", "part")): np.array([1.0, 0.0]),
    }
    targets = [built.variable(id) for id in ("a", "b", "c", "kind")]
    peer = bridge.second_opinion(built.network, evidence, targets)
    own = Engine(built.network, evidence)
    for target in targets:
        np.testing.assert_allclose(own.marginal(target), peer.marginals[target], atol=1e-9)
