"""What each check tells and in which order they are told, on a world of two causes; the figures are those of
diagnoses with each result noted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Event, Noted, Opened, OpenedUp
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Access, Hazard, Knowledge
from diagnose.planning import checks
from diagnose.planning.checks import (
    CheckValue,
    Order,
    in_which_order,
    most_telling,
    next_checks,
    predicted_bits,
)
from diagnose.planning.savings import Saving
from diagnose.planning.shop import Shop
from diagnose.planning.since import ASK_LAST_RIGHT, Since
from diagnose.planning.situation import Situation, situation
from tests.knowledge_by_hand import HERE, cause, finding, knowledge
from tests.near import near
from tests.planning.test_options_by_hand import hazard, repair
from tests.planning.test_running_by_hand import look
from tests.planning.test_savings import check, standing

SHOP = Shop(labour=60, downtime=6, comeback=300, hand_over=2000)
ROUGH = Noted("rough", "present")


def known(*hazards: Hazard) -> Knowledge:
    """The bolt (20 %) and the pipe (10 %) make it rough; the bolt turns, the pipe hisses."""
    plain = knowledge(
        cause("bolt", 0.2, {"rough": 0.9, "turns": 0.9, "knocks": 0.4}),
        cause("pipe", 0.1, {"rough": 0.9, "hisses": 0.8, "wet": [[0.5, 0.3]]}),
        finding("rough", 0.02),
        replace(finding("turns", 0.02), kind="inspection", observe="Turn it."),
        replace(finding("hisses", 0.02), kind="inspection"),
        replace(finding("wet", [0.03, 0.01], "dry", "damp", "wet"), kind="inspection"),
        replace(finding("knocks", 0.05), kind="inspection"),
    )
    procedures = [
        look("turn", 10, "turns", tools=("spanner",)), look("listen", 10, "hisses", access=("cover",), wait=2.0),
        look("crank", 10, "knocks", wants=("cranking",)), look("wipe", 30, "wet"),
    ]  # fmt: skip
    return replace(
        plain,
        checks={one.id: one for one in procedures},
        repairs={id: repair(id, (id, 0.97)) for id in ("bolt", "pipe")},
        access={"cover": Access("cover", "cover", (), 7, 8, (), HERE)},
        hazards={one.id: one for one in hazards},
    )


def seen(*events: Event, of: Knowledge | None = None) -> Diagnosis:
    told = [Opened("M-1", last_right=500.0), ROUGH, *events]
    case = fold(1, [replace(event, sequence=n) for n, event in enumerate(told, 1)])
    return diagnose(of or known(), case)


def listed(*events: Event, of: Knowledge | None = None, **how: Any) -> list[CheckValue]:
    diagnosis = seen(*events, of=of)
    return list(next_checks(diagnosis, situation(diagnosis, SHOP), **how))


def named(found: Sequence[CheckValue], id: str) -> CheckValue:
    return next(one for one in found if one.id == id)


def chances(*events: Event) -> np.ndarray:
    found = {one.id: one.probability for one in seen(*events).causes}
    return np.array([found["bolt"], found["pipe"]])


def entropy(p: np.ndarray) -> float:
    return float(-(p * np.log2(p) + (1 - p) * np.log2(1 - p)).sum())


@pytest.mark.parametrize(
    ("id", "of", "bad"), [("turn", "turns", ["present"]), ("wipe", "wet", ["damp", "wet"])]
)
def test_what_a_check_tells_is_what_the_causes_lose_of_doubt(id: str, of: str, bad: list[str]) -> None:
    """Sum of the causes' entropies now, less that after each result by how likely it is; how likely follows
    from the law of total probability."""
    states = [*bad, "absent" if of == "turns" else "dry"]
    after = np.array([chances(Noted(of, state)) for state in states])
    found = named(listed(), id)
    shares = {result.states[of]: result.probability for result in found.results}
    p = np.array([shares[state] for state in states])
    assert p.sum() == near(1)
    assert p @ after == near(chances())
    assert found.bits == near(entropy(chances()) - float(p @ [entropy(row) for row in after]))
    for result in found.results:
        then = after[states.index(result.states[of])]
        assert (result.leading, result.leading_probability) == (
            ("bolt", "pipe")[int(np.argmax(then))], near(then.max())
        )  # fmt: skip
    assert [result.probability for result in found.results] == sorted(shares.values(), reverse=True)


def test_what_a_check_takes() -> None:
    """10 minutes, 7 + 8 for the cover at 1.1 a minute, two hours of standing at 6."""
    found = named(listed(), "listen")
    assert (found.minutes, found.access_minutes, found.total_minutes) == (10, 15, 25)
    assert found.cost == near(25 * 1.1 + 12)
    assert [state.id for state in found.access] == ["cover"]
    assert found.bits_per_minute == near(found.bits / 25)
    assert found.value_per_minute == near(found.value / 25)
    opened = named(listed(OpenedUp("cover")), "listen")
    assert (opened.total_minutes, opened.access) == (10, ())
    turn = named(listed(), "turn")
    assert (turn.tools, turn.steps, turn.findings, turn.held_back) == (("spanner",), (), ("turns",), None)
    quick = replace(turn, minutes=0.1, access_minutes=0.0, bits=1.0, value=3.0)
    assert (quick.bits_per_minute, quick.value_per_minute) == (2.0, 6.0)


def test_a_look_says_how_and_takes_no_tools() -> None:
    own = known()
    plain = replace(
        own,
        checks={id: one for id, one in own.checks.items() if id != "turn"},
        findings={**own.findings, "turns": replace(own.findings["turns"], kind="symptom")},
    )
    found = named(listed(of=plain), "look:turns")
    assert (found.tools, found.steps, found.findings, found.access) == ((), ("Turn it.",), ("turns",), ())


def test_its_worth_is_what_it_saves_or_its_price_lost() -> None:
    diagnosis = seen()
    now = situation(diagnosis, SHOP)
    saved = {now.checks[n].id: one.money for n, one in in_which_order(diagnosis, now).saved.items()}
    for one in next_checks(diagnosis, now):
        assert one.value == near(saved.get(one.id, -one.cost))
    assert max(saved.values()) > 0


def test_those_that_save_come_first_in_their_order_then_by_bits_per_minute() -> None:
    diagnosis = seen()
    now = situation(diagnosis, SHOP)
    order = in_which_order(diagnosis, now)
    found = next_checks(diagnosis, now)
    saving = [now.checks[n].id for n in (*order.ahead, *order.saving)]
    assert [one.id for one in found][: len(saving)] == saving
    rest = [one.bits_per_minute for one in found[len(saving) :]]
    assert rest == sorted(rest, reverse=True)


def test_the_lead_comes_first_whatever_it_saves() -> None:
    assert listed()[0].id != "wipe"
    assert listed(lead="wipe")[0].id == "wipe"
    assert next(one.id for one in listed(lead="wipe", most=1)) == "wipe"


def test_what_rules_out_a_stop_comes_first_the_quickest_first_and_what_it_holds_back_last() -> None:
    stop = hazard(forbids=("cranking",), cleared_by=("wipe", "turn"))
    found = listed(of=known(stop))
    assert [one.id for one in found[:2]] == ["turn", "wipe"]
    last = found[-1]
    assert (last.id, last.held_back, last.bits, last.results) == ("crank", stop, 0, ())
    assert [one.id for one in listed(of=known(stop), lead="listen")][:3] == ["listen", "turn", "wipe"]
    assert all(one.held_back is None for one in listed())


def test_about_as_many_as_asked_for() -> None:
    assert len(listed()) == 4
    one = [found.id for found in listed(most=1)]
    assert 1 <= len(one) <= 2
    assert one[0] == listed()[0].id


# ---- the question since when ----


def asked(value: float) -> CheckValue:
    plain = named(listed(), "turn")
    return replace(plain, id=ASK_LAST_RIGHT, value=value)


def with_question(value: float, lead: str = "", **how: Any) -> list[str]:
    diagnosis = seen()
    now = situation(diagnosis, SHOP)
    order = replace(in_which_order(diagnosis, now), question=asked(value), **how)
    return [one.id for one in next_checks(diagnosis, now, None, order, lead)]


def test_the_question_stands_by_what_it_saves() -> None:
    plain = listed()
    assert with_question(1e6)[0] == ASK_LAST_RIGHT
    assert with_question(-1e6)[-1] == ASK_LAST_RIGHT
    between = (plain[0].value + plain[1].value) / 2
    assert with_question(between)[1] == ASK_LAST_RIGHT
    assert with_question(1e6, lead="wipe")[:2] == ["wipe", ASK_LAST_RIGHT]
    assert with_question(-1e6, lead=ASK_LAST_RIGHT)[0] == ASK_LAST_RIGHT
    go = (ASK_LAST_RIGHT, "wipe", "crank")
    assert set(with_question(-1e6, lead=ASK_LAST_RIGHT, go=go)[1:3]) == {"wipe", "crank"}


def order_of(
    monkeypatch: pytest.MonkeyPatch, gain: float, price_paid: bool = True, again: bool = False
) -> Order:
    diagnosis = seen()
    now = situation(diagnosis, SHOP)
    told = Since(np.array([[0.1, 0.9], [0.9, 0.1]] * 2), 0, lambda: (1000.0, gain))
    still = Since(np.array([[0.5, 0.4]] * 4), 0, lambda: (1000.0, gain))
    monkeypatch.setattr(checks, "since", lambda of, at: told if price_paid else still)
    monkeypatch.setattr(checks, "were_asked", lambda of: again)
    return in_which_order(diagnosis, now)


def test_it_comes_first_where_it_saves_more_than_the_first_check(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its price is a minute: 1.1."""
    best = max(one.money for one in in_which_order(seen(), situation(seen(), SHOP)).saved.values())
    first = order_of(monkeypatch, best + 1.2)
    assert first.question is not None
    assert (first.question.cost, first.question.value) == (near(1.1), near(best + 0.1))
    assert (first.asks_since, first.go) == (True, (ASK_LAST_RIGHT,))
    second = order_of(monkeypatch, best + 1.0)
    assert (second.question is not None, second.asks_since, second.go) == (True, False, ())
    assert order_of(monkeypatch, 1e6, price_paid=False).question is None
    assert (first.question.total_minutes, first.question.access) == (1, ())
    results = first.question.results
    assert [(one.leading, one.leading_probability) for one in results][:2] == [("pipe", 0.9), ("bolt", 0.9)]
    assert first.question.minutes == 1


