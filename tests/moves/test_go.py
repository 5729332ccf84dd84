"""What is asked is one go, and it is asked once: first the driver, then the machine (common practice)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Checked, Event, Noted, Opened
from diagnose.moves.advice import Advice
from diagnose.moves.move import ASK, CHECK
from diagnose.planning.passing import TALK, in_passing
from diagnose.planning.shop import Shop
from diagnose.planning.since import ASK_LAST_RIGHT
from tests.shipped import shipped_knowledge

MACHINES = {
    "black_smoke": {"use": "working machine", "injection": "unit injector"},
    "flat_after_running": {"use": "working machine"},
}

FACTS = shipped_knowledge().families["unit_injector_inline_six"].facts


def advice(complaint: str, *done: Event) -> Advice:
    events = [Opened("x", facts=MACHINES[complaint]), Noted(complaint, "present"), *done]
    case: Case = fold(0, [replace(event, sequence=n) for n, event in enumerate(events, 1)])
    return Advice(shipped_knowledge(), case, Shop())


def asks(now: Advice, id: str) -> bool:
    option = now.check_option(id)
    return id == ASK_LAST_RIGHT or (option is not None and in_passing(now.knowledge, option))


@pytest.mark.parametrize("complaint", MACHINES)
def test_all_that_is_worth_asking_is_asked_in_one_go(complaint: str) -> None:
    now = advice(complaint)
    move = now.move
    assert move.kind in (ASK, CHECK)
    assert move.along
    assert all(asks(now, id) for id in (move.id, *move.along))
    minutes = [option.minutes for id in move.along if (option := now.check_option(id))]
    assert sum(minutes) <= TALK
    go = {move.id, *move.along} - {ASK_LAST_RIGHT}
    listed = [check.id for check in now.next_checks()]
    assert listed[0] == move.id
    assert set([id for id in listed if id != ASK_LAST_RIGHT][: len(go)]) == go


@pytest.mark.parametrize("complaint", MACHINES)
def test_once_asked_a_question_leads_only_where_nothing_saves_more(complaint: str) -> None:
    first = advice(complaint).move
    now = advice(complaint, Checked(first.id))
    most = max(now.order.saved[n].money for n in now.order.saving)
    assert not asks(now, now.move.id) or now.move.saves >= most


def test_the_side_signs_of_a_rare_cause_are_not_asked_beside() -> None:
    """Lamps and batteries of an engine that overheats, for a belt at less than a tenth."""
    events: list[Event] = [
        Opened("x", family="unit_injector_inline_six", facts=FACTS),
        Noted("overheats", "present"),
        Checked("pressure_cap_test"),
    ]
    case = fold(0, [replace(event, sequence=n) for n, event in enumerate(events, 1)])
    along = Advice(shipped_knowledge(), case, Shop()).move.along
    assert along
    assert not {"charging_history", "ask_electrical_history", "look:flat_after_running"} & set(along)
