"""Facts let go, on average: no cause becomes more or less likely by that alone; those that tell are taken back."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from typing import cast

import numpy as np
import pytest

from diagnose.knowledge.records import Knowledge
from diagnose.network import ties
from diagnose.network.buckets import BucketTree
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.engine import Engine, posterior
from diagnose.network.machine import Machine
from diagnose.network.messages import TooWide
from diagnose.network.network import Table
from diagnose.network.observed import hard
from diagnose.network.ties import has_room, loosened, untied, with_room
from tests.knowledge_by_hand import cause, condition, fact, finding, given, knowledge, only, times
from tests.shipped import shipped_knowledge

ROOMY = 1 << 20


def liners() -> Knowledge:
    """A cause that only one kind of machine has, which arises of itself and is brought about too; and one that
    hangs on two facts of which one depends on the other; a third fact decides about another such one. One hangs on
    two facts that both depend on a third, which has no say in it."""
    duty = {"standby": {"genset": 0.9, "truck": 0.1}, "haul": {"genset": 0.05, "truck": 0.95}}
    return knowledge(
        fact("liners", {"wet": 0.6, "dry": 0.4}),
        fact("duty", {"standby": 0.2, "haul": 0.8}),
        given("use", "duty", duty),
        given("fuel", "duty", {"standby": {"gas": 0.7, "oil": 0.3}, "haul": {"gas": 0.1, "oil": 0.9}}),
        cause("mixer", 0.3, {"flat": 0.5}, only_if=only(use=["genset"], fuel=["gas"])),
        cause("pitting", 0.05, {"cracked": 0.3, "loss": 0.4}),
        cause("cracked", 0.04, {"loss": 0.8}, only_if=only(liners=["wet"])),
        cause(
            "charger",
            0.06,
            {"flat": 0.9},
            per="rate",
            only_if=only(use=["genset"]),
            modifiers=times(duty={"standby": 5.0}),
        ),
        cause(
            "belt",
            0.3,
            {"flat": 0.5},
            per="rate",
            only_if=only(liners=["wet"], use=["genset"]),
            modifiers=times(duty={"standby": 7.0}),
        ),
        cause("battery", 0.05, {"flat": 0.7}, modifiers=times(duty={"standby": 2.0})),
        finding("loss", 0.01),
        finding("flat", 0.01),
    )


def frost() -> Knowledge:
    """Two causes that frost brings, each with its own finding; what one of them feeds shows in frost alone."""
    return knowledge(
        fact("weather", {"warm": 0.8, "frost": 0.2}),
        fact("oil", {"thin": 0.5, "thick": 0.5}),
        cause("wax", 0.02, {"plugs": 0.8}, per="rate", modifiers=times(weather={"frost": 30.0})),
        cause("battery", 0.03, {"slow": 0.8}, per="rate", modifiers=times(weather={"frost": 30.0})),
        cause("pump", 0.04, {"dead": 0.5}, modifiers=times(oil={"thick": 1.2})),
        cause("starter", 0.04, {"slow": 0.5}, modifiers=times(oil={"thick": 1.2})),
        condition("plugs", 0.001, {"dead": 0.9}, only_if=only(weather=["frost"])),
        finding("dead", 0.01),
        finding("slow", 0.01),
    )


def chances(built: Built, **seen: str) -> dict[str, float]:
    found = posterior(built.network, hard(built.network, seen)).marginals
    return {id: float(found[built.variable(id)][1]) for id in built.causes}


@pytest.mark.parametrize(
    "gone",
    [
        ("liners",),
        ("use",),
        ("duty",),
        ("use", "duty"),
        ("use", "fuel"),
        ("liners", "use"),
        ("liners", "use", "duty"),
    ],
)
def test_no_cause_becomes_likelier_when_facts_are_let_go(gone: tuple[str, ...]) -> None:
    built = build(liners(), Machine())
    loose = untied(built, [built.network.index[name] for name in gone])
    exact = chances(built)
    for id, chance in chances(loose).items():
        # Two ways to one cause, both behind the same fact, meet a little more often than on average.
        assert chance == pytest.approx(exact[id], rel=0.01 if id == "cracked" else 1e-12), id


def test_a_fact_that_tells_is_kept_where_one_that_hardly_does_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in (("TABLE", 1), ("GROWTH", 1.0), ("SPARE", 0)):
        monkeypatch.setattr(ties, name, value)
    built = build(frost(), Machine())
    found, engine = with_room(built, hard(built.network, {"dead": "present", "slow": "present"}), ROOMY)
    assert {built.network.names[v] for v in found.averaged} == {"oil"}
    exact = chances(built, dead="present", slow="present")
    for id, chance in exact.items():
        assert float(engine.marginal(found.variable(id))[1]) == pytest.approx(chance, abs=ties.PULL)


def test_what_tells_little_is_kept_where_it_costs_little() -> None:
    """There is always room for a small table: so nothing stands on average where all is small."""
    own = knowledge(
        fact("oil", {"thin": 0.5, "thick": 0.5}),
        cause("pump", 0.04, {"dead": 0.5}, modifiers=times(oil={"thick": 1.01})),
        cause("starter", 0.04, {"dead": 0.5}, modifiers=times(oil={"thick": 1.01})),
        finding("dead", 0.01),
    )
    built = build(own, Machine())
    seen = hard(built.network, {"dead": "present"})
    facts = built.shares.keys()
    engine = Engine(untied(built, facts).network, seen)
    assert max(ties.pulls(built, engine, ties._hanging(built, engine, facts), facts).values()) < ties.PULL
    assert with_room(built, seen, ROOMY)[0].averaged == frozenset()


def test_what_frost_brings_and_what_frost_lets_show_are_seen_together() -> None:
    """Messages alone, each by itself, say next to nothing of the fact: only the way from cause to gate does."""
    built = build(frost(), Machine())
    weather = built.network.index["weather"]
    loose = untied(built, built.shares)
    engine = Engine(loose.network, hard(built.network, {"dead": "present"}))
    hanging = ties._hanging(built, engine, built.shares.keys())
    moved = ties.pulls(built, engine, hanging, built.shares.keys())[weather]
    plugs = built.network.index["plugs"]
    exact = posterior(built.network, engine.evidence).marginals[plugs][1] - engine.marginal(plugs)[1]
    assert moved == pytest.approx(float(exact), rel=0.5)
    assert moved > 10 * ties.PULL


def test_what_is_brought_about_needs_the_machine_for_it_too() -> None:
    """Not known which liners: each kind of machine by its share."""
    shares = {"wet": 0.6, "dry": 0.4}
    known = {kind: chances(build(liners(), Machine(facts={"liners": kind}))) for kind in shares}
    assert "cracked" not in known["dry"]
    mixed = chances(build(liners(), Machine()))
    assert mixed["cracked"] == pytest.approx(shares["wet"] * known["wet"]["cracked"], abs=1e-12)


def forest(random: np.random.Generator) -> Knowledge:
    """Seven facts, each but two hanging on an earlier one; each cause asks for values of some of them."""

    def shares() -> dict[str, float]:
        return dict(zip("xyz", random.dirichlet(np.ones(3)).tolist(), strict=True))

    facts = [fact("f0", shares()), fact("f1", shares())]
    for n in range(2, 7):
        facts.append(given(f"f{n}", f"f{random.integers(n)}", {value: shares() for value in "xyz"}))
    asked = [random.choice(7, 3, replace=False) for _ in range(6)]
    return knowledge(
        *facts,
        *(
            cause(
                f"c{n}",
                0.2,
                {"seen": 0.5},
                per="rate",
                only_if=only(**{f"f{v}": random.choice(list("xyz"), 2, replace=False) for v in mine[:2]}),
                modifiers=times(**{f"f{mine[2]}": {"y": float(random.uniform(2, 20))}}),
            )
            for n, mine in enumerate(asked)
        ),
        finding("seen", 0.01),
    )


@pytest.mark.parametrize("seed", range(12))
def test_whatever_is_let_go_each_cause_by_itself_stays_as_likely(seed: int) -> None:
    """Also where two facts of its table hang on one that is let go, or on each other at one remove."""
    random = np.random.default_rng(seed)
    built = build(forest(random), Machine())
    exact = chances(built)
    facts = sorted(built.shares)
    for size in range(1, len(facts)):
        gone = [int(v) for v in random.choice(facts, size, replace=False)]
        assert chances(untied(built, gone)) == pytest.approx(exact, abs=1e-12)


@pytest.mark.parametrize("machine", [Machine(), Machine(facts={"use": "road vehicle"})], ids=["any", "road"])
def test_tables_on_average_are_distributions_where_facts_cannot_be_so_together_too(machine: Machine) -> None:
    """A prediction takes facts as independent of each other; what it multiplies must add up there as well."""
    built = build(shipped_knowledge(), machine)
    for let_go in sorted(built.shares):
        network = untied(built, [let_go]).network
        hanging = [network.families[v] for v in built.network.children[let_go]]
        sums = [one.values.sum(axis=-1) for one in hanging if isinstance(one, Table)]
        assert all(np.allclose(one, 1.0, atol=1e-9) for one in sums), let_go


def test_a_fact_that_is_let_go_still_follows_the_one_it_depends_on() -> None:
    """Nine of ten standby machines drive a generator, whoever forgets what the generator's own wear shows."""
    built = build(liners(), Machine())
    loose = untied(built, [built.network.index["use"]])
    seen = hard(loose.network, {"duty": "standby", "flat": "present"})
    use = posterior(loose.network, seen).marginals[loose.network.index["use"]]
    assert use == pytest.approx([0.9, 0.1], abs=1e-12)


