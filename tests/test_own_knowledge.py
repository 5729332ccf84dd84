"""The shipped knowledge in other people's hands: pgmpy and pyAgrum give the same posteriors of every cause.

The peers get only the ancestors of the evidence (all else is barren, Shachter 1986, from memory), with wide
families split (`divorce`). Causes outside that part keep the prior that the knowledge gives them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from itertools import count, islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from diagnose.evidence.engaged import WIDEST
from diagnose.knowledge.records import Knowledge
from diagnose.network import pgmpy_bridge as bridge
from diagnose.network.arising import can_be
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.divorce import divorce, renumbered
from diagnose.network.engine import Engine
from diagnose.network.facts import Facts, ImpossibleFacts
from diagnose.network.history import History, Renewal
from diagnose.network.machine import Machine
from diagnose.network.messages import TooWide
from diagnose.network.network import Array, Network, full_table
from diagnose.network.observed import LIKELIHOOD_RATIOS, likelihood
from diagnose.network.ordering import elimination_order
from diagnose.network.ties import with_room
from tests.oracles.peers import agrum, agrum_posterior, from_agrum
from tests.shipped import shipped_knowledge

BLOCKS, BLOCK = 5, 8
TOLERANCE = 1e-9
WIDEST_FOR_PEERS = 1 << 14
ASKED_OF_PGMPY = 24
TOGETHER = 12
"""Causes that pgmpy is asked for in one query: the copying of its model is most of its time, and a joint table of
more causes would take over."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One finding as it is told: in which epoch, in which of its states, how sure."""

    finding: str
    epoch: int
    state: int
    confidence: str


