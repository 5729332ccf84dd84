"""Earlier ids (`formerly`): what was recorded under them reads as what it is called now, everywhere; and general
findings of which a kind was seen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml

from diagnose.cases import scenario
from diagnose.cases.case import Case, Epoch, Observation, fold
from diagnose.cases.events import Checked, Closed, Confidence, Event, Learnt, Noted, Opened, Repaired
from diagnose.cases.renamed import with_present_ids
from diagnose.cases.understood import understood
from diagnose.diagnosis import diagnose
from diagnose.knowledge.assemble import assemble
from diagnose.knowledge.files import FileText
from diagnose.knowledge.lookup import resolve, resolve_any
from diagnose.knowledge.records import Knowledge
from diagnose.learning.lesson import lesson_of, under_present_ids
from diagnose.network.machine import Machine

BASE = Path(__file__).parents[1] / "rules" / "base.yaml"
OLD = {
    "pump_worn": "pump_tired",
    "no_start": "wont_go",
    "fit_gauge": "read_gauge",
    "replace_pump": "new_pump",
}
SECTIONS = {"pump_worn": "causes", "no_start": "findings", "fit_gauge": "checks", "replace_pump": "repairs"}


def knowledge(change: Mapping[str, Any] | None = None, overlay: str = "") -> Knowledge:
    """The base, with fields put into its records, and an overlay."""
    raw = yaml.safe_load(BASE.read_text(encoding="utf-8"))
    for id, fields in (change or {}).items():
        raw[SECTIONS.get(id, "findings")].setdefault(id, {}).update(fields)
    texts = [FileText("base.yaml", yaml.safe_dump(raw, sort_keys=False).encode())]
    texts += [FileText("overlay.yaml", overlay.encode(), overlay=True)] if overlay else []
    found, problems = assemble(texts)
    assert found is not None, "\n".join(map(str, problems))
    return found


PLAIN = knowledge()
RENAMED = knowledge({id: {"formerly": [old]} for id, old in OLD.items()})


def case(names: Mapping[str, str]) -> Case:
    """One of everything that an event can name, under these ids."""

    def name(id: str) -> str:
        return names.get(id, id)

    events: list[Event] = [
        Opened("D-07", renewed={name("pump_worn"): 50.0}),
        Noted(name("no_start"), "present"),
        Checked(name("fit_gauge")),
        Noted("gauge_low", "low"),
        Learnt(renewed={name("pump_worn"): 60.0}),
        Repaired((name("replace_pump"),), (name("pump_worn"),)),
        Closed((name("pump_worn"),), otherwise={name("pump_worn"): "by sight"}),
    ]
    return fold(1, [replace(event, sequence=number) for number, event in enumerate(events, 1)])


def test_an_old_case_is_the_case_that_would_be_recorded_today() -> None:
    assert with_present_ids(RENAMED, case(OLD)) == case({})
    assert with_present_ids(PLAIN, case(OLD)) == case(OLD)  # which knows of no earlier ids
    now = with_present_ids(RENAMED, case({}))
    assert now == case({})


def test_an_old_case_comes_to_the_same_answer() -> None:
    today, old = (diagnose(RENAMED, with_present_ids(RENAMED, case(names))) for names in ({}, OLD))
    assert [(one.id, one.probability) for one in old.causes] == [
        (one.id, one.probability) for one in today.causes
    ]
    assert old.evidence
    assert [one.name for one in old.evidence] == [one.name for one in today.evidence]


def test_an_old_lesson_teaches_the_same() -> None:
    (old,) = under_present_ids(RENAMED, [lesson_of(case(OLD))])
    assert old == lesson_of(case({}))


def test_of_two_findings_that_are_one_now_the_later_counts() -> None:
    both = Epoch(observations=(Observation("wont_go", "absent"), Observation("no_start", "present")))
    lesson = replace(lesson_of(case({})), epochs=(both,))
    (now,) = under_present_ids(RENAMED, [lesson])
    assert now.epochs[0].observations == (Observation("no_start", "present"),)


def test_an_overlay_that_speaks_of_earlier_ids() -> None:
    text = (
        "system: injection\ncauses:\n  pump_tired:\n    share: 0.07\n"
        "  seal_hard:\n    name: Seal hard\n    part: seal\n    share: 0.01\n"
        "    leads_to: {pump_tired: 0.5, wont_go: 0.3}\n"
        "checks:\n  look:\n    name: Look\n    minutes: 3\n    reveals: [wont_go, gauge_low]\n"
        "repairs:\n  seal:\n    name: Seal\n    minutes: 9\n    cures: {seal_hard: 0.9, pump_tired: 0.1}\n"
        "    together: [new_pump]\n"
    )
    found = knowledge({id: {"formerly": [old]} for id, old in OLD.items()}, text)
    assert found.causes["pump_worn"].frequency.value == 0.07
    assert found.causes.keys() == {"pump_worn", "seal_hard"}
    assert [link.effect for link in found.causes["seal_hard"].leads_to] == ["pump_worn", "no_start"]
    assert found.checks["look"].reveals == ("no_start", "gauge_low")
    assert [cure.cause for cure in found.repairs["seal"].cures] == ["seal_hard", "pump_worn"]
    assert found.repairs["seal"].together == ("replace_pump",)


SCENARIO = """
scenario: old
title: An old scenario
about: Written before the ids changed.
machine: {{number: D-07, family: inline_six, renewed: {{{pump_worn}: 50}}}}
complaint: will not start
events:
  - note: {no_start}
  - check: {fit_gauge}
  - repaired: [{replace_pump}]
