"""What would change the answer: published thresholds, the bound of Chan and Darwiche, and diagnoses made anew."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest

from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.explaining.turning import FARTHEST, crossings, distance, turns
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Knowledge
from diagnose.network.engine import Engine, posterior
from diagnose.network.network import Array, Network
from diagnose.network.observed import hard
from diagnose.study.exposed import ExposedRow, expose
from diagnose.study.lines import Line, lay_open, lines
from diagnose.study.spread import moved
from tests.explaining.small import AGED, SEEN, SMALL, case, diagnosed
from tests.network.builders import Sketch
from tests.network.random_networks import random_evidence, random_network
from tests.oracles.peers import worked
from tests.study.test_stress import changed

ORACLE = worked()["fire_alarm"]
TABLES: dict[str, tuple[tuple[str, ...], dict[tuple[int, ...], float]]] = {
    "tampering": ((), {(): 0.02}),
    "fire": ((), {(): 0.01}),
    "alarm": (("fire", "tampering"), {(0, 0): 0.0001, (0, 1): 0.85, (1, 0): 0.99, (1, 1): 0.5}),
    "smoke": (("fire",), {(0,): 0.01, (1,): 0.9}),
    "leaving": (("alarm",), {(0,): 0.001, (1,): 0.88}),
    "report": (("leaving",), {(0,): 0.01, (1,): 0.75}),
}
"""Poole and Neufeld's network; parameters from memory, the thresholds belong to them as they stand."""
EVIDENCE = {"report": 1, "smoke": 0}


def fire_alarm(**other: float) -> Network:
    """With every number as a root of its own, named `child|parent states`: what the child would do then."""
    sketch = Sketch()
    for name, (parents, numbers) in TABLES.items():
        answers = [f"{name}|{''.join(map(str, states))}" for states in numbers]
        for label, p in zip(answers, numbers.values(), strict=True):
            sketch.root(label, other.get(label, p))
        chosen = np.zeros((2,) * (len(parents) + len(answers)))
        for states in np.ndindex(*chosen.shape):
            chosen[states] = states[len(parents) + list(numbers).index(states[: len(parents)])]
        sketch.table(name, [*parents, *answers], chosen)
    return sketch.network()


def fire_lines() -> Iterator[tuple[str, Line]]:
    network = fire_alarm()
    rows = [ExposedRow(v, v) for v, name in enumerate(network.names) if "|" in name]
    asked = Engine(network, hard(network, EVIDENCE))
    for line in lines(asked, [network.index["tampering"], network.index["fire"]], rows):
        yield network.names[line.row.variable], line


def reaching(line: Line, level: float) -> float:
    """Where the first cause's probability, a quotient of two lines, takes this value."""
    (b, d), (a, c) = (line.base[1], line.base[0]), (line.slope[1], line.slope[0])
    return math.inf if a == level * c else float(line.value + (level * d - b) / (a - level * c))


def again(name: str, value: float) -> float:
    network = fire_alarm(**{name: value})
    return float(posterior(network, hard(network, EVIDENCE)).marginals[network.index["tampering"]][1])


def test_the_network_with_its_numbers_as_roots_is_the_same() -> None:
    network = fire_alarm()
    answer = posterior(network, hard(network, EVIDENCE)).marginals
    for name, p in ORACLE["posterior"].items():
        assert answer[network.index[name]][1] == pytest.approx(p, abs=1e-9)


def test_the_two_numbers_that_take_tampering_to_065_and_no_other() -> None:
    found = {name: reaching(line, 0.65) for name, line in fire_lines()}
    able = {name: value for name, value in found.items() if 0 <= value <= 1}
    assert able == {
        "tampering|": pytest.approx(ORACLE["tampering_prior_for_065"], abs=5e-7),
        "report|0": pytest.approx(ORACLE["report_without_leaving_for_065"], abs=5e-7),
    }


def test_the_quotient_is_exact_on_eleven_points_of_every_number() -> None:
    for name, line in fire_lines():
        for value in np.linspace(0, 1, 11):
            assert line.causes(value - line.value)[0] == pytest.approx(again(name, float(value)), abs=5e-14)


def slope(line: Line) -> Array:
    """df/dt of every cause at the number's value, f = base / base of the evidence."""
    found: Array = (line.slope[1:] - line.base[1:] * line.slope[0] / line.base[0]) / line.base[0]
    return found


def test_the_slope_by_tampering_prior_reaches_the_bound() -> None:
    """Chan and Darwiche 2002 (from memory): |df/dt| <= f (1 - f) / (t (1 - t))."""
    (line,) = [line for name, line in fire_lines() if name == "tampering|"]
    f, t = line.base[1], line.value
    assert slope(line)[0] == pytest.approx(ORACLE["slope_at_tampering_prior"], abs=5e-5)
    assert slope(line)[0] == pytest.approx(f * (1 - f) / (t * (1 - t)), rel=1e-9)


