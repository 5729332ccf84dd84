"""Machine facts as variables: against listing every machine, and against pgmpy and pyAgrum.

Listing: each machine there can be, with its facts, weighs by its shares; on each of them every fact is known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from diagnose.knowledge.records import Cause, Knowledge
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.engine import Engine, posterior
from diagnose.network.facts import Facts, ImpossibleFacts
from diagnose.network.machine import Machine
from diagnose.network.network import Array
from diagnose.network.observed import ImpossibleEvidence
from diagnose.network.pgmpy_bridge import second_opinion
from diagnose.network.ties import untied
from tests.knowledge_by_hand import cause, condition, fact, finding, given, knowledge, only, times
from tests.oracles.peers import agrum_posterior
from tests.shipped import shipped_knowledge

PUMP = {"pump": {"mechanical": 0.1, "electronic": 0.9}, "rail": {"mechanical": 0.0, "electronic": 1.0}}


def test_facts_are_summed_in_the_order_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not in that of a set, which differs from run to run, and with it the last digit of a sum."""
    names = [f"f{n}" for n in range(8)]
    facts = Facts({id: fact(id, {"a": 0.3, "b": 0.7}) for id in names}, {})
    asked, above = list[list[str]](), Facts.above

    def listened(self: Facts, wanted: Iterable[str]) -> list[str]:
        asked.append(list(wanted))
        return above(self, asked[-1])

    monkeypatch.setattr(Facts, "above", listened)
    facts.joint(tuple(facts.variables(id)[0] for id in names))
    assert asked == [names]


def whole() -> Knowledge:
    """A fact on which another depends, one of which several values can hold, gates on each kind of record."""
    return knowledge(
        fact("injection", {"pump": 0.3, "rail": 0.7}),
        given("control", "injection", PUMP),
        fact("work", {"none": 0.0, "injectors": 0.05, "wiring": 0.02}, several=True),
        fact("weather", {"warm": 0.8, "frost": 0.2}),
        cause(
            "rail_leak", 0.05, {"pressure": 0.8, "smoke": 0.3}, per="rate", only_if=only(injection=["rail"])
        ),
        cause("wire", 0.1, {"code": 0.9, "dead": 0.4}, per="rate", modifiers=times(work={"wiring": 20.0})),
        cause("seal", 0.08, {"pressure": 0.5, "wire": 0.2}, modifiers=times(work={"injectors": 9.0})),
        cause(
            "wax", 0.02, {"dead": 0.7, "pressure": 0.6}, per="rate", modifiers=times(weather={"frost": 30.0})
        ),
        cause("governor", 0.04, {"dead": 0.3}, per="rate", only_if=only(control=["mechanical"])),
        condition("pressure", 0.01, {"smoke": 0.6, "gauge": 0.9}),
        finding("smoke", 0.02),
        finding("gauge", 0.005),
        finding("dead", 0.01, other=0.02),
        finding("code", 0.004, clears=("pressure",), only_if=only(control=["electronic"])),
    )


def machines(own: Knowledge, known: Mapping[str, str]) -> Iterator[tuple[float, dict[str, str]]]:
    """Every machine with these facts: its share, and all its facts."""
    for injection, control, weather in product(
        ("pump", "rail"), ("mechanical", "electronic"), ("warm", "frost")
    ):
        for injectors, wiring in product((0, 1), repeat=2):
            facts = {"injection": injection, "control": control, "weather": weather}
            share = {"pump": 0.3, "rail": 0.7}[injection] * PUMP[injection][control]
            share *= {"warm": 0.8, "frost": 0.2}[weather]
            share *= (0.05 if injectors else 0.95) * (0.02 if wiring else 0.98)
            if share and all(facts[fact] == value for fact, value in known.items()):
                yield share, facts | {"injectors": str(injectors), "wiring": str(wiring)}


