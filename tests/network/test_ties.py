"""Facts let go, on average: no cause becomes more or less likely by that alone; those that tell are taken back."""

from __future__ import annotations

import pytest

from diagnose.knowledge.records import Knowledge
from diagnose.network import ties
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.engine import Engine, posterior
from diagnose.network.machine import Machine
from diagnose.network.observed import hard
from diagnose.network.ties import untied, with_room
from tests.knowledge_by_hand import cause, condition, fact, finding, given, knowledge, only, times

ROOMY = 1 << 20


def liners() -> Knowledge:
    """A cause that only one kind of machine has, which arises of itself and is brought about too; and one that
    hangs on two facts of which one depends on the other."""
    duty = {"standby": {"genset": 0.9, "truck": 0.1}, "haul": {"genset": 0.05, "truck": 0.95}}
    return knowledge(
        fact("liners", {"wet": 0.6, "dry": 0.4}),
        fact("duty", {"standby": 0.2, "haul": 0.8}),
        given("use", "duty", duty),
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
    "gone", [("liners",), ("use",), ("duty",), ("use", "duty"), ("liners", "use", "duty")]
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
