"""Where one advice on running turns into the next, and what settles a suspicion: sums made here, on records
by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Event, Noted, Opened, OpenedUp
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Access, Check, Finding, Hazard, Knowledge
from diagnose.planning.keep_running import (
    MOVE,
    RUN,
    STILL,
    STOP,
    WATCH,
    KeepRunning,
    _word,
    forbidden,
    keep_running,
)
from diagnose.planning.shop import Shop
from tests.knowledge_by_hand import HERE, cause, finding, knowledge, number
from tests.near import near
from tests.planning.test_keep_running import damage

SHOP = Shop(labour=95, downtime=45)
HOUR = 140.0
SHARE, LEAK = 0.1, 0.2
"""How common the loose part is, and how often it runs rough without."""


def look(id: str, minutes: float, *reveals: str, **rest: Any) -> Check:
    values: dict[str, Any] = {"access": (), "tools": (), "hazards": (), **rest}
    return Check(id, id, "test", number(minutes), reveals=reveals, steps=(), only_if=(), place=HERE, **values)


def loose(
    cost: float,
    running: float = 1.0,
    moving: float = 0.0,
    rough: float = 0.5,
    shows: Mapping[str, float] | None = None,
    seen: Sequence[Finding] = (),
    checks: Sequence[Check] = (),
) -> Knowledge:
    """One cause that wrecks more; it makes the machine run rough, and shows in what is `seen`."""
    plain = knowledge(
        cause("loose", SHARE, {"rough": rough, **(shows or {})}, damage=damage("all", cost, running, moving)),
        finding("rough", LEAK),
        *seen,
    )
    return replace(plain, checks={check.id: check for check in checks})


def said(known: Knowledge, *more: Event) -> Diagnosis:
    events = [Opened("M-1"), Noted("rough", "present"), *more]
    return diagnose(known, fold(1, [replace(event, sequence=n) for n, event in enumerate(events, 1)]))


def advice(known: Knowledge, *more: Event) -> KeepRunning:
    (one,) = keep_running(said(known, *more), SHOP)
    return one


def chance(rough: float = 0.5) -> float:
    """P(loose | rough), by Bayes."""
    shown = 1 - (1 - LEAK) * (1 - rough)
    return SHARE * shown / (SHARE * shown + (1 - SHARE) * LEAK)


@pytest.mark.parametrize(
    ("hours", "word"),
    [(0.49, RUN), (0.51, WATCH), (0.99, WATCH), (1.01, MOVE)],
)
def test_each_step_of_what_running_is_expected_to_wreck(hours: float, word: str) -> None:
    """docs/planning.md: above an hour in the shop move only, above half of one watch."""
    one = advice(loose(hours * HOUR / chance()))
    assert one.running == near(hours * HOUR)
    assert (one.advice, one.what) == (word, "all")


@pytest.mark.parametrize(("hours", "word"), [(0.99, WATCH), (1.01, STOP)])
def test_an_hour_is_the_step_of_what_moving_is_expected_to_wreck(hours: float, word: str) -> None:
    one = advice(loose(hours * HOUR / chance(), running=1.0, moving=1.0))
    assert one.moving == near(hours * HOUR)
    assert one.advice == word


def test_just_so_much_is_not_above_it() -> None:
    """Half of 280 is an hour of 140, to the last bit."""
    words = [
        _word(0.5, running, moving, HOUR) for running, moving in ((140, 0), (280, 0), (1400, 0), (280, 280))
    ]
    assert words == [RUN, WATCH, MOVE, WATCH]


def test_what_wrecks_nothing_more_or_is_not_behind_it_gets_no_advice() -> None:
    known = loose(1e6)
    apart = replace(known.causes["loose"], id="apart", leads_to=())
    plain = replace(known.causes["loose"], id="plain", damage=None)
    found = keep_running(said(replace(known, causes={"apart": apart, "plain": plain, **known.causes})), SHOP)
    assert [one.cause.id for one in found] == ["loose"]


@pytest.mark.parametrize(("times", "word"), [(1.48, RUN), (1.52, STOP)])
def test_what_the_findings_made_little_likelier_stops_nobody(times: float, word: str) -> None:
    """The link that makes it so many times likelier than before is solved from Bayes' rule."""
    shown = times * (1 - SHARE) * LEAK / (1 - times * SHARE)
    rough = 1 - (1 - shown) / (1 - LEAK)
    assert chance(rough) == near(times * SHARE)
    assert advice(loose(1e6, 1.0, 1.0, rough=rough)).advice == word


def test_the_worst_is_told_first_and_what_is_forbidden_is_what_any_forbids() -> None:
    known = loose(20 * HOUR)
    lighter = replace(known.causes["loose"], id="lighter", damage=damage("less", 3 * HOUR, 1.0, 0.0))
    known = replace(known, causes={"lighter": lighter, **known.causes})
    found = keep_running(said(known), SHOP)
    assert [one.cause.id for one in found] == ["loose", "lighter"]
    words = {word: replace(found[0], advice=word) for word in (STOP, MOVE, WATCH, RUN, STILL)}
    assert forbidden([words[WATCH], words[RUN], words[STILL]]) == frozenset()
    assert forbidden([words[MOVE]]) == {"load"}
    assert forbidden([words[RUN], words[MOVE], words[STOP]]) == {"load", "running"}