expect:
  causes: [{pump_worn}]
  within: 1
  probability: {{{pump_worn}: [0.1, 1]}}
  check: {{any_of: [{fit_gauge}], first: 1}}
  repairs: [{replace_pump}]
"""


def test_an_old_scenario_is_the_same_scenario() -> None:
    same = {id: id for id in OLD}
    old, today = (scenario.loads(SCENARIO.format(**names), "s.yaml", RENAMED) for names in (OLD, same))
    assert old.events == today.events
    assert old.expect is not None
    assert today.expect is not None
    assert replace(old.expect, place=today.expect.place) == today.expect


def test_an_earlier_id_is_understood_where_it_is_typed() -> None:
    meant = resolve(RENAMED, "wont_go").clear
    assert meant is not None
    assert meant.id == "no_start"
    for id in ("pump_worn", "fit_gauge", "replace_pump"):
        typed = resolve_any(RENAMED, OLD[id]).clear
        assert typed is not None
        assert typed.id == id


SMOKE = {
    "smoke": {"name": "Smokes", "kind": "symptom", "observe": "Look.", "leak": 0.001},
    "white_smoke": {
        "name": "White smoke",
        "kind": "symptom",
        "observe": "Look.",
        "leak": 0.001,
        "kind_of": ["smoke"],
    },
    "white_cold": {"name": "White, cold", "kind": "symptom", "observe": "Look.", "kind_of": ["white_smoke"]},
}
LEADS = {
    "pump_worn": {
        "leads_to": {"pressure_low": {"to": {"low": 0.3, "none": 0.6}}, **dict.fromkeys(SMOKE, 0.5)}
    }
}
KINDS = knowledge({**SMOKE, **LEADS})


def seen(*observations: tuple[str, str, Confidence]) -> Case:
    noted = (Observation(id, state, sure, event=n) for n, (id, state, sure) in enumerate(observations, 2))
    return Case(1, Machine("D-07"), epochs=(Epoch(observations=tuple(noted)),))


@pytest.mark.parametrize(
    ("observations", "left"),
    [
        ([("smoke", "present", "sure"), ("white_cold", "present", "sure")], ["white_cold"]),
        ([("white_smoke", "present", "sure"), ("smoke", "present", "likely")], ["white_smoke"]),
        ([("smoke", "present", "sure"), ("white_smoke", "present", "unsure")], ["smoke", "white_smoke"]),
        ([("smoke", "present", "sure"), ("white_smoke", "absent", "sure")], ["smoke", "white_smoke"]),
        ([("smoke", "absent", "sure"), ("white_smoke", "present", "sure")], ["smoke", "white_smoke"]),
    ],
)
def test_a_general_finding_counts_once_with_its_kind(observations: list[Any], left: list[str]) -> None:
    read = understood(KINDS, seen(*observations))
    assert sorted(one.finding for one in read.case.observations) == sorted(left)
    assert len(read.untold) == len(observations) - len(left)


def test_what_was_said_in_general_is_told_and_adds_no_weight() -> None:
    both = diagnose(KINDS, seen(("smoke", "present", "sure"), ("white_smoke", "present", "sure")))
    alone = diagnose(KINDS, seen(("white_smoke", "present", "sure")))
    assert [one.probability for one in both.causes] == [one.probability for one in alone.causes]
    assert "Smokes: said more closely, White smoke" in both.unused