def listed(
    own: Knowledge, known: Mapping[str, str], seen: Mapping[str, int]
) -> tuple[float, dict[str, float]]:
    """P(seen) and P(each cause | seen), by listing machines; jobs done on one stand in the hazards themselves."""
    total, weight, found = 0.0, 0.0, dict.fromkeys(own.causes, 0.0)
    for share, facts in machines(own, known):
        work = {
            "wire": 20.0 if facts["wiring"] == "1" else 1.0,
            "seal": 9.0 if facts["injectors"] == "1" else 1.0,
        }
        plain = {f: v for f, v in facts.items() if f in own.facts}
        one = knowledge(
            *own.facts.values(),
            *(_worked(record, work.get(id, 1.0)) for id, record in own.causes.items()),
            *own.conditions.values(),
            *own.findings.values(),
        )
        built = build(one, Machine(facts=plain | {"work": "none"}))
        evidence = {built.variable(id): np.eye(2)[state] for id, state in seen.items()}
        weight += share
        answer = None
        with suppress(ImpossibleEvidence):  # a machine that cannot show this
            answer = posterior(built.network, evidence)
        if answer is None:
            continue
        p = share * np.exp(answer.log_probability)
        total += p
        for id in built.causes:
            found[id] += p * answer.marginals[built.variable(id)][1]
    return total / weight, {id: p / total for id, p in found.items()}


def _worked(record: Cause, times_as_often: float) -> Cause:
    value = record.frequency.value
    if record.per == "share":
        odds = value / (1 - value) * times_as_often
        value = odds / (1 + odds)
    else:
        value *= times_as_often
    kept = tuple(one for one in record.modifiers if one.fact != "work")
    return replace(record, frequency=replace(record.frequency, value=value), modifiers=kept)


CASES = [
    ({}, {"smoke": 1}),
    ({}, {"dead": 1, "smoke": 0}),
    ({"weather": "frost"}, {"dead": 1, "gauge": 1}),
    ({"control": "mechanical"}, {"gauge": 1, "dead": 1}),
    ({"injection": "rail"}, {"smoke": 1, "code": 1}),
    ({}, {"code": 1, "gauge": 0}),
    ({"control": "electronic", "weather": "warm"}, {"smoke": 1, "gauge": 1, "code": 0}),
]


def asked(built: Built, seen: Mapping[str, int]) -> dict[int, Array]:
    return {built.variable(id): np.eye(2)[state] for id, state in seen.items()}


@pytest.mark.parametrize(("known", "seen"), CASES)
def test_facts_not_told_are_summed_over(known: dict[str, str], seen: dict[str, int]) -> None:
    own = whole()
    built = build(own, Machine(facts=known))
    probability, causes = listed(own, known, seen)
    answer = posterior(built.network, asked(built, seen))
    assert np.exp(answer.log_probability) == pytest.approx(probability, rel=1e-9)
    for id in built.causes:
        assert answer.marginals[built.variable(id)][1] == pytest.approx(causes[id], abs=1e-9), id
    engine = Engine(built.network, asked(built, seen))
    quick = engine.marginals([built.variable(id) for id in built.causes])
    for id in built.causes:
        assert quick[built.variable(id)][1] == pytest.approx(causes[id], abs=1e-9), id


@pytest.mark.parametrize(("known", "seen"), CASES)
def test_every_result_not_yet_seen_with_facts_not_told(known: dict[str, str], seen: dict[str, int]) -> None:
    own = whole()
    built = build(own, Machine(facts=known))
    engine = Engine(built.network, asked(built, seen))
    others = [id for id in own.findings if id not in seen]
    items = [(built.variable(id),) for id in others]
    for id, outcome in zip(others, engine.outcomes(items, []), strict=True):
        before = listed(own, known, seen)[0]
        after = listed(own, known, {**seen, id: 0})[0]
        assert outcome.probabilities[0] == pytest.approx(after / before, abs=1e-9), id


@pytest.mark.parametrize(("known", "seen"), CASES)
def test_pgmpy_and_pyagrum_agree(known: dict[str, str], seen: dict[str, int]) -> None:
    built = build(whole(), Machine(facts=known))
    evidence = asked(built, seen)
    answer = posterior(built.network, evidence)
    by_agrum, total = agrum_posterior(built.network, evidence)
    assert np.exp(answer.log_probability) == pytest.approx(total, rel=1e-9)
    targets = [built.variable(id) for id in built.causes]
    by_pgmpy = second_opinion(built.network, evidence, targets)
    for v in targets:
        assert np.abs(by_agrum[v] - answer.marginals[v]).max() < 1e-9
        assert np.abs(by_pgmpy.marginals[v] - answer.marginals[v]).max() < 1e-9