@dataclass(frozen=True, slots=True)
class Draw:
    """A machine, what was repaired on it, and what was found."""

    machine: Machine
    repairs: tuple[str, ...]
    seen: tuple[Seen, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """Evidence on the network built for a machine and its history."""

    built: Built
    evidence: Mapping[int, Array]


def random_draw(seed: int) -> Draw:
    """2 to 9 findings of one system and a few of others, most of them normal, three in ten only likely."""
    random = np.random.default_rng(seed)
    knowledge = shipped_knowledge()
    findings = random_findings(random, knowledge, int(random.integers(2, 10)))
    machine = random_machine(random, knowledge)
    repairs = tuple(random_repairs(random, knowledge, machine))
    told = sorted({(id, int(random.integers(len(repairs) + 1))) for id in findings})
    return Draw(machine, repairs, tuple(random_report(random, *one) for one in told))


def random_report(random: np.random.Generator, id: str, epoch: int) -> Seen:
    confidence = "likely" if random.random() < 0.3 else "sure"
    state = 0 if random.random() < 0.5 else int(random.integers(len(shipped_knowledge().findings[id].states)))
    return Seen(id, epoch, state, confidence)


@cache
def random_question(seed: int) -> Question:
    """The network built for what was drawn, with what was found."""
    draw = random_draw(seed)
    repairs = tuple({cause: Renewal(0.9, 0.02)} for cause in draw.repairs)
    history = History(repairs, frozenset((one.finding, one.epoch) for one in draw.seen))
    built = build(shipped_knowledge(), draw.machine, history)
    evidence = {built.variable(one.finding, one.epoch): told(one) for one in draw.seen}
    with suppress(TooWide):  # else the peers cannot carry it, and another is asked
        built, _ = with_room(built, evidence, WIDEST)
    return Question(built, evidence)


def told(seen: Seen) -> Array:
    card = len(shipped_knowledge().findings[seen.finding].states)
    return likelihood(card, seen.state, LIKELIHOOD_RATIOS[seen.confidence])


def random_findings(random: np.random.Generator, knowledge: Knowledge, number: int) -> list[str]:
    system = str(random.choice(list(knowledge.systems)))
    own = [id for id, finding in knowledge.findings.items() if finding.system == system]
    others = [id for id in knowledge.findings if id not in own]
    few = min(len(own), number - int(random.integers(0, 3)))
    drawn = [*random.choice(own, few, replace=False), *random.choice(others, number - few, replace=False)]
    return [str(id) for id in drawn]


def random_machine(random: np.random.Generator, knowledge: Knowledge) -> Machine:
    """Every other machine with some facts, every third with hours and a renewed part."""
    known = [fact for fact in knowledge.facts.values() if random.random() < 0.3]
    facts: dict[str, str] = {}
    for fact in known if random.random() < 0.5 else ():
        facts = possible(knowledge, {**facts, fact.id: str(random.choice(fact.values))}) or facts
    if random.random() > 1 / 3:
        return Machine(facts=facts)
    renewed = {str(id): float(random.integers(5000)) for id in random.choice(list(knowledge.causes), 2)}
    return Machine(facts=facts, hours=float(random.integers(100, 20000)), renewed=renewed)


def possible(knowledge: Knowledge, facts: dict[str, str]) -> dict[str, str]:
    """The facts, if there are machines that have them together."""
    with suppress(ImpossibleFacts):
        if Facts(knowledge.facts, facts).consistent():
            return facts
    return {}


def random_repairs(random: np.random.Generator, knowledge: Knowledge, machine: Machine) -> list[str]:
    """A repair in every fourth case, of a cause that can be on the machine."""
    if random.random() > 0.25:
        return []
    can = can_be(knowledge, machine)
    return [str(random.choice([id for id, cause in knowledge.causes.items() if can(cause)]))]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """The ancestors of the evidence with wide families split; `at`: variable -> its number in the part."""

    network: Network
    at: Mapping[int, int]
    evidence: Mapping[int, Array]
    causes: tuple[int, ...]


def part_that_matters(question: Question) -> Part:
    whole = question.built.network
    kept = sorted(whole.ancestors(question.evidence))
    number = {variable: place for place, variable in enumerate(kept)}
    families = tuple(renumbered(whole.families[variable], number) for variable in kept)
    states = tuple(whole.states[variable] for variable in kept)
    split = divorce(Network(tuple(whole.names[v] for v in kept), states, families), 3, 64)
    at = {variable: split.index[whole.names[variable]] for variable in kept}
    causes = tuple(v for v in map(question.built.variable, question.built.causes) if v in at)
    return Part(split, at, {at[v]: row for v, row in question.evidence.items()}, causes)


def pgmpy_posteriors(part: Part) -> Iterator[tuple[int, Array]]:
    """Causes spread over the part by pgmpy's variable elimination, which copies its model for every query."""
    with bridge._quiet():
        from pgmpy.inference import VariableElimination
    names = part.network.names
    model = bridge.to_pgmpy(part.network)
    hard, soft = told_to_pgmpy(part)
    asked = part.causes[:: max(1, len(part.causes) // ASKED_OF_PGMPY)]
    for start in range(0, len(asked), TOGETHER):
        group = asked[start : start + TOGETHER]
        answers = VariableElimination(model).query(
            [names[part.at[cause]] for cause in group],
            evidence=hard,
            virtual_evidence=soft or None,
            joint=False,
            show_progress=False,
        )
        for cause in group:
            yield cause, np.asarray(answers[names[part.at[cause]]].values, dtype=np.float64)


def told_to_pgmpy(part: Part) -> tuple[dict[str, str], list[Any]]:
    """Plain evidence by state name, and virtual evidence as pgmpy's factors."""
    from pgmpy.factors.discrete import DiscreteFactor

    hard, soft = {}, []
    for variable, row in part.evidence.items():
        name, states = part.network.names[variable], part.network.states[variable]
        if np.count_nonzero(row) == 1:
            hard[name] = states[int(np.argmax(row))]
        else:
            soft.append(DiscreteFactor([name], [len(row)], row, state_names={name: list(states)}))
    return hard, soft


def ours(question: Question) -> dict[int, Array]:
    """Every cause by our engine on the whole network."""
    network = question.built.network
    causes = [question.built.variable(id) for id in question.built.causes]
    engine = Engine(network, question.evidence)
    return engine.marginals(cause for cause in causes if cause in engine.region or not network.parents(cause))


def peers_can(question: Question) -> bool:
    """Whether pgmpy and pyAgrum can carry it: they need tables that marry the parents of what was split."""
    network = part_that_matters(question).network
    scopes = [(*network.parents(v), v) for v in range(len(network.names))]
    order = elimination_order(scopes, dict(enumerate(network.cards)))
    assert order
    rank = {variable: position for position, variable in enumerate(order)}
    waiting: list[set[int]] = [set() for _ in order]
    for scope in scopes:
        waiting[min(rank[v] for v in scope)].update(scope)
    for variable, met in zip(order, waiting, strict=True):
        if np.prod([network.cards[v] for v in met]) > WIDEST_FOR_PEERS:
            return False
        rest = met - {variable}
        if rest:
            waiting[min(rank[v] for v in rest)].update(rest)
    return True


@cache
def questions(block: int) -> tuple[int, ...]:
    """The first seeds of a block whose questions the peers can carry."""
    return tuple(islice((seed for seed in count(1000 * block) if peers_can(random_question(seed))), BLOCK))


@pytest.mark.slow
@pytest.mark.parametrize("block", range(BLOCKS))
def test_pyagrum_agrees_on_every_cause_and_pgmpy_on_many(block: int) -> None:
    for seed in questions(block):
        question = random_question(seed)
        part, answer = part_that_matters(question), ours(question)
        by_agrum, _ = agrum_posterior(part.network, part.evidence)
        for cause in part.causes:
            difference = np.abs(by_agrum[part.at[cause]] - answer[cause]).max()
            assert difference < TOLERANCE, (seed, "pyAgrum", question.built.network.names[cause])
        for cause, by_pgmpy in pgmpy_posteriors(part):
            difference = np.abs(by_pgmpy - answer[cause]).max()
            assert difference < TOLERANCE, (seed, "pgmpy", question.built.network.names[cause])


@pytest.mark.slow
def test_causes_that_the_evidence_cannot_touch_keep_their_prior() -> None:
    untouched = 0
    for seed in (*questions(0), *questions(1)):
        question = random_question(seed)
        part, answer, network = part_that_matters(question), ours(question), question.built.network
        for id in question.built.causes:
            cause = question.built.variable(id)
            if cause not in part.at and not network.parents(cause):
                untouched += 1
                assert answer[cause][1] == pytest.approx(question.built.priors[id], abs=1e-12)
    assert untouched > 50


def test_the_questions_are_as_varied_as_they_are_meant_to_be() -> None:
    asked = [random_draw(seed) for seed in range(300, 500)]
    sizes = {len(draw.seen) for draw in asked}
    assert sizes >= set(range(2, 9))
    assert sum(len(draw.repairs) > 0 for draw in asked) > len(asked) / 8
    assert sum(draw.machine.hours is not None for draw in asked) > len(asked) / 8
    assert sum(bool(draw.machine.facts) for draw in asked) > len(asked) / 4
    doubtful = sum(np.count_nonzero(told(one)) > 1 for draw in asked for one in draw.seen)
    assert 0.25 < doubtful / sum(len(draw.seen) for draw in asked) < 0.35


# --- the whole model ----------------------------------------------------------------------------------------


def whole_network() -> Network:
    return build(shipped_knowledge(), Machine()).network


@pytest.mark.slow
def test_pgmpy_finds_no_fault_with_the_whole_model() -> None:
    assert bridge.check_model(whole_network())


@pytest.mark.slow
def test_the_exported_knowledge_read_back_is_the_same_distribution(tmp_path: Path) -> None:
    """Same variables, states and parents and every number to the last digit: so the same distribution."""
    network = whole_network()
    bridge.write_file(network, tmp_path / "knowledge.xmlbif")
    read = bridge.with_plain_names(bridge.read_file(tmp_path / "knowledge.xmlbif"))
    same_network(exported(network), read, 1e-15)


@pytest.mark.slow
def test_another_program_reads_the_same_distribution_from_bif(tmp_path: Path) -> None:
    """pyAgrum's reader keeps single precision: every number, however small, to seven digits."""
    network = whole_network()
    bridge.write_file(network, tmp_path / "knowledge.bif")
    read = bridge.with_plain_names(from_agrum(agrum().loadBN(str(tmp_path / "knowledge.bif"))))
    same_network(exported(network), read, 1e-30, 2e-7)


@pytest.mark.slow
def test_a_part_read_back_from_bif_keeps_every_digit(tmp_path: Path) -> None:
    """A part: pgmpy takes forty seconds to read the whole."""
    network = part_that_matters(random_question(1)).network
    bridge.write_file(network, tmp_path / "part.bif")
    read = bridge.with_plain_names(bridge.read_file(tmp_path / "part.bif"))
    assert len(read.names) > 50
    same_network(exported(network), read, 1e-15)


def exported(network: Network) -> Network:
    """What a file of the network holds, under plain names."""
    return divorce(network, bridge.MAX_PARENTS, bridge.MAX_ENTRIES)


def same_network(expected: Network, read: Network, atol: float, rtol: float = 0.0) -> None:
    assert set(read.names) == set(expected.names)
    for variable, name in enumerate(expected.names):
        other = read.index[name]
        assert read.states[other] == expected.states[variable]
        assert parent_names(read, other) == parent_names(expected, variable)
        wanted, got = full_table(expected.families[variable]), full_table(read.families[other])
        np.testing.assert_allclose(got, wanted, rtol=rtol, atol=atol)


def parent_names(network: Network, variable: int) -> list[str]:
    return [network.names[parent] for parent in network.parents(variable)]
