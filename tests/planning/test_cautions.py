"""Which cautions stand before a step and in which order, on hazards made by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from diagnose.cases.events import Event, Noted
from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Access, Hazard, Knowledge
from diagnose.planning.cautions import STANDING_ONLY, of_check, of_step, worst_first
from diagnose.planning.options import CheckOption
from tests.knowledge_by_hand import HERE, finding
from tests.moves.test_stops_by_hand import ROUGH, seen, world
from tests.planning.test_running_by_hand import look


def hazard(id: str, harm: str, stop: bool = False, **rest: Any) -> Hazard:
    return Hazard(id, id, id, "", (), stop, HERE, harm=harm, **rest)


HAZARDS = (
    hazard("burn", "hurts"),
    hazard("seizes", "wrecks"),
    hazard("crush", "maims"),
    hazard("current", "deadly"),
    hazard("live", "hurts", stop=True, suspect=("rough",), above=0.5),
    hazard("ruled_out", "deadly", stop=True, suspect=("bolt_turns",), above=0.5),
    hazard(STANDING_ONLY, "maims"),
    hazard("exhaust", "deadly", wants=("running",)),
)


def known() -> Knowledge:
    told = {id: replace(finding(id, 0.1), kind="question") for id in ("told", "told_too")}
    plain = world()
    return replace(plain, hazards={one.id: one for one in HAZARDS}, findings={**plain.findings, **told})


def case(*events: Event) -> Diagnosis:
    return seen(known(), ROUGH, *events)


def ids(hazards: Sequence[Hazard]) -> list[str]:
    return [one.id for one in hazards]


def test_what_stops_everything_first_then_by_what_it_does_to_people() -> None:
    """Death before a limb, a limb before the engine, the engine before a burn (the order of `HARMS`)."""
    told = ["burn", "seizes", "no such", "crush", "current", "live"]
    assert ids(worst_first(known(), told)) == ["live", "current", "crush", "seizes", "burn"]


def test_a_stop_that_is_not_suspected_is_no_caution_of_a_step() -> None:
    assert ids(of_step(case(), ["burn", "live", "ruled_out"], ())) == ["live", "burn"]


def test_what_is_opened_brings_its_own_and_each_is_told_once() -> None:
    cover = Access("cover", "cover", (), 5, 5, ("crush", "burn"), HERE)
    assert ids(of_step(case(), ["burn"], [cover])) == ["crush", "burn"]


@pytest.mark.parametrize(
    ("wants", "told"), [((), True), (("oil",), True), (("running",), False), (("load",), False)]
)
def test_a_step_that_turns_the_engine_does_not_isolate_the_batteries(
    wants: tuple[str, ...], told: bool
) -> None:
    assert (STANDING_ONLY in ids(of_step(case(), [STANDING_ONLY, "burn"], (), wants))) is told
    assert "burn" in ids(of_step(case(), [STANDING_ONLY, "burn"], (), wants))


def test_what_a_machine_does_not_do_does_not_hurt() -> None:
    assert ids(of_step(case(), ["exhaust", "burn"], ())) == ["exhaust", "burn"]
    assert ids(of_step(case(), ["exhaust", "burn"], (), (), {"running"})) == ["burn"]
    option = CheckOption("one", "one", 5, None, ("rough",), hazards=("exhaust", "burn"), wants=())
    assert ids(of_check(case(), option, ())) == ["exhaust", "burn"]
    assert ids(of_check(case(Noted("does_not_run", "present")), option, ())) == ["burn"]


@pytest.mark.parametrize(
    ("reveals", "more", "told"),
    [
        (("told",), {}, []),
        (("told", "rough"), {}, ["burn"]),
        (("told", "told_too", "rough"), {}, []),
        (("told",), {"tools": ("torch",)}, ["burn"]),
        (("told",), {"wants": ("running",)}, ["burn"]),
    ],
)
def test_who_is_only_asked_is_not_warned(
    reveals: tuple[str, ...], more: dict[str, Any], told: list[str]
) -> None:
    check = look("one", 5, *reveals, hazards=("burn",), **more)
    option = CheckOption("one", "one", 5, check, reveals, hazards=("burn",), wants=check.wants)
    assert ids(of_check(case(), option, ())) == told