def test_what_is_found_makes_a_fact_likely() -> None:
    """A code says that the control is electronic; a fault of the rail that there is one."""
    built = build(whole(), Machine())
    answer = posterior(built.network, asked(built, {"code": 1}))
    assert answer.marginals[built.variable("control")][1] > 0.995
    before = posterior(built.network, {}).marginals[built.variable("injection")][1]
    assert before == pytest.approx(0.7)
    assert (
        posterior(built.network, asked(built, {"gauge": 1})).marginals[built.variable("injection")][1] > 0.72
    )


def test_knowing_a_fact_below_another_weighs_it() -> None:
    """Bayes by hand: P(pump | electronic) = 0.3 x 0.9 / (0.3 x 0.9 + 0.7)."""
    facts = Facts(whole().facts, {"control": "electronic"})
    (variable,) = facts.variables("injection")
    assert facts.joint((variable,))[0] == pytest.approx(0.27 / 0.97)


def test_facts_that_no_machine_has_together_are_named() -> None:
    with pytest.raises(ImpossibleFacts, match="control mechanical"):
        build(whole(), Machine(facts={"injection": "rail", "control": "mechanical"}))


def test_a_decisive_test_clears_what_it_passed_through() -> None:
    """The code shows only with sound pressure: seen, it rules the pressure out, and what only acts through it."""
    built = build(whole(), Machine(facts={"injection": "rail", "weather": "warm", "work": "none"}))
    answer = posterior(built.network, asked(built, {"code": 1, "dead": 1}))
    assert answer.marginals[built.variable("pressure")][1] < 0.005
    plain = posterior(built.network, asked(built, {"dead": 1}))
    for id in ("rail_leak", "wax"):
        assert answer.marginals[built.variable(id)][1] < plain.marginals[built.variable(id)][1]


def test_letting_go_of_ties_keeps_every_cause_as_likely() -> None:
    built = build(whole(), Machine())
    loose = untied(built, built.telling)
    for id in built.causes:
        before, after = (posterior(one.network, {}).marginals[one.variable(id)][1] for one in (built, loose))
        assert after == pytest.approx(before, abs=1e-12), id
    assert not any(built.network.index[n] in f.parents for n in ("weather",) for f in loose.network.families)


def test_jobs_done_lately_add_to_a_hazard() -> None:
    """Nobody said what was done: every set of jobs by its share, each adding its own hazard, listed one by one."""
    shipped = shipped_knowledge()
    cause, work = shipped.causes["air_left_in_fuel_system"], shipped.facts["recent_work"]
    machine = Machine(facts={"injection": "common rail"}, hours=6000)
    more = {m.value: m.odds.value - 1 for m in cause.modifiers if m.fact == "recent_work"}
    shares = {value: share.value for value, share in zip(work.values, work.shares, strict=True)}
    base, mean = cause.frequency.value * 1e-3 * machine.window, 0.0
    for done in product((False, True), repeat=len(more)):
        weight = np.prod([shares[v] if did else 1 - shares[v] for v, did in zip(more, done, strict=True)])
        hazard = base * (1 + sum(more[v] for v, did in zip(more, done, strict=True) if did))
        mean += float(weight) * -np.expm1(-hazard)
    assert build(shipped, machine).priors[cause.id] == pytest.approx(mean, rel=0.05)


def test_what_a_machine_cannot_have_shows_nothing_of_itself() -> None:
    """A condition of one injection system has a leak; on the other it is neither there nor behind a finding."""
    own = knowledge(
        fact("injection", {"pump": 0.5, "rail": 0.5}),
        cause("worn", 0.1, {"pressure_low": 0.5}),
        condition("pressure_low", 0.3, {"dead": 0.9}, only_if=only(injection=["rail"])),
        finding("dead", 0.01),
    )
    built = build(own, Machine(facts={"injection": "pump"}))
    found = posterior(built.network, {}).marginals
    assert found[built.variable("pressure_low")][1] == 0.0
    assert found[built.variable("dead")][1] == pytest.approx(0.01, abs=1e-12)