def opened_lines(seed: int) -> list[Line]:
    network = random_network(seed, count=10, max_card=2)
    evidence = random_evidence(seed, network)
    exposed = expose(network, range(len(network.names)))
    asked = Engine(exposed.network, {exposed.places[v]: e for v, e in evidence.items()}, exposed.places)
    causes = [exposed.places[v] for v in range(len(network.names)) if v not in evidence]
    return list(lines(asked, causes, exposed.rows))


@pytest.mark.parametrize("seed", range(6))
def test_no_slope_passes_the_bound(seed: int) -> None:
    found = opened_lines(seed)
    assert found
    for line in found:
        f, t = line.base[1:], line.value
        assert (np.abs(slope(line)) <= f * (1 - f) / (t * (1 - t)) + 1e-9).all()


@pytest.mark.parametrize("seed", range(6))
def test_no_log_odds_move_by_more_than_the_number_s(seed: int) -> None:
    """The same bound for changes of any size, on which the search for the nearest change leans."""
    for line in opened_lines(seed):
        for target in (0.5 * line.value, min(3 * line.value, 0.99)):
            by = target - line.value
            before, after = line.base[1:], line.causes(by)
            inner = (before > 1e-9) & (before < 1 - 1e-9)
            gone = np.log(after[inner] / (1 - after[inner])) - np.log(before[inner] / (1 - before[inner]))
            assert (np.abs(gone) <= abs(distance(line, by)) + 1e-6).all()


def line(base: list[float], slope: list[float], value: float = 0.5) -> Line:
    first = np.array([1.0, *base])
    return Line(ExposedRow(0, 0), 1, value, 1 - value, first, np.array([0.0, *slope]))


def ends(asked: Line, mine: int) -> list[tuple[float, int]]:
    return [(round(by, 12), first) for by, first in crossings(asked, mine) if math.isfinite(by)]


def test_crossings_of_three_lines_by_hand() -> None:
    """0.5 - x stands above 0.4 and 0.2 + x for x from below everything to 0.1; at 0.1 it meets 0.4."""
    found = line([0.5, 0.4, 0.2], [-1.0, 0.0, 1.0])
    assert ends(found, 0) == [(0.1, 1)]
    assert ends(found, 1) == [(0.1, 1)]
    assert ends(found, 2) == [(0.2, 2)]
    assert ends(line([0.5, 0.4, 0.2], [0.0, 0.0, 0.1]), 1) == []


def first(knowledge: Knowledge) -> str:
    return diagnose(knowledge, case(*SEEN, machine=AGED)).causes[0].id


def beyond(number: Number, value: float, share: float, odds: str) -> float:
    """The number changed by this share of the way to `value`, on the scale on which changes are measured."""
    if odds:
        return float(number.value * (value / number.value) ** share)
    way = math.log(value / (1 - value)) - math.log(number.value / (1 - number.value))
    return moved(number.value, share * way)


def test_each_turning_point_is_where_a_diagnosis_made_anew_turns() -> None:
    """Ageing and a machine fact stand between the prior as written and the machine's."""
    diagnosis = diagnosed()
    found = turns(lay_open(diagnosis), diagnosis.causes[0], 20)
    assert len(found) > 2
    assert any(turn.item.multiplies for turn in found)
    for turn in found:
        for share, leading in ((0.999, diagnosis.causes[0].id), (1.001, turn.first)):
            value = beyond(turn.number, turn.value, share, turn.item.multiplies)
            assert first(changed(SMALL, turn.number, value)) == leading, turn.item.label


def numbers(diagnosis: Diagnosis) -> Iterator[tuple[Number, str]]:
    for items in lay_open(diagnosis).named.rows.values():
        yield from ((item.number, item.multiplies) for item in items)


def test_no_number_turns_the_answer_with_a_smaller_change() -> None:
    diagnosis = diagnosed()
    nearest = abs(turns(lay_open(diagnosis), diagnosis.causes[0])[0].by)
    assert nearest < FARTHEST
    for number, multiplies in numbers(diagnosis):
        for way in (-0.999 * nearest, 0.999 * nearest):
            value = number.value * math.exp(way) if multiplies else moved(number.value, way)
            assert first(changed(SMALL, number, value)) == diagnosis.causes[0].id


def test_what_would_put_the_second_first_is_what_takes_the_first_from_the_first() -> None:
    diagnosis = diagnosed()
    opened = lay_open(diagnosis)
    lose = {
        t.item.label: t.by
        for t in turns(opened, diagnosis.causes[0], 99)
        if t.first == diagnosis.causes[1].id
    }
    gain = {t.item.label: t.by for t in turns(opened, diagnosis.causes[1], 99)}
    assert lose
    assert {label: gain[label] for label in lose} == {label: pytest.approx(by) for label, by in lose.items()}


def test_a_cause_out_of_reach_has_none() -> None:
    diagnosis = diagnosed(("no_start", "present"), ("metal_in_filter", "present"), ("oil_at_bore", "present"))
    last = [cause for cause in diagnosis.causes if cause.relevant][-1]
    assert turns(lay_open(diagnosis), last) == ()


def test_nothing_noted_turns_nothing() -> None:
    diagnosis = diagnose(SMALL, case(machine=AGED))
    assert turns(lay_open(diagnosis), diagnosis.causes[0]) == ()
