"""Which codes one cause explains."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.diagnosis import diagnose
from diagnose.explaining.codes_explained import DOUBLED, Codes, codes
from diagnose.knowledge.records import Finding
from diagnose.network.machine import Machine
from tests.explaining.small import case, diagnosed
from tests.knowledge_by_hand import cause, finding, knowledge

SET = ("first_code", "second_code", "third_code")


def code(id: str, leak: float) -> Finding:
    return replace(finding(id, leak), kind="code")


THREE_CODES = knowledge(
    cause("ground_lost", 0.02, {"first_code": 0.8, "second_code": 0.6}),
    cause("sensor_dead", 0.03, {"second_code": 0.7, "third_code": 0.7, "feels_rough": 0.5}),
    code("first_code", 0.05),
    code("second_code", 0.02),
    code("third_code", 0.02),
    finding("feels_rough", 0.1),
)


def told(id: str, *seen: tuple[str, str]) -> tuple[Codes, list[str]]:
    diagnosis = diagnose(THREE_CODES, case(*seen, machine=Machine("P-1")))
    found = codes(diagnosis, id)
    return found, [diagnosis.evidence[code.place].observation.finding for code in found.explained]


def test_one_cause_explains_two_of_three_codes() -> None:
    seen = [(id, "present") for id in SET]
    found, explained = told("ground_lost", *seen, ("feels_rough", "present"))
    assert len(found.seen) == 3
    assert explained == ["first_code", "second_code"]
    assert told("sensor_dead", *seen)[1] == ["second_code", "third_code"]


def test_a_code_that_is_not_set_is_none() -> None:
    found, _ = told("ground_lost", ("first_code", "absent"), ("second_code", "present"))
    assert len(found.seen) == 1


def test_a_code_weighs_the_ratio_of_its_chances_with_and_without_the_cause() -> None:
    """Noisy-OR in closed form: the first code hangs on this cause alone, P = 1 - (1 - 0.05)(1 - 0.8) with it."""
    found, _ = told("ground_lost", ("first_code", "present"))
    ratio = (1 - 0.95 * 0.2) / 0.05
    assert 10 ** (found.seen[0].decibans / 10) == pytest.approx(ratio)
    assert found.together == pytest.approx(found.seen[0].decibans)


def test_explained_means_more_likely_due_to_it_than_not() -> None:
    """Attributable fraction among the exposed, 1 - 1 / ratio, is 1/2 at a ratio of two."""
    ratio = 10 ** (DOUBLED / 10)
    assert (ratio - 1) / ratio == pytest.approx(0.5)


def test_what_the_explained_codes_weigh_together_is_not_their_sum() -> None:
    """The sensor may be behind the second, so the first two together weigh other than one by one; here by the
    noisy-OR: both codes with the ground lost, the second also by the sensor."""
    found, _ = told("ground_lost", *[(id, "present") for id in SET[:2]])
    with_it = (1 - 0.95 * 0.2) * (0.97 * (1 - 0.98 * 0.4) + 0.03 * (1 - 0.98 * 0.4 * 0.3))
    without = 0.05 * (0.97 * 0.02 + 0.03 * (1 - 0.98 * 0.3))
    assert 10 ** (found.together / 10) == pytest.approx(with_it / without)


def test_a_cause_that_no_finding_speaks_of_explains_nothing() -> None:
    found = codes(diagnosed(("battery_rest", "low"), ("pressure_code", "present")), "batteries_flat")
    assert not found.explained
    assert found.together == pytest.approx(0)