def test_no_room_is_said() -> None:
    built = build(liners(), Machine())
    seen = hard(built.network, {"flat": "present", "loss": "present"})
    tables = Engine(loosened(built, seen).network, seen).tree
    assert has_room(built, seen, tables.width)
    assert not has_room(built, seen, tables.width - 1)
    with_room(built, seen, ROOMY, tables.size)
    for widest, most in ((tables.width - 1, ROOMY), (ROOMY, tables.size - 1)):
        with pytest.raises(TooWide):
            with_room(built, seen, widest, most)


def test_only_what_the_evidence_can_pass_through_is_let_go() -> None:
    """Nothing seen hangs on the liners: there a tie costs nothing."""
    built = build(liners(), Machine())
    seen = hard(built.network, {"loss": "absent"})
    assert {built.network.names[v] for v in loosened(built, seen).averaged} == {"liners"}


def seasons(random: np.random.Generator) -> Knowledge:
    """Facts and what hangs on them make a tree: each cause has its own finding, one fact hangs on the other."""

    def brought(fact: str, *values: str) -> dict[str, object]:
        return {"modifiers": times(**{fact: dict(zip(values, random.uniform(0.2, 20, 2), strict=True))})}

    def shares(*names: str) -> dict[str, float]:
        return dict(zip(names, random.dirichlet(np.ones(len(names))).tolist(), strict=True))

    weather = {season: shares("warm", "wet", "frost") for season in ("spring", "summer", "winter")}
    names = {"wax": "weather", "dust": "season", "belt": "season", "leak": "season"}
    values = {"weather": ("wet", "frost"), "season": ("summer", "winter")}
    return knowledge(
        fact("season", shares(*weather)),
        given("weather", "season", weather),
        *(cause(id, 0.02, {f"{id}_seen": 0.8}, **brought(on, *values[on])) for id, on in names.items()),
        *(finding(f"{id}_seen", float(random.uniform(0.01, 0.1))) for id in names),
    )


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("gone", [("season", "weather"), ("weather",)])
def test_in_a_tree_the_pull_is_what_exact_inference_says(seed: int, gone: tuple[str, ...]) -> None:
    """One round of messages is exact there (Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, ch. 4;
    from memory): a fact's pull is the most that exact inference with the ties moves what hangs on it."""
    random = np.random.default_rng(seed)
    built = build(seasons(random), Machine())
    facts = {built.network.index[name] for name in gone}
    seen = {f"{id}_seen": int(random.integers(2)) for id in ("wax", "dust", "belt", "leak")}
    loose = untied(built, facts)
    engine = Engine(loose.network, hard(built.network, seen))
    exact = posterior(built.network, engine.evidence).marginals
    moved = {
        id: float(np.abs(exact[built.variable(id)] - engine.marginal(built.variable(id))).max())
        for id in built.causes
    }
    told = ties.pulls(built, engine, ties._hanging(built, engine, built.shares.keys()), facts)
    assert told[built.network.index["weather"]] == pytest.approx(moved["wax"], abs=1e-12)
    if "season" in gone:
        assert told[built.network.index["season"]] == pytest.approx(max(moved.values()), abs=1e-12)