def test_a_machine_found_not_to_run_has_no_damage_of_running() -> None:
    known = loose(1e6, 1.0, 1.0, seen=[replace(finding("stalls", 0.01), without=("running",))])
    one = advice(known, Noted("stalls", "present"))
    assert (one.advice, one.running, one.moving, one.ruling_out, one.check) == (STILL, 0, 0, 0, None)


# ---- what settles it ----


def bolt(leak: float = 0.001, **rest: Any) -> Finding:
    return replace(finding("bolt_turns", leak), **{"kind": "inspection", **rest})


def settled(
    check: Check, shows: float = 0.97, seen: Finding | None = None, cost: float = 2 * HOUR / 0.25
) -> bool:
    """Whether this check is named as what settles it: there is a suspicion of 2.0 hours or so until it is."""
    one = advice(loose(cost, shows={"bolt_turns": shows}, seen=[seen or bolt()], checks=[check]))
    assert one.advice == MOVE
    assert one.ruling_out == near(SHOP.time(check.minutes.value) if one.check else HOUR)
    return one.check is not None and one.check.id == check.id


TRY = look("try_bolt", 30, "bolt_turns")


@pytest.mark.parametrize(("kind", "settles"), [("inspection", True), ("reading", True), ("symptom", False)])
def test_only_what_is_seen_or_measured_settles_it(kind: str, settles: bool) -> None:
    assert settled(TRY, seen=bolt(kind=kind)) is settles


@pytest.mark.parametrize(("shows", "settles"), [(0.59, False), (0.61, True), (1.0, True)])
def test_it_must_mostly_show(shows: float, settles: bool) -> None:
    assert settled(TRY, shows) is settles


@pytest.mark.parametrize(("leak", "settles"), [([0.05], True), ([0.06], False), ([0.03, 0.03], False)])
def test_it_must_seldom_show_without_reason(leak: list[float], settles: bool) -> None:
    states = ("no", "a little", "much")[: len(leak) + 1]
    seen = replace(finding("bolt_turns", leak, *states), kind="inspection")
    shows: Any = 0.9 if len(leak) == 1 else [[0.3, 0.6]]
    known = loose(2 * HOUR / chance(), shows={"bolt_turns": shows}, seen=[seen], checks=[TRY])
    assert (advice(known).check is not None) is settles


@pytest.mark.parametrize(("missed", "settles"), [(0.95, True), (1.05, False)])
def test_after_its_good_result_the_advice_must_fall(missed: float, settles: bool) -> None:
    """What is left of the cause is worked out by a diagnosis with the good result noted; the damage is put so
    that this is just below, or just above, an hour in the shop."""
    seen = bolt(1e-12)
    after = said(
        loose(1, shows={"bolt_turns": 0.7}, seen=[seen], checks=[TRY]), Noted("bolt_turns", "absent")
    )
    left = after.causes[0].probability
    assert 0.05 < left < 0.1
    assert settled(TRY, 0.7, seen, cost=missed * HOUR / left) is settles


def test_the_cheapest_that_settles_it_is_named_with_its_dismantling() -> None:
    """Twelve minutes behind a cover that takes 5 + 8 are dearer than twenty without; not where it is off
    already."""
    cover = Access("cover", "cover", (), 5, 8, (), HERE)
    behind, before = look("behind", 12, "bolt_turns", access=("cover",)), look("before", 20, "bolt_turns")
    known = replace(
        loose(2 * HOUR / chance(), shows={"bolt_turns": 0.97}, seen=[bolt()], checks=[behind, before]),
        access={"cover": cover},
    )
    one, opened = advice(known), advice(known, OpenedUp("cover"))
    assert one.check is not None
    assert opened.check is not None
    assert (one.check.id, one.ruling_out) == ("before", near(20 / 60 * HOUR))
    assert (opened.check.id, opened.ruling_out) == ("behind", near(12 / 60 * HOUR))
    alone = advice(replace(known, checks={"behind": behind}))
    assert alone.ruling_out == near(25 / 60 * HOUR)


@pytest.mark.parametrize(("wants", "settles"), [("cranking", True), ("running", False), ("load", False)])
def test_nobody_runs_it_to_find_out_whether_it_may_run(wants: str, settles: bool) -> None:
    assert settled(replace(TRY, wants=(wants,))) is settles


@pytest.mark.parametrize(("asked", "settles"), [(0, True), (1, True), (2, False)])
def test_what_is_mostly_asked_settles_nothing(asked: int, settles: bool) -> None:
    told = [replace(finding(f"told_{n}", 0.01), kind="question") for n in range(asked)]
    check = look("ask_and_try", 30, "bolt_turns", *(one.id for one in told))
    shows = {"bolt_turns": 0.97, **{one.id: 0.5 for one in told}}
    known = loose(2 * HOUR / chance(), shows=shows, seen=[bolt(), *told], checks=[check])
    assert (advice(known).check is not None) is settles


def test_a_check_that_a_stop_holds_back_settles_nothing() -> None:
    stop = Hazard("liquid", "Liquid", "Bar it by hand.", "", (), True, HERE, suspect=("rough",), above=0.5)
    checks = [replace(TRY, hazards=("liquid",))]
    known = loose(2 * HOUR / chance(), shows={"bolt_turns": 0.97}, seen=[bolt()], checks=checks)
    for above, held in ((0.5, True), (1.0, False)):
        live = replace(known, hazards={"liquid": replace(stop, above=above)})
        assert (advice(live).check is None) is held
