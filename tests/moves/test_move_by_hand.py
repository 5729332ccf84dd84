"""The next move, one condition after the other, of a case whose figures are given."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Checked, Closed, Noted, Opened, Repaired
from diagnose.diagnosis import RankedCause
from diagnose.knowledge.records import Hazard
from diagnose.moves.move import (
    ASK,
    CHECK,
    CLOSE,
    COMPLAINT,
    HAND_OVER,
    MAKE_SAFE,
    PROVE,
    REPAIR,
    Move,
    making_safe,
    move_of,
)
from diagnose.moves.standing import Standing
from diagnose.moves.stops import Stop
from diagnose.planning.decide import TO_A_SPECIALIST
from diagnose.planning.keep_running import STOP, WATCH
from diagnose.planning.options import CheckOption
from diagnose.planning.repairs import RepairChoice
from diagnose.planning.since import ASK_LAST_RIGHT
from tests.moves.test_stops_by_hand import case, world

KNOWN = world()
OPTIONS = [
    cast(CheckOption, SimpleNamespace(id=id, name=name))
    for id, name in (("look", "Look at it"), ("ask:use", "Ask: use?"))
]


def choice(*ids: str) -> RepairChoice:
    repairs = tuple(SimpleNamespace(id=id, name=id.capitalize()) for id in ids)
    return cast(RepairChoice, SimpleNamespace(repairs=repairs))


def leading(p: float) -> RankedCause:
    return RankedCause("sensor", "Sensor", "test", 0.1, p, "", True)


def order(first: int | None = 0, **rest: Any) -> Any:
    saved = {n: SimpleNamespace(money=100.0 + n) for n in range(2)}
    values = {"ahead": (), "question": None, "asks_since": False, "go": (), **rest}
    return SimpleNamespace(first=first, saved=saved, **values)


def now(of: Case | None = None, p: float | None = 0.5, **rest: Any) -> Standing:
    """A check that saves 100; a repair; nothing else to say."""
    values: dict[str, Any] = {
        "knowledge": KNOWN,
        "case": of or case(Noted("rough", "present")),
        "diagnosis": SimpleNamespace(shown=("rough",)),
        "running": (),
        "stops": (),
        "order": order(),
        "leading": None if p is None else leading(p),
        "best_saving": 100.0,
        "slack": 50.0,
        "none_worth_its_price": False,
        "hands_over": False,
        "best_repair": choice("renew", "flush"),
        "proof_first": lambda choice: None,
        "repairs_alone": 1000.0,
        "situation": SimpleNamespace(checks=OPTIONS, minutes=lambda n: 10.0),
        "check_price": lambda option: SimpleNamespace(minutes=10.0),
        "shop": SimpleNamespace(money=lambda amount: f"{amount:.0f} EUR"),
        **rest,
    }
    return cast(Standing, SimpleNamespace(**values))


def test_a_check_that_is_worth_it_is_the_move() -> None:
    assert move_of(now()) == Move(
        CHECK, ("look",), "Look at it",
        "Expected to save 100 EUR against repairing now: no cause is above 50 % yet.", 100.0,
    )  # fmt: skip
    near_sure = move_of(now(p=0.9))
    assert near_sure.reason == "Expected to save 100 EUR against repairing now, though 90 % is near sure."
    assert move_of(now(p=None)).reason == "Expected to save 100 EUR against repairing now."


def test_what_must_be_done_before_it_is_opened_says_so() -> None:
    told = move_of(now(order=order(ahead=(0,))))
    assert told.reason == (
        "It must be done while the engine is still together; repairing now would cost 100 EUR more."
    )


def test_a_question_is_asked_with_all_that_is_asked_along() -> None:
    told = move_of(now(order=order(first=1, go=("ask:use", "look:smoke", "ask:tank"))))
    assert (told.kind, told.id, told.saves) == (ASK, "ask:use", 101.0)
    assert told.along == ("look:smoke", "ask:tank")


def test_when_it_was_last_right_comes_first_where_that_is_worth_most() -> None:
    question = SimpleNamespace(name="Ask: when?", value=40.0)
    first = order(first=None, question=question, asks_since=True, go=(ASK_LAST_RIGHT, "ask:use"))
    told = move_of(now(order=first))
    assert (told.kind, told.id, told.name, told.saves, told.along) == (
        ASK, ASK_LAST_RIGHT, "Ask: when?", 40.0, ("ask:use",)
    )  # fmt: skip
    later = order(first=0, question=question, asks_since=False)
    assert move_of(now(order=later)).id == "look"


# ---- repairing and handing over ----


def test_a_sure_cause_waits_for_a_check_that_saves_more_than_the_slack() -> None:
    assert move_of(now(p=0.9, best_saving=50.1)).kind == CHECK
    assert move_of(now(p=0.9, best_saving=50.0)).kind == REPAIR
    assert move_of(now(p=0.89, best_saving=1.0)).kind == CHECK  # not sure yet
    assert move_of(now(p=0.89, none_worth_its_price=True)).kind == REPAIR
    assert move_of(now(p=0.9, none_worth_its_price=True)).kind == CHECK
    assert move_of(now(p=None, none_worth_its_price=True)).kind == REPAIR


def test_a_repair_tells_why_and_what_is_in_doubt_still() -> None:
    told = move_of(now(p=0.95, best_saving=20.0))
    assert told == Move(
        REPAIR, ("renew", "flush"), "Renew + Flush",
        "Sensor is as good as sure (95 %); no check left saves more than 20 EUR of 1000 EUR.", 0.0,
        "In doubt still: Look at it.",
    )  # fmt: skip
    assert told.id == "renew+flush"
    assert Move(CLOSE, (), "", "").id == ""
    alone = move_of(now(p=0.95, best_saving=0.0, order=order(first=None)))
    assert alone.reason == "Sensor is as good as sure (95 %); no further check saves anything."
    assert alone.unless == ""
    tried = move_of(now(p=0.5, none_worth_its_price=True))
    assert tried.reason == ("No check tells enough to be worth its time: trying this is the cheapest way on.")
    assert move_of(now(p=0.5, order=order(first=None))).kind == REPAIR


def test_it_is_handed_over_where_that_is_cheaper_and_nothing_is_sure() -> None:
    nothing = order(first=None)
    over = move_of(now(hands_over=True, order=nothing))
    assert (over.kind, over.id, over.name) == (HAND_OVER, "", TO_A_SPECIALIST)
    assert "expected to cost less" in over.reason
    assert move_of(now(p=0.95, hands_over=True, order=nothing)).kind == REPAIR
    assert move_of(now(best_repair=None, order=nothing)).kind == HAND_OVER
    assert move_of(now(p=0.95, best_saving=0.0, best_repair=None)).kind == CHECK
    assert move_of(now(hands_over=True, none_worth_its_price=True)).kind == CHECK


# ---- what comes before money ----


def test_first_of_all_what_it_came_in_for() -> None:
    untold = SimpleNamespace(shown=())
    told = move_of(now(diagnosis=untold, of=case()))
    assert (told.kind, told.id) == (ASK, COMPLAINT)
    assert told.reason
    inspected = fold(1, [Opened("M-1", inspection=True, sequence=1)])
    assert move_of(now(diagnosis=untold, of=inspected)).kind == CHECK
    repaired = case(Repaired(("renew_sensor",), ("sensor",)))
    assert move_of(now(diagnosis=untold, of=repaired)).kind == CHECK


LOOK = cast(CheckOption, SimpleNamespace(id="safe", name="Bar it by hand"))


def stop(hazard: bool = False, probability: float = 0.3) -> Stop:
    of = cast(Hazard, SimpleNamespace(id="liquid")) if hazard else None
    return Stop(STOP, "Bearing going", "", frozenset(), (LOOK,), of, "", probability)


def test_a_stop_comes_before_money_with_its_reason() -> None:
    told = move_of(now(stops=(stop(),)))
    assert told == Move(
        MAKE_SAFE, ("safe",), "Bar it by hand",
        "Bearing going (30 %) could wreck more: this settles it with the engine stopped.", 0.0,
        "If it shows nothing, bearing going stops nobody.",
    )  # fmt: skip
    hazard = move_of(now(stops=(stop(hazard=True),)))
    assert (hazard.reason, hazard.unless) == ("Bearing going: rule it out before anything else.", "")
    assert making_safe(now(stops=(stop(probability=0.9),))) is None
    assert making_safe(now(stops=(stop(probability=0.899),))) is not None


@pytest.mark.parametrize(("minutes", "safe"), [(30.0, False), (29.0, True)])
def test_a_check_three_times_as_quick_comes_before_what_may_be_wrecked(minutes: float, safe: bool) -> None:
    at = now(stops=(stop(),), check_price=lambda option: SimpleNamespace(minutes=minutes))
    assert (making_safe(at) is not None) is safe
    nothing = now(stops=(stop(),), order=order(first=None), check_price=at.check_price)
    assert making_safe(nothing) is not None


# ---- once something was repaired ----

ROUGH, SMOOTH = Noted("rough", "present"), Noted("rough", "absent")
RENEWED = Repaired(("renew_sensor",), ("sensor",))


def running(advice: str, probability: float) -> Any:
    cause = RankedCause("loose", "Loose", "test", 0.02, probability, "", True)
    return SimpleNamespace(cause=cause, advice=advice, what="it wrecks all")


def left(*running: Any, cures: bool = True) -> Move:
    curing = {"loose": choice("refit")} if cures else {}
    return move_of(now(case(ROUGH, RENEWED, SMOOTH), running=running, curing=curing.get))


def test_nothing_is_left_to_do_in_a_closed_case() -> None:
    closed = case(ROUGH, Closed(("sensor",)))
    told = move_of(now(closed, stops=(stop(),)))
    assert told == Move(
        CLOSE, (), "Nothing", "This case is closed.", 0.0, "The complaint comes back: reopen it."
    )


def test_after_a_repair_it_is_tried() -> None:
    told = move_of(now(case(ROUGH, RENEWED)))
    assert (told.kind, told.id) == (PROVE, "renew_sensor")
    assert "since the repair" in told.reason
    assert move_of(now(case(ROUGH, RENEWED, ROUGH))).kind == CHECK  # in vain: on with it


def test_what_is_still_there_and_wrecks_more_is_repaired_once_nobody_complains() -> None:
    told = left(running(STOP, 0.5))
    assert (told.kind, told.id) == (REPAIR, "refit")
    assert told.reason == "The complaint is gone, but loose is still there: it wrecks all."
    assert left(running(STOP, 0.49)).kind == PROVE
    assert left(running(WATCH, 0.9)).kind == PROVE
    assert left(running(STOP, 0.9), cures=False).kind == PROVE
    assert left(running(STOP, 0.4), running(WATCH, 0.9), running(STOP, 0.6)).id == "refit"
    assert left().kind == PROVE


def proof(*events: Any) -> Move:
    return move_of(now(case(ROUGH, RENEWED, SMOOTH, *events)))


def test_it_is_proven_put_off_or_closed() -> None:
    id = "prove:renew_sensor:1"
    due, later, done = proof(), proof(Checked(id, "later")), proof(Checked(id))
    assert (due.kind, due.id, due.name) == (PROVE, id, "Try it.")
    assert due.reason == "The complaint is gone; the repair is not proven yet."
    assert (later.kind, later.id) == (PROVE, id)
    assert "falls due later" in later.reason
    assert (done.kind, done.id, done.name) == (CLOSE, "", "Close the case")
    assert done.reason == "The complaint is gone and the repair is proven."