def test_where_no_check_saves_the_question_must_only_pay(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "in_order", lambda now, saved: ([], []))
    order = order_of(monkeypatch, 1.2)
    assert (order.first, order.asks_since, order.go) == (None, True, (ASK_LAST_RIGHT,))


def test_what_dismantling_would_prevent_stays_ahead_of_what_is_quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only without it a quicker check comes before the first."""
    monkeypatch.setattr(checks, "quick_first", lambda now, saved, first, but: 2)
    for ahead, saving in (((3,), (0, 1, 2)), ((), (2, 0, 1))):
        monkeypatch.setattr(checks, "in_order", lambda now, saved, ahead=ahead: ([*ahead], [0, 1, 2]))
        order = order_of(monkeypatch, 0.0)
        assert (order.ahead, order.saving) == (ahead, saving)


def test_asked_in_one_go_the_first_check_is_at_its_head(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the others that are asked, and the question since when at the end where it pays."""
    diagnosis = seen()
    now = situation(diagnosis, SHOP)
    first = in_which_order(diagnosis, now).first
    assert first is not None
    others = [n for n in range(len(now.checks)) if n != first][:2]
    monkeypatch.setattr(checks, "passing", lambda *_: [first, *others])
    monkeypatch.setattr(checks, "in_one_go", lambda *_: [*others, first])
    wanted = [now.checks[n].id for n in (first, *others)]
    assert order_of(monkeypatch, 0.0, price_paid=False).go == (*wanted,)
    assert order_of(monkeypatch, 1.2).go == (*wanted, ASK_LAST_RIGHT)
    monkeypatch.setattr(checks, "passing", lambda *_: others)
    assert order_of(monkeypatch, 1.2).go == ()