def test_what_hangs_on_a_fact_alone_moves_nothing() -> None:
    """A tie of one thing ties nothing together."""
    own = knowledge(
        fact("weather", {"warm": 0.8, "frost": 0.2}),
        cause("wax", 0.02, {"dead": 0.8}, modifiers=times(weather={"frost": 30.0})),
        finding("dead", 0.01),
    )
    built = build(own, Machine())
    facts = built.shares.keys()
    engine = Engine(untied(built, facts).network, hard(built.network, {"dead": "present"}))
    assert list(ties.pulls(built, engine, ties._hanging(built, engine, facts), facts).values()) == [0.0]


def test_how_likely_the_evidence_is_moves_nothing() -> None:
    """What each says of a fact counts by its proportions, however seldom it is said."""
    shares, said = np.array([0.7, 0.3]), [np.array([[0.2, 0.1], [0.4, 0.9]]), np.array([[0.5], [0.1]])]
    after = (shares * [0.5, 0.1]) @ said[0]
    before = shares @ said[0]
    moved = abs(after[0] / after.sum() - before[0] / before.sum())
    for scale in (1.0, 1e-200):
        found = ties._largest_move(shares, [one * scale for one in (*said, np.ones((2, 1)))])
        assert found == pytest.approx(moved, abs=1e-12)


