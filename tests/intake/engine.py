"""A small engine for tests of what is typed: readings whose limits hang on facts, places, codes, a belt to
take off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event, Opened
from diagnose.knowledge.bands import Band, ConditionalBands, Fits, Given, Reading, Scale
from diagnose.knowledge.records import Access, Check, Cure, Finding, Knowledge, Repair
from diagnose.knowledge.removable import Carried, Removable
from tests.knowledge_by_hand import HERE, cause, fact, finding, knowledge, number, only

STATES = ("normal", "low", "none")


def _reading(quantity: str, unit: str, *bands: Band, **rest: Any) -> Reading:
    return Reading(quantity, unit, bands, "common practice", HERE, **rest)


def _findings() -> list[Finding]:
    """Voltage: below 9.6 V is low, twice that at 24 V; a 12 V machine shows 6 to 16 V, one of 24 V 12 to 32
    V. Oil pressure: below 100 kPa is low, below 30 none; with the oil above 90 degC below 60 and 20."""
    cold, hot = (
        (Band("none", 30, None), Band("low", 100, None)),
        (Band("none", 20, None), Band("low", 60, None)),
    )
    warm = Given("oil temperature", (), "degC", None, 90, HERE)
    volts = _reading(
        "voltage cranking", "V", Band("low", 9.6, None), scale=(Scale("system", "24 V", 2.0, HERE),),
        fits=(Fits("system", "12 V", 16, 6, HERE), Fits("system", "24 V", 32, 12, HERE)),
    )  # fmt: skip
    oil = _reading(
        "oil pressure", "kPa", *cold, where=(ConditionalBands((), warm, hot, "common practice", HERE),)
    )
    named: dict[str, dict[str, Any]] = {
        "rattle": {"name": "Belt rattles", "aliases": ("rattle",)},
        "misfire": {"name": "Engine misfires"},
        "better_off": {"name": "Misfire gone with the belt off"},
        "steady_miss": {"name": "One cylinder dead", "located": "cylinder", "kind_of": ("misfire",)},
        "bank_weak": {"name": "Half the engine weak", "located": "bank"},
        "squeeze": {"name": "Squeeze of the bores", "aliases": ("squeeze of the bores low none",),
                    "located": "cylinder", "kind": "reading"},
        "injector_code": {"name": "Injector circuit code", "kind": "code", "codes": ("SPN 654 FMI 5",),
                          "located": "cylinder"},
        "fuel_code": {"name": "Fuel code", "kind": "code", "codes": ("SPN 654 FMI 5", "P2291")},
        "volts": {"name": "Voltage cranking is low", "kind": "reading", "reading": volts},
        "oil": {"name": "Oil pressure is low", "kind": "reading", "reading": oil},
    }  # fmt: skip
    states = {"squeeze": STATES, "oil": STATES, "volts": ("normal", "low")}
    return [
        replace(
            finding(id, [0.01] * (len(states.get(id, ("", ""))) - 1), *states.get(id, ("absent", "present"))),
            **how,
        )
        for id, how in named.items()
    ]


@cache
def engine() -> Knowledge:
    """The whole of it."""
    plain = knowledge(
        cause("bearing", 0.03, {"rattle": 0.8, "misfire": 0.1}),
        cause("stretched", 0.03, {"rattle": 0.8, "oil": [[0.2, 0.2]]}),
        *_findings(),
        fact("system", {"12 V": 0.5, "24 V": 0.5}),
        fact("cylinders", {"6": 0.5, "8": 0.5}),
        fact("layout", {"in line": 0.5, "two banks": 0.5}),
    )
    values: dict[str, Any] = {"tools": (), "hazards": (), "steps": (), "only_if": (), "place": HERE}
    belt = Removable(
        id="belt", name="the drive belt", system="test", ways=("off",), aliases=("belt",), brings=(), watched=(),
        carries=(Carried("bearing", number(1.0), HERE),), told=(), mistaken=None,
        by=(), minutes=number(10), access=(), **values,
    )  # fmt: skip
    strap = replace(
        belt, id="strap", name="the ground strap", aliases=("strap",), only_if=only(system=["24 V"])
    )
    look = Check("look", "Look inside", "test", number(5), ("cover", "sump"), reveals=("rattle",), **values)
    repairs = [
        Repair(
            id, f"Renew {id}", "test", number(5), (), (), (), (Cure(cures, number(1), HERE),), None, (), (), (),
            HERE,
        )
        for id, cures in (("belt_new", "stretched"), ("belt_kit", "stretched"))
    ]  # fmt: skip
    return replace(
        plain,
        removable={"belt": belt, "strap": strap},
        checks={"look": look},
        repairs={one.id: one for one in repairs},
        access={id: Access(id, f"{id} off", (), 5, 5, (), HERE) for id in ("cover", "sump")},
    )


def case(*events: Event, facts: dict[str, str] | None = None) -> Case:
    """A case of this machine with these events."""
    told: Sequence[Event] = [Opened("M-1", facts=facts or {}), *events]
    return fold(1, [replace(event, sequence=n) for n, event in enumerate(told, 1)])
