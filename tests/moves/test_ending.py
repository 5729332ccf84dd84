"""What is left to do after a repair: tried now, seen after a shift's work, asked of the codes (common practice)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event, Noted, Opened, Repaired
from diagnose.codes.circuits import circuits
from diagnose.intake.stored_codes import codes_say
from diagnose.moves.advice import Advice
from diagnose.moves.ending import gone, to_see_later, to_try_now
from diagnose.moves.move import PROVE
from diagnose.planning.shop import Shop
from tests.shipped import shipped_knowledge

OIL, WEAK = "oil_consumption_high", "low_power"


def case(*events: Event) -> Case:
    opened = Opened("x", facts={"use": "working machine", "injection_control": "electronic"})
    return fold(1, [replace(one, sequence=n) for n, one in enumerate((opened, *events), 1)])


def ids(found: tuple[object, ...]) -> list[str]:
    return [getattr(one, "id", "") for one in found]


REPAIR = Repaired(("replace_turbocharger",), ("turbo_oil_seals_leaking",))


def test_what_shows_at_once_is_tried_and_oil_use_is_not_asked_with_warm_spanners() -> None:
    now = case(Noted(WEAK, "present"), Noted(OIL, "present"), REPAIR)
    assert ids(to_try_now(shipped_knowledge(), now)) == [WEAK]
    assert ids(to_see_later(shipped_knowledge(), now)) == [OIL]


def test_then_it_goes_to_work_and_the_case_stays_open() -> None:
    now = case(Noted(WEAK, "present"), Noted(OIL, "present"), REPAIR, Noted(WEAK, "absent"))
    move = Advice(shipped_knowledge(), now, Shop()).move
    assert (move.kind, gone(shipped_knowledge(), now)) == (PROVE, False)
    assert "falls due later" in move.reason
    done = case(Noted(OIL, "present"), REPAIR, Noted(OIL, "absent"))
    assert gone(shipped_knowledge(), done)


def test_what_shows_at_once_and_is_still_there_does_not_wait() -> None:
    now = case(Noted(WEAK, "present"), Noted(OIL, "present"), REPAIR, Noted(WEAK, "present"))
    assert Advice(shipped_knowledge(), now, Shop()).move.kind != PROVE


@pytest.mark.parametrize(
    ("codes", "count"),
    [
        (("SPN 102 FMI 3", "SPN 102 FMI 4", "SPN 110 FMI 5"), 2),  # two parts: SAE J1939-73 names FMI 3 to 6
        (("SPN 102 FMI 18", "SPN 110 FMI 2"), 0),
        (("", "SPN 102 FMI 6"), 1),
    ],
)
def test_parts_with_circuit_codes_are_counted(codes: tuple[str, ...], count: int) -> None:
    assert circuits(codes) == count


@pytest.mark.parametrize(("parts", "state"), [(2, "absent"), (3, "present")])
def test_three_circuits_are_several_and_nobody_is_asked(parts: int, state: str) -> None:
    knowledge = shipped_knowledge()
    codes = [one.id for one in knowledge.findings.values() if one.kind == "code"][:parts]
    read = [Noted(id, "present", code=f"SPN {100 + n} FMI 3") for n, id in enumerate(codes)]
    said = codes_say(knowledge, case(*read)).events
    assert [(one.finding, one.state) for one in said if isinstance(one, Noted)] == [
        ("several_sensor_codes_at_once", state)
    ]