def test_behind_a_gate_rare_causes_count_by_what_feeds_it() -> None:
    """Where everything is rare what feeds the gate adds up: then exact inference says the same to a hundredth."""
    rare = 1e-5
    own = knowledge(
        fact("weather", {"warm": 0.8, "wet": 0.15, "frost": 0.05}),
        cause("wax", rare, {"plugs": 0.8}, modifiers=times(weather={"frost": 20.0, "wet": 3.0})),
        cause("dirt", 6 * rare, {"plugs": 0.8}),
        condition("plugs", 0.0, {"dead": 0.9}, only_if=only(weather=["frost"])),
        finding("dead", 3e-6),
    )
    built = build(own, Machine())
    facts = built.shares.keys()
    engine = Engine(untied(built, facts).network, hard(built.network, {"dead": "present"}))
    hanging = {(one.fact, one.variable): one for one in ties._hanging(built, engine, facts)}
    plugs = built.network.index["plugs"]
    told = ties._through_gate(built, engine, hanging[built.network.index["weather"], plugs], hanging)
    exact = posterior(built.network, engine.evidence).marginals[plugs][1]
    assert told == pytest.approx(exact - engine.marginal(plugs)[1], rel=0.01)


def test_what_a_gated_variable_says_of_its_fact_is_summed_over_what_else_it_hangs_on() -> None:
    """Listed: P(state | fact, open) x P(open) x what the evidence says of the state."""
    own = knowledge(
        fact("weather", {"warm": 0.8, "frost": 0.2}),
        cause("wax", 0.02, {"plugs": [[0.3, 0.6]]}, modifiers=times(weather={"frost": 30.0})),
        condition(
            "plugs",
            [0.1, 0.05],
            {"dead": [[0.2], [0.9]]},
            "free",
            "some",
            "all",
            only_if=only(weather=["frost"]),
        ),
        finding("dead", 0.01),
    )
    built = build(own, Machine())
    index, facts = built.network.index, built.shares.keys()
    engine = Engine(untied(built, facts).network, hard(built.network, {"dead": "present"}))
    (gate,) = (one for one in ties._hanging(built, engine, facts) if one.parents)
    plugs, free = index["plugs"], index["plugs@open"]
    table = built.network.families[plugs]
    opened, now = engine.marginal(free), engine.marginal(plugs)
    shares, order = built.shares[index["weather"]], table.parents.index(index["weather"])
    given = np.moveaxis(table.values, order, 0)  # type: ignore[union-attr]
    states = range(3)
    before = [sum(shares[f] * given[f, o, s] * opened[o] for f in (0, 1) for o in states) for s in states]
    expected = np.zeros((2, 3))
    for f, o, s in product((0, 1), states, states):
        expected[f, s] += given[f, o, s] * opened[o] * now[s] / before[s]
    assert gate.told(engine) == pytest.approx(expected, abs=1e-12)


class Forest:
    """A tree of buckets by its parents: 0 -> 2, 1 -> 2, 2 -> 4, 3 -> 4, and 5 alone."""

    parent: Mapping[int, int] = {0: 2, 1: 2, 2: 4, 3: 4}
    variables = (10, 11, 12, 13, 14, 15)

    def parent_of(self, place: int) -> int | None:
        return self.parent.get(place)