def test_the_best_for_its_minutes_is_among_those_looked_into() -> None:
    """Half a minute at least: 2 saved in no time are 4 a minute, more than 3 in one."""
    minutes = (10.0, 1.0, 0.1, 1.0)
    options = [replace(one, id=f"c{n}") for n, one in enumerate(situation(seen(), SHOP).checks)]
    now = cast("Situation", SimpleNamespace(checks=options, minutes=minutes.__getitem__))
    worth = {"c0": 5.0, "c1": 3.0, "c2": 2.0}
    chosen = checks._promising(now, [0, 1, 2], worth, set(), 1)
    assert chosen == [0, 2]


# ---- what is predicted ----


def test_predicted_bits_are_what_result_and_faults_share() -> None:
    """Four faults alike: halves tell one bit, a sure fourth the entropy of 1/4; a coin tells nothing."""
    coin = check("coin", 1, [0.5, 0.5, 0.5, 0.5])
    halves, fourth = check("halves", 10, [1, 1, 0, 0]), check("fourth", 2, [0, 0, 0, 1])
    now = standing(halves, fourth, coin)
    wanted = [1.0, -(0.25 * np.log2(0.25) + 0.75 * np.log2(0.75)), 0.0]
    assert [predicted_bits(now, n) for n in range(3)] == near(wanted)
    told = most_telling(now)
    assert [n for n, _ in told] == [1, 0, 2]
    assert [bits for _, bits in told] == near([wanted[1] / 2, 0.1, 0])
    never = standing(check("never", 1, [0, 0, 0, 0]))
    assert predicted_bits(never, 0) == near(0.0)
    quick = most_telling(standing(check("halves", 0.1, [1, 1, 0, 0])))
    assert quick == [(0, near(1.0))]  # a minute at least


def test_the_first_check_is_one_that_must_be_done_before() -> None:
    nothing: dict[int, Saving] = {}
    assert Order(nothing, (3,), (1, 2), None).first == 3
    assert Order(nothing, (), (1, 2), None).first == 1
    assert Order(nothing, (), (), None).first is None
