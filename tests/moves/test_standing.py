"""Prices and worth of moves on a problem small enough for a sum on paper.

As in tests/planning/test_repairs_in_money.py: a pump (70 %, 110 with its cover) or a seal (30 %, 60). With
repairs alone the pump comes first: 110 + 0.3 (30 + 60) = 137. A look that tells which costs 12 and stands
without the cover: 12 + 0.7 x 110 + 0.3 x 60 = 107.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from diagnose.cases.events import Event, OpenedUp
from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Access, Hazard, Knowledge, Repair
from diagnose.moves import standing as actions
from diagnose.moves.advice import Advice, advised
from diagnose.moves.move import ASK, CHECK, CLOSE, HAND_OVER, MAKE_SAFE, PROVE, REPAIR, Move
from diagnose.moves.standing import Action, Standing, cheapest_cure
from diagnose.planning.checks import Order
from diagnose.planning.decide import TO_A_SPECIALIST
from diagnose.planning.keep_running import keep_running
from diagnose.planning.options import CheckOption
from diagnose.planning.problem import Test as Look
from diagnose.planning.savings import savings
from diagnose.planning.shop import Shop
from diagnose.planning.situation import Situation
from tests.knowledge_by_hand import HERE, cause, finding, knowledge
from tests.near import near
from tests.planning import test_checks_by_hand as by_hand
from tests.planning import test_repairs_in_money as money
from tests.planning.test_running_by_hand import look

SHOP = Shop(labour=60, downtime=6, comeback=30, consumables=0, hand_over=500, horizon=500)
PUMP, SEAL = money.PUMP, money.SEAL
TELLS = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
"""Of no fault, the pump and the seal."""


def option(id: str, minutes: float = 10, access: tuple[str, ...] = (), wait: float = 0.0) -> CheckOption:
    check = replace(look(id, minutes, "rough"), wait=wait)
    return CheckOption(id, id.capitalize(), minutes, check, ("rough",), access)


LOOK, DEAF = option("look", 12), option("deaf", 20, ("inner",), 2.0)


def known(*more: Repair) -> Knowledge:
    inner = Access("inner", "inner", ("cover",), 7, 11, (), HERE)
    plain = money.known(PUMP, SEAL, money.BEARING, money.PATCH, *more)
    return replace(plain, access={**plain.access, "inner": inner})


def situation(
    *, last_resort: float = 1e6, price: float = 12.0, sets: Sequence[tuple[Repair, ...]] = ()
) -> Situation:
    plain = money.standing([0.7, 0.3], [*money.BOTH, *sets], [[1, 0], [0, 1]], last_resort=last_resort)
    test = Look("look", price, 0, TELLS)
    return replace(plain, problem=replace(plain.problem, tests=(test,)), checks=(LOOK,), shop=SHOP)


def standing(*events: Event, kind: type[Any] = Standing, now: Situation | None = None, **rest: Any) -> Any:
    case = money.diagnosis(known(), None, {"worn": 0.7, "leaks": 0.3}, *events)
    found = kind(known(), case.case, SHOP, case)
    values: dict[str, Any] = {"situation": now or situation(), "checks": (LOOK, DEAF), "hazards": (), **rest}
    for name, value in values.items():
        setattr(found, name, value)
    return found


# ---- prices ----


def test_a_check_is_paid_with_its_dismantling_and_its_waiting() -> None:
    """20 minutes behind a cover (5 + 5) and what is behind that (7 + 11) are 48; two hours of standing at
    6."""
    price = standing().check_price(DEAF)
    assert (price.minutes, price.money) == (48, near(48 * 1.1 + 12))
    opened = standing(OpenedUp("cover")).check_price(DEAF)
    assert (opened.minutes, opened.money) == (38, near(38 * 1.1 + 12))
    assert standing(OpenedUp("inner")).check_price(DEAF).minutes == 20
    assert standing().check_price(LOOK).minutes == 12


def test_repairs_share_their_dismantling_and_add_up_else() -> None:
    both = standing().repair_price([PUMP, SEAL])
    assert (both.minutes, both.money) == (100, near(110 + 60))
    one = standing(OpenedUp("cover")).repair_price([SEAL])
    assert (one.minutes, one.money) == (30, near(33 + 20))


def test_the_cheapest_cure_of_a_cause() -> None:
    assert cheapest_cure(known(), "worn", SHOP) == near(70 * 1.1 + 40)
    assert cheapest_cure(known(), "bearing_gone", SHOP) == near(1.1 + 9)
    assert cheapest_cure(known(), "unheard_of", SHOP) == 0


# ---- worth ----


def test_what_each_action_is_expected_to_cost() -> None:
    now = standing()
    assert now.repairs_alone == near(137)
    assert now.check(LOOK) == Action(CHECK, ("look",), "Look", near(107))
    assert now.check(DEAF).expected == near(137 + 48 * 1.1 + 12)  # it tells nothing
    assert now.repair([PUMP]).expected == near(137)
    assert now.repair([SEAL]).expected == near(60 + 0.7 * (30 + 110))
    assert (now.repair([SEAL]).ids, now.repair([SEAL]).name) == (("seal",), "Seal")
    assert now.hand_over() == Action(actions.HAND_OVER, (), TO_A_SPECIALIST, near(1e6))
    ranked = now.actions
    assert [(one.kind, one.ids) for one in ranked] == [
        (CHECK, ("look",)), (REPAIR, ("pump",)), (REPAIR, ("seal",)), (actions.HAND_OVER, ())
    ]  # fmt: skip
    assert [one.expected for one in ranked] == near([107, 137, 158, 1e6])


def test_repairs_done_together_that_nobody_planned() -> None:
    """Both at once: 100 + 50 and the cover, and nothing after it; what cures nothing is paid on top."""
    now = standing()
    assert now.repair([SEAL, PUMP]).expected == near(160)
    assert now.repair([SEAL, PUMP]).ids == ("pump", "seal")
    assert now.repair([PUMP, SEAL, money.PATCH]).expected == near(160 + 1.1 + 9)
    in_vain = now.repair([money.PATCH, money.BEARING])
    assert in_vain.expected == near(137 + 121 * 1.1 + 89 + 30)
    planned = standing(now=situation(sets=[(PUMP, SEAL)]))
    assert planned.repair([SEAL, PUMP]).expected == near(160)


def test_a_repair_that_can_cure_nothing_any_more_is_paid_in_vain() -> None:
    now = situation()
    cures = tuple(replace(one, cures=np.zeros(2)) if n else one for n, one in enumerate(now.problem.fixes))
    dead = standing(now=replace(now, problem=replace(now.problem, fixes=cures)))
    assert dead.repair([SEAL]).expected == near(dead.repairs_alone + (40 * 1.1 + 20) + 30)
    cures = tuple(replace(one, cures=np.zeros(2)) for one in now.problem.fixes)
    dead = standing(now=replace(now, problem=replace(now.problem, fixes=cures)))
    assert dead.repair([PUMP, SEAL]).expected == near(1e6 + 170 + 30)


def test_it_is_handed_over_where_that_costs_less_than_any_repair() -> None:
    assert not standing(now=situation(last_resort=140)).hands_over
    assert standing(now=situation(last_resort=130)).hands_over


def order(now: Situation, question: float | None = None, ahead: Sequence[int] = ()) -> Order:
    asked = None if question is None else cast(Any, SimpleNamespace(value=question))
    saved = savings(now)
    return Order(saved, tuple(ahead), tuple(n for n in saved if n not in ahead), asked)


def test_the_most_that_a_check_saves() -> None:
    now = situation()
    assert standing(order=order(now)).best_saving == near(30)
    assert standing(order=order(now, question=40.0)).best_saving == 40
    assert standing(order=Order({}, (), (), None)).best_saving == 0


@pytest.mark.parametrize(
    ("price", "question", "last_resort", "none"),
    [
        (12.0, None, 1e6, False),  # saves 30
        (37.0, None, 1e6, True),  # saves 5: less than its price, and than a twentieth of 137 (6.85)
        (35.0, None, 1e6, False),  # saves 7
        (37.0, 1.0, 1e6, False),  # there is a question
        (37.0, None, 130.0, False),  # no repair is the way on
    ],
)
def test_whether_any_check_is_worth_its_price(
    price: float, question: float | None, last_resort: float, none: bool
) -> None:
    now = situation(price=price, last_resort=last_resort)
    assert standing(now=now, order=order(now, question)).none_worth_its_price is none
    assert standing(now=now, order=order(now, question, ahead=[0])).none_worth_its_price is none


def test_a_check_that_saves_little_but_more_than_it_costs_is_worth_it() -> None:
    """It tells the seal one time in twenty, for 0.2: it saves more than that, and less than a twentieth of
    137."""
    now = situation()
    weak = np.array([[1.0, 0.0], [1.0, 0.0], [1 - 0.05, 0.05]])
    now = replace(now, problem=replace(now.problem, tests=(Look("look", 0.2, 0, weak),)))
    saved = savings(now)[0].money
    assert 0.2 < saved < 0.05 * 137
    assert not standing(now=now, order=order(now)).none_worth_its_price


def test_what_a_check_must_save_to_wait_for_it() -> None:
    """A tenth of what is to be spent, an hour and a half in the shop (99) at most."""
    assert standing().slack == near(13.7)
    assert standing(repairs_alone=5000.0).slack == near(99)


# ---- what there is ----


def test_the_leading_cause_is_the_first_that_can_be_behind_it() -> None:
    now = standing()
    assert now.leading.id == "worn"
    case = money.diagnosis(known(), None, {"worn": 0.7}, relevant=False)
    assert Standing(known(), case.case, SHOP, case).leading is None
    none = cast(Diagnosis, SimpleNamespace(causes=()))
    assert Standing(known(), case.case, SHOP, none).leading is None


def choice(*repairs: Repair, held: Hazard | None = None) -> Any:
    return SimpleNamespace(repairs=repairs, held_back=held)


STOP = Hazard("fuel", "Fuel", "", "", (), True, HERE, blocks=("crush",), forbids=("running",))


def test_the_best_repair_is_one_that_nothing_holds_back_and_a_cure_the_first_that_cures() -> None:
    choices = (choice(PUMP, held=STOP), choice(SEAL), choice(PUMP, SEAL))
    now = standing(choices=choices)
    assert now.best_repair is choices[1]
    assert now.curing("leaks") is choices[1]
    assert now.curing("worn") is choices[0]
    assert now.curing("bearing_gone") is None
    assert standing(choices=choices[:1]).best_repair is None


def test_what_a_stop_holds_back() -> None:
    now = standing(hazards=(STOP,))
    assert now.held(["fuel"], "x") is STOP
    assert now.held(["water"], "x") is None
    runs = replace(LOOK, wants=("running",))
    assert now.held_check(runs) is STOP
    assert now.held_check(LOOK) is None
    assert now.held_check(replace(LOOK, hazards=("crush",))) is STOP
    assert now.held_repair([SEAL]) is STOP  # its cover can crush
    assert now.held_repair([money.BEARING]) is None
    assert now.held_repair([money.BEARING, PUMP]) is STOP
    assert now.check_option("deaf") is DEAF
    assert now.check_option("gone") is None


# ---- the advice ----


def advice(move: Move, **rest: Any) -> Advice:
    return cast(Advice, standing(kind=Advice, move=move, **rest))


def test_the_repairs_begin_with_the_move() -> None:
    choices = (choice(PUMP), choice(SEAL), choice(PUMP, SEAL), choice(SEAL))
    listed = advice(Move(REPAIR, ("seal", "pump"), "", ""), choices=choices).repairs()
    assert list(listed) == [choices[n] for n in (2, 0, 1, 3)]
    assert list(advice(Move(REPAIR, ("patch",), "", ""), choices=choices).repairs()) == list(choices)
    assert list(advice(Move(CHECK, ("seal",), "", ""), choices=choices).repairs()) == list(choices)


@pytest.mark.parametrize("kind", [ASK, MAKE_SAFE, CHECK])
def test_the_best_action_is_the_move_with_its_price(kind: str) -> None:
    now = advice(Move(kind, ("look",), "", ""))
    assert now.best == now.check(LOOK)
    assert now._first_action() == ("test", 0)
    assert advice(Move(kind, ("deaf",), "", ""))._first_action() is None
    assert advice(Move(kind, ("gone",), "", "")).best == now.actions[0]


def test_the_best_action_is_the_move_also_where_it_is_not_the_cheapest() -> None:
    """At 50 the look comes to 145, the pump at once to 137."""
    now = advice(Move(CHECK, ("look",), "", ""), now=situation(price=50.0))
    assert now.best == now.check(LOOK)
    assert now.best != now.actions[0]


def test_checks_and_plan_begin_with_the_move() -> None:
    diagnosis = by_hand.seen()
    now = Advice(diagnosis.knowledge, diagnosis.case, by_hand.SHOP, diagnosis)
    for kind, first in ((CHECK, True), (REPAIR, False)):
        now.move = Move(kind, ("wipe",), "", "")
        assert (now.next_checks()[0].id == "wipe") is first
    now.move = Move(CHECK, ("wipe",), "", "")
    made = advised(diagnosis, by_hand.SHOP)
    assert (made.knowledge, made.case, made.shop) == (now.knowledge, now.case, by_hand.SHOP)
    assert made.diagnosis is diagnosis
    check = now.decide(0.1).first.check
    assert check is not None
    assert check.id == "wipe"


def test_the_best_action_of_other_moves() -> None:
    now = advice(Move(REPAIR, ("pump",), "", ""))
    assert now.best == now.repair([PUMP])
    assert now._first_action() == ("fix", 0)
    assert advice(Move(REPAIR, ("seal",), "", ""))._first_action() == ("fix", 1)
    assert advice(Move(REPAIR, ("seal", "pump"), "", ""))._first_action() is None
    assert advice(Move(HAND_OVER, (), "", "")).best == now.hand_over()
    for kind in (PROVE, CLOSE):
        assert advice(Move(kind, (), "", "")).best == now.actions[0]
        assert advice(Move(kind, (), "", ""))._first_action() is None


def test_regret_is_what_an_action_costs_beyond_the_cheapest_none_of_the_move_itself() -> None:
    now = advice(Move(REPAIR, ("pump",), "", ""))
    assert now.regret(now.repair([SEAL])) == near(158 - 107)
    assert now.regret(now.repair([PUMP])) == 0
    assert now.regret(now.check(LOOK)) == 0
    hardly = replace(now.check(LOOK), expected=107 + 1e-7)
    assert now.regret(hardly) == 0


def test_names_of_what_is_asked() -> None:
    named = [replace(LOOK, id=str(n), name=name, asked=asked) for n, (name, asked) in enumerate(
        (("Ask: use?", "use?"), ("Look: Why?", "Why?"), ("Look inside", "")))]  # fmt: skip
    now = advice(Move(CHECK, ("0",), "", ""), checks=tuple(named))
    assert now.names(["0", "1", "2"]) == ("use", "why", "look inside")
    assert now.names(["ask:last-right"]) == ("when was the machine last known right",)


def test_codes_expected_are_those_likely_stored_the_likeliest_first() -> None:
    """P(code) = 0.001 + (1 - 0.001) x P(cause) x strength or so: 5 % and more counts."""
    plain = knowledge(
        cause("one", 0.3, {"rough": 0.9, "strong": 0.9, "weak": 0.02, "some": 0.3, "seen": 0.9}),
        finding("rough", 0.01),
        *(replace(finding(id, 0.001), kind="code") for id in ("strong", "weak", "some")),
        finding("seen", 0.01),
    )
    case = money.diagnosis(plain, None, {"one": 0.9})
    now = Standing(plain, case.case, SHOP, case)
    told = ["weak", "some", "strong", "seen", "unheard_of"]
    assert now.expected(told) == ("strong", "some")


def test_twelve_codes_at_most() -> None:
    ids = [f"code{n:02}" for n in range(14)]
    plain = knowledge(
        cause("one", 0.3, {"rough": 0.9, **{id: 0.9 - n / 100 for n, id in enumerate(ids)}}),
        finding("rough", 0.01),
        *(replace(finding(id, 0.001), kind="code") for id in ids),
    )
    case = money.diagnosis(plain, None, {"one": 0.9})
    assert Standing(plain, case.case, SHOP, case).expected(ids) == tuple(ids[:12])


def test_all_of_it_is_of_the_same_diagnosis() -> None:
    """A suspected stop stands among the stops and the hazards; what is weighed, and what can be done, is
    there."""
    stop = replace(STOP, suspect=("rough",), above=0.5)
    whole = replace(known(), hazards={**known().hazards, "fuel": stop})
    case = money.diagnosis(whole, None, {"worn": 0.7, "leaks": 0.3})
    for now in (Standing(whole, case.case, SHOP, case), Standing(whole, case.case, SHOP)):
        assert now.stops[0].hazard == stop
        assert now.running == keep_running(now.diagnosis, SHOP)
        assert now.hazards == (stop,)
        assert ("pump",) in {tuple(r.id for r in one.repairs) for one in now.choices}
        assert now.order.first is None  # there is nothing to look at
        assert now.checks == ()
        assert len(now.situation.repairs) >= 2