@pytest.mark.parametrize(
    ("starts", "places", "top"),
    [
        ([0], [0], 0),
        ([0, 1], [0, 1, 2], 2),
        ([0, 2], [0, 2], 2),
        ([0, 3], [0, 2, 3, 4], 4),
        ([0, 1, 3], [0, 1, 2, 3, 4], 4),
        ([5], [5], 5),
        ([0, 5], [0, 2, 4, 5], 5),
        ([5, 0, 1], [0, 1, 2, 4, 5], 5),
    ],
)
def test_a_fact_stands_in_the_buckets_up_to_where_its_messages_meet(
    starts: list[int], places: list[int], top: int
) -> None:
    spread = ties._spread(cast("BucketTree", Forest()), starts)
    assert (spread.places, spread.top) == (places, top)


def test_a_fact_is_eliminated_right_after_its_last_bucket() -> None:
    order = ties._order(cast("BucketTree", Forest()), {1: 2, 2: 2, 3: 0, 4: 5})
    assert order == [10, 3, 11, 12, 1, 2, 13, 14, 15, 4]


def crossed(random: np.random.Generator) -> Knowledge:
    """Each of many causes hangs on one of four facts, one of which hangs on another, and each finding on three."""
    names = [f"c{i}" for i in range(12)]
    shares = {"a": {"x": 0.9, "y": 0.1}, "b": {"x": 0.3, "y": 0.7}}
    return knowledge(
        *(fact(f"f{i}", {"a": 0.7, "b": 0.3}) for i in range(3)),
        given("f3", "f0", shares),
        *(
            cause(
                c,
                0.02,
                {f"s{j}": 0.7 for j in random.choice(5, 2, replace=False)},
                modifiers=times(**{f"f{i % 4}": {"b" if i % 4 < 3 else "y": float(random.uniform(3, 20))}}),
            )
            for i, c in enumerate(names)
        ),
        *(finding(f"s{j}", 0.02) for j in range(5)),
    )


@pytest.mark.parametrize("seed", range(5))
def test_with_room_for_all_ties_the_answer_is_exact(seed: int) -> None:
    built = build(crossed(np.random.default_rng(seed)), Machine())
    seen = hard(built.network, {f"s{j}": "present" for j in range(5)})
    found, engine = with_room(built, seen, ROOMY)
    assert found.averaged == frozenset()
    exact = posterior(built.network, seen).marginals
    for id in built.causes:
        assert engine.marginal(built.variable(id)) == pytest.approx(exact[built.variable(id)], abs=1e-12)


@pytest.mark.parametrize("room", [1, 40, 80, 160])
@pytest.mark.parametrize("seed", range(5))
def test_ties_are_taken_back_within_their_room(monkeypatch: pytest.MonkeyPatch, seed: int, room: int) -> None:
    """All of them tell: none of the tables, nor all together, outgrow the room that strong ones have."""
    for name, value in (("PULL", -1.0), ("ROOM", room), ("ROOMS", 6 * room)):
        monkeypatch.setattr(ties, name, value)
    built = build(crossed(np.random.default_rng(seed)), Machine())
    seen = hard(built.network, {f"s{j}": "present" for j in range(5)})
    loose = Engine(loosened(built, seen).network, seen).tree
    tree = with_room(built, seen, ROOMY)[1].tree
    assert tree.width <= max(loose.width, room)
    assert tree.size <= max(loose.size, 6 * room)
    narrow = with_room(built, seen, loose.width)[1].tree
    assert narrow.width <= loose.width


@pytest.mark.parametrize("seed", range(5))
def test_weak_ties_let_all_tables_together_grow_by_their_factor(
    monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    for name, value in (("PULL", 1.0), ("GROWTH", 4.0), ("SPARE", 0)):
        monkeypatch.setattr(ties, name, value)
    built = build(crossed(np.random.default_rng(seed)), Machine())
    seen = hard(built.network, {f"s{j}": "present" for j in range(5)})
    loose = Engine(loosened(built, seen).network, seen).tree
    found, engine = with_room(built, seen, ROOMY)
    assert found.averaged < built.shares.keys()
    assert engine.tree.size <= 4 * loose.size
