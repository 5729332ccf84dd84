"""Which repairs are done together, in sums worked out here.

A pump (70 %) or a seal (30 %) is behind it, never both. An hour costs 60, a comeback 30; both stand behind a
cover that takes 5 + 5 minutes. The pump: 60 minutes and a part of 40; the seal: 30 minutes and one of 20. So
the pump costs 110 with the cover, the seal 60, both 160; and after the wrong one alone comes the other, with
a comeback.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import exp
from typing import Any

import numpy as np
import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Event, Noted, Opened, OpenedUp
from diagnose.diagnosis import Diagnosis, RankedCause, diagnose
from diagnose.knowledge.records import Access, Cure, Hazard, Knowledge, Life, Part, Repair
from diagnose.planning.planner import Planner
from diagnose.planning.problem import Fix, closed, together
from diagnose.planning.repairs import RepairChoice, repair_choices
from diagnose.planning.shop import Shop
from diagnose.planning.situation import Situation
from diagnose.report.repair_words import why
from tests.knowledge_by_hand import HERE, cause, finding, knowledge, number
from tests.near import near
from tests.planning.test_keep_running import damage
from tests.planning.test_worked_examples import single_faults

SHOP = Shop(labour=60, downtime=0, comeback=30, consumables=0, horizon=500)
LIFE = Life(number(1000), 2.0, HERE)
COVER = Access("cover", "cover", (), 5, 5, ("crush",), HERE)


def repair(id: str, minutes: float, price: float, *cures: tuple[str, float], **rest: Any) -> Repair:
    values: dict[str, Any] = {"access": (), "hazards": (), "together": (), "life": None, **rest}
    return Repair(
        id=id, name=id.capitalize(), system="test", minutes=number(minutes),
        cures=tuple(Cure(one, number(p), HERE) for one, p in cures),
        parts=(Part(f"part of {id}", 1, price, False),) if price else (), infant=None, verify=(), only_if=(),
        place=HERE, **values,
    )  # fmt: skip


PUMP = repair("pump", 60, 40, ("worn", 0.9), access=("cover",), hazards=("fuel",))
SEAL = repair("seal", 30, 20, ("leaks", 1.0), access=("cover",), life=LIFE)
BEARING = repair("bearing", 120, 80, ("bearing_gone", 0.75))
PATCH = repair("patch", 1, 9, ("bearing_gone", 0.6))


def known(*repairs: Repair, hazards: Sequence[Hazard] = ()) -> Knowledge:
    """The pump wrecks the bearing (0.4); the bearing wrecks 400 with 0.5 when it runs."""
    plain = knowledge(
        cause("worn", 0.1, {"rough": 0.9, "bearing_gone": 0.4}),
        cause("leaks", 0.1, {"rough": 0.9}),
        cause("bearing_gone", 0.1, {"rough": 0.9}, damage=damage("all", 400, 0.5, 0.9)),
        finding("rough", 0.01),
    )
    told = {one.id: one for one in hazards}
    told |= {id: Hazard(id, id, id, "", (), False, HERE) for id in ("fuel", "crush") if id not in told}
    found = {one.id: one for one in (repairs or (PUMP, SEAL, BEARING, PATCH))}
    return replace(plain, repairs=found, access={"cover": COVER}, hazards=told)


def diagnosis(
    whole: Knowledge, hours: float | None, chances: dict[str, float], *events: Event, relevant: bool = True
) -> Diagnosis:
    told = [Opened("M-1", hours=hours), Noted("rough", "present"), *events]
    plain = diagnose(whole, fold(1, [replace(event, sequence=n) for n, event in enumerate(told, 1)]))
    causes = [RankedCause(id, id, "test", 0.1, p, "", relevant) for id, p in chances.items()]
    return replace(plain, causes=tuple(causes))


def standing(
    p: Sequence[float],
    repairs: Sequence[tuple[Repair, ...]],
    cures: Sequence[Sequence[float]],
    open_now: int = 0,
    **rest: Any,
) -> Situation:
    """Exactly one fault is there; `cures`: of each single repair. Sets of repairs are made of the single
    ones."""
    singles = [one[0] for one in repairs if len(one) == 1]
    fixes = [
        Fix(
            one.id,
            SHOP.time(one.minutes.value) + SHOP.parts(one.parts),
            int("cover" in one.access),
            np.array(c),
        )
        for one, c in zip(singles, cures, strict=True)
    ]
    plain = replace(single_faults(p, fixes, opening=[10], comeback=30), reassembled=True, **rest)
    sets = [together(plain, [singles.index(r) for r in one]) for one in repairs if len(one) > 1]
    whole = replace(plain, fixes=(*plain.fixes, *sets))
    names = tuple(f"fault {n}" for n in range(len(p)))
    return Situation(whole, SHOP, names, (), (), tuple(repairs), ("cover",), open_now)


BOTH: list[tuple[Repair, ...]] = [(PUMP,), (SEAL,)]


def found(
    hours: float | None = None, chances: dict[str, float] | None = None, *events: Event, most: int = 6
) -> dict[tuple[str, ...], RepairChoice]:
    now = standing([0.7, 0.3], BOTH, [[1, 0], [0, 1]], open_now=int(bool(events)))
    case = diagnosis(known(), hours, chances or {}, *events)
    return {tuple(r.id for r in one.repairs): one for one in repair_choices(case, now, most)}


def test_what_each_costs_now_and_what_comes_after_it() -> None:
    """After the pump: 0.3 (30 + 60); after the seal: 0.7 (30 + 110). All is closed for the trial."""
    sets = found()
    sums = {ids: (one.cash, one.still_broken, one.after, one.wear, one.damage) for ids, one in sets.items()}
    assert sums["pump",] == near((110, 0.3, 27, 0, 0))
    assert sums["seal",] == near((60, 0.7, 98, 0, 0))
    assert sums["pump", "seal"] == near((160, 0, 0, 0, 0))
    assert list(sums) == [("pump",), ("seal",), ("pump", "seal")]  # 137, 158, 160
    assert [one.parts_cost for one in sets.values()] == [40, 20, 60]
    assert [one.labour_minutes for one in sets.values()] == [70, 40, 100]
    assert {ids: [h.id for h in one.hazards] for ids, one in sets.items()} == {
        ("pump",): ["fuel", "crush"], ("seal",): ["crush"], ("pump", "seal"): ["fuel", "crush"]
    }  # fmt: skip
    assert all([state.id for state in one.access] == ["cover"] for one in sets.values())


def test_what_is_open_is_not_paid_again_but_after_the_trial_it_is() -> None:
    sets = found(None, None, OpenedUp("cover"))
    assert sets["pump",].cash == near(100)
    assert sets["pump",].after == near(27)
    assert (sets["pump",].labour_minutes, sets["pump",].access) == (60, ())


def test_what_a_cause_left_in_wrecks_itself_and_through_what_it_brings_about() -> None:
    """The bearing stays: 0.1 x 0.5 x 400. Without the pump 0.7 x 0.4 more of it, each 120 + 80 and a
    comeback; with it a tenth of that. That the patch is cheaper counts for nothing: it cures three times of
    five."""
    sets = found(None, {"worn": 0.7, "leaks": 0.3, "bearing_gone": 0.1})
    assert sets["seal",].damage == near(20 + 0.7 * 0.4 * 230)
    assert sets["pump",].damage == near(20 + 0.07 * 0.4 * 230)


def test_what_is_hardly_there_or_not_behind_it_wrecks_nothing() -> None:
    for p, more in ((0.0099, 0.0), (0.0101, 0.0101 * 200)):
        assert found(None, {"bearing_gone": p})["seal",].damage == near(more)
    case = diagnosis(known(), None, {"bearing_gone": 0.5}, relevant=False)
    now = standing([0.7, 0.3], BOTH, [[1, 0], [0, 1]])
    assert {one.damage for one in repair_choices(case, now)} == {0}


def test_a_cause_brought_about_again_that_no_repair_cures_costs_the_comeback() -> None:
    case = diagnosis(known(PUMP, SEAL), None, {"worn": 0.7})
    sets = repair_choices(case, standing([0.7, 0.3], BOTH, [[1, 0], [0, 1]]))
    seal = next(one for one in sets if one.repairs == (SEAL,))
    assert seal.damage == near(0.7 * 0.4 * 30)


def behind(age: float) -> float:
    """What a seal left in costs beyond a new one: Weibull of shape 2 and life 1,000 over 500 hours; it fails
    after 250 of them on average, the second dismantling with the comeback is 40 + 30; its worth of 20 is
    written off evenly."""
    fails = 1 - exp((age / 1000) ** 2 - ((age + 500) / 1000) ** 2)
    new = -20 * (1 - 500 / 1000)
    failed = 20 + 70 - 20 * (1 - 250 / 1000)
    return fails * failed - (1 - fails) * 20 * max(0.0, 1 - (age + 500) / 1000) - new


@pytest.mark.parametrize("age", [0.0, 300.0, 900.0])
def test_a_part_left_in_costs_what_it_wears(age: float) -> None:
    sets = found(age)
    assert sets["pump",].wear == near(behind(age))
    assert sets["seal",].wear == sets["pump", "seal"].wear == 0
    assert sets["pump",].expected_cost == near(137 + behind(age))


CHANCES = {"worn": 0.7, "leaks": 0.3, "bearing_gone": 0.1}


def test_the_reasons_of_a_set_are_those_sums_in_words() -> None:
    """At 500 h the seal left in costs about 50: both 186, the pump alone 213, the seal alone 242."""
    sets = found(500, CHANCES)
    assert list(sets) == [("pump", "seal"), ("pump",), ("seal",)]
    worn = "the old part has run 500 of about 1,000 h, and fails with 53 % within the hours reckoned ahead"
    assert why(sets["pump", "seal"], SHOP) == (
        "still broken afterwards: under 1 %",
        "Pump: saves 56 EUR; without it 70 % instead of under 1 % stay broken; what it leaves in may wreck more",
        f"Seal: saves 27 EUR; without it 30 % instead of under 1 % stay broken; {worn}",
    )
    assert why(sets["pump",], SHOP) == ("still broken afterwards: 30 %",)
    assert why(sets["seal",], SHOP) == ("still broken afterwards: 70 %",)


def test_what_does_not_pay_is_told_with_what_it_would_cost() -> None:
    sets = found(0, CHANCES)
    more = 160 - (137 + behind(0))
    assert 3 < more < 5
    worn = "the old part has run 0 of about 1,000 h, and fails with 22 % within the hours reckoned ahead"
    assert why(sets["pump",], SHOP)[1:] == (
        f"not seal: it would cost {more:.0f} EUR more than it saves; {worn}",
    )
    assert why(sets["pump", "seal"], SHOP)[2].startswith(f"Seal: does not pay: {more:.0f} EUR; ")


@pytest.mark.parametrize(("p", "told"), [(0.0165, True), (0.0102, False)])
def test_what_is_left_in_is_told_from_a_sum_on_that_one_speaks_of(p: float, told: bool) -> None:
    """0.0165 x 0.4 x 230 is 1.5, 0.0102 x 0.4 x 230 is 0.94."""
    pump = why(found(500, {"worn": p})["pump", "seal"], SHOP)[1]
    assert ("wreck more" in pump) is told


def test_a_part_that_cures_nothing_is_told_by_its_age_alone() -> None:
    oil = repair("oil", 6, 20, ("cause of oil", 1.0), life=LIFE)
    pump = replace(PUMP, together=("oil",))
    now = standing([0.7, 0.3], [(pump,), (SEAL,), (oil,)], [[1, 0], [0, 1], [0, 0]])
    sets = repair_choices(diagnosis(known(pump, SEAL, oil), 500, {}), now, 10_000)
    both = next(one for one in sets if {r.id for r in one.repairs} == {"pump", "oil"})
    (reason,) = (one for one in why(both, SHOP) if one.startswith("Oil: "))
    assert "the old part has run 500" in reason
    assert "stay broken" not in reason


def test_as_many_as_asked_for_and_the_best_single_one_always() -> None:
    assert list(found(500, CHANCES, most=1)) == [("pump", "seal"), ("pump",)]
    assert list(found(most=1)) == [("pump",)]
    assert list(found(most=2)) == [("pump",), ("seal",)]


def test_a_set_is_held_back_as_long_as_one_of_its_repairs_is() -> None:
    stop = Hazard("fuel", "Fuel", "", "", (), True, HERE, suspect=("rough",), above=0.5, cleared_by=("seal",))
    case = diagnosis(known(hazards=[stop]), None, {})
    now = standing([0.7, 0.3], BOTH, [[1, 0], [0, 1]])
    held = {tuple(r.id for r in one.repairs): one.held_back for one in repair_choices(case, now)}
    assert {ids: hazard and hazard.id for ids, hazard in held.items()} == {
        ("pump",): "fuel", ("seal",): None, ("pump", "seal"): "fuel"
    }  # fmt: skip


# ---- which sets are tried ----


def sets_of(now: Situation, *repairs: Repair) -> set[tuple[str, ...]]:
    case = diagnosis(known(*repairs), None, {})
    return {tuple(r.id for r in one.repairs) for one in repair_choices(case, now, 10_000)}


@pytest.mark.parametrize(("share", "leads"), [(0.16, False), (0.17, True)])
def test_what_cures_less_than_a_fifth_of_what_the_best_cures_leads_nothing(share: float, leads: bool) -> None:
    """0.16 / 0.84 = 0.19, 0.17 / 0.83 = 0.205."""
    now = standing([1 - share, share], BOTH, [[1, 0], [0, 1]])
    assert (("seal",) in sets_of(now, PUMP, SEAL)) is leads
    assert ("pump",) in sets_of(now, PUMP, SEAL)


def test_five_of_the_likeliest_and_five_of_the_cheapest_lead() -> None:
    """Twelve causes, the likelier the dearer; which look cheapest is asked of the planner."""
    p = np.linspace(1, 2, 12) / np.linspace(1, 2, 12).sum()
    repairs = [repair(f"r{n:02}", 10, 10 * 1.7**n, (f"c{n}", 1.0)) for n in range(12)]
    now = standing(list(p), [(one,) for one in repairs], np.eye(12).tolist())
    planner = Planner(now.problem)
    cheapest = [one.number for one in planner.glances(planner.start())][:5]
    wanted = {*range(7, 12), *cheapest}
    assert len(wanted) > 5
    assert sets_of(now, *repairs) == {(repairs[n].id,) for n in wanted}


def beside(*names: str, **rest: Any) -> list[Repair]:
    """Repairs that cure nothing that is in question: they lead nothing."""
    return [repair(name, 10, 5, (f"cause {name}", 1.0), **rest) for name in names]


def test_five_repairs_at_most_stand_beside_one() -> None:
    """Those that it names, then those that these name: 32 sets."""
    named, near = beside("b1", "b2", "b3"), beside("f1", "f2", "f3")
    named[0] = replace(named[0], together=("f1", "unknown", "lead"))
    named[1] = replace(named[1], together=("f2", "f3"))
    lead = repair("lead", 10, 5, ("worn", 1.0), together=("unknown", "b1", "b2", "b3"))
    every = [lead, *named, *near]
    now = standing([1.0], [(one,) for one in every], [[1.0]] + [[0.0]] * 6)
    sets = sets_of(now, *every)
    assert len(sets) == 32
    assert ("b1", "b2", "b3", "f1", "f2", "lead") in sets
    assert not any("f3" in ids for ids in sets)


def test_pairs_that_the_situation_thought_of_stand_beside() -> None:
    one, two, three, four = (repair(f"r{n}", 10, 5, (f"c{n}", 1.0)) for n in range(4))
    singles: list[tuple[Repair, ...]] = [(one,), (two,), (three,), (four,)]
    for pairs, wanted in (([(one, two)], {("r0", "r1")}), ([(two, three)], {("r1", "r2")})):
        now = standing([0.25] * 4, [*singles, *pairs], np.eye(4).tolist())
        assert {ids for ids in sets_of(now, one, two, three, four) if len(ids) > 1} == wanted
    now = standing(
        [0.25] * 4, [*singles, (one, two), (one, three), (one, four), (two, three, four)], np.eye(4).tolist()
    )
    assert ("r0", "r3") in sets_of(now, one, two, three, four)
    assert ("r0", "r1", "r2", "r3") not in sets_of(now, one, two, three, four)  # two of them
    assert not any(
        {"r1", "r3"} <= set(ids) and "r0" not in ids for ids in sets_of(now, one, two, three, four)
    )


@pytest.mark.parametrize(("p", "unasked"), [(0.49, False), (0.5, True)])
def test_what_is_more_likely_there_than_not_is_repaired_with_anything(p: float, unasked: bool) -> None:
    """By its cheapest repair that mostly cures it: not the dear one, nor the one that cures it two times of
    three."""
    dear, cheap = repair("dear", 60, 100, ("worn", 0.95)), repair("cheap", 10, 5, ("worn", 0.7))
    poor = repair("poor", 1, 1, ("worn", 0.66))
    others = [repair(id, 10, 5, (id, 1.0)) for id in ("left", "right")]
    every = [dear, cheap, poor, *others]
    cures: list[list[float]] = [[0.95, 0, 0], [0.7, 0, 0], [0.66, 0, 0], [0, 1, 0], [0, 0, 1]]
    now = standing([p, (1 - p) / 2, (1 - p) / 2], [(one,) for one in every], cures)
    pairs = {ids for ids in sets_of(now, *every) if len(ids) > 1}
    assert pairs == ({("cheap", "left"), ("cheap", "right")} if unasked else set())


def test_a_repair_that_adds_nothing_to_another_is_done_with_it_only_where_that_asks_for_it() -> None:
    whole = repair("whole", 60, 100, ("worn", 0.97), ("leaks", 1.0), together=("half",))
    half = repair("half", 10, 5, ("worn", 1.0))
    now = standing([0.7, 0.3], [(whole,), (half,)], [[0.97, 1], [1, 0]])
    assert sets_of(now, whole, half) == {("whole",), ("half",), ("half", "whole")}
    asks, asked = replace(half, together=("whole",)), replace(whole, together=())
    now = standing([0.7, 0.3], [(asked,), (asks,)], [[0.97, 1], [1, 0]])
    assert sets_of(now, asked, asks) == {("whole",), ("half",)}


def test_of_faults_that_are_more_likely_there_two_are_repaired_unasked() -> None:
    """Either r4's cause (0.4), or the other four together (0.6), of which the first has no repair that mostly
    cures."""
    every = [repair(f"r{n}", 10, 5, (f"c{n}", 1.0)) for n in range(5)]
    cures = np.eye(5)
    cures[0, 0] = 0.6
    plain = standing([0.2] * 5, [(one,) for one in every], cures.tolist())
    faults = closed([0b01111, 0b10000])
    chances = 0.6 * (faults == 0b01111) + 0.4 * (faults == 0b10000)
    now = replace(plain, problem=replace(plain.problem, faults=faults, probabilities=chances))
    assert sets_of(now, *every) == {("r4",), ("r1", "r4"), ("r2", "r4"), ("r1", "r2", "r4")}


def test_a_set_whose_new_part_is_faulty_at_once_stays_broken() -> None:
    """The new seal brings the pump's fault with it, always: both leave all as it is, and a comeback."""
    now = standing([0.7, 0.3], [*BOTH, (PUMP, SEAL)], [[1, 0], [0.5, 1]])
    faulty = replace(now.problem.fixes[1], infant=np.array([1.0, 0.0]))
    problem = replace(now.problem, fixes=(now.problem.fixes[0], faulty, now.problem.fixes[2]))
    sets = repair_choices(diagnosis(known(), None, {}), replace(now, problem=problem))
    both = next(one for one in sets if len(one.repairs) == 2)
    start = Planner(problem).start()
    assert (both.still_broken, both.after) == (
        1.0,
        near(30 + float(Planner(problem).values([start])[0])),
    )
