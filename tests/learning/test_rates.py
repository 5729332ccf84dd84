"""Rates are events over time at risk: in closed form, and found again from drawn fleets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from diagnose.cases.case import Observation
from diagnose.knowledge.records import Knowledge
from diagnose.learning import reference
from diagnose.learning.counts import School, known_of
from diagnose.learning.em import BINS, of_roots, solved_rates, trials
from diagnose.learning.fleet import Fleet
from diagnose.learning.learn import LearntNumbers
from diagnose.learning.lesson import Lesson
from diagnose.learning.multipliers import LAST_BIN
from diagnose.network.machine import Machine
from tests.knowledge_by_hand import cause, condition, fact, finding, knowledge, only, times
from tests.learning.test_learning import learnt_from, row
from tests.learning.worlds import cases, lesson

GRADER = Machine("GRADER-3")


def rates(learnt: LearntNumbers) -> dict[str, float]:
    """Cause -> its new frequency."""
    return {
        one.id: reference.frequency(one, row(learnt, number)[1])
        for number, one in enumerate(learnt.knowledge.causes.values())
    }


def worth(base: Knowledge, ess: float) -> Knowledge:
    causes = {id: replace(one, frequency=replace(one.frequency, ess=ess)) for id, one in base.causes.items()}
    return replace(base, causes=causes)


def said(*causes: str, of: Sequence[tuple[Machine, int]] = ((GRADER, 1),), tag: str = "") -> list[Lesson]:
    return [
        lesson(f"{tag}{causes}{place}/{n}", causes, [], machine)
        for place, (machine, count) in enumerate(of)
        for n in range(count)
    ]


def limit(a0: float, b0: float, events: int, at_risk: float) -> float:
    """Of the Gamma-Poisson update where each case only says that there was an event, not how many: the solution of
    m (b0 + T) = a0 + x m / (1 - exp(-m)), by bisection."""
    low, high = 1e-9, 10.0
    for _ in range(200):
        m = (low + high) / 2
        low, high = (m, high) if m * (b0 + at_risk) < a0 + events * m / -np.expm1(-m) else (low, m)
    return m


def two(a: float = 0.1, b: float = 0.3) -> Knowledge:
    """Two causes that happen, by the rate per 1,000 h."""
    return knowledge(
        cause("a", a, {"f": 0.5}, per="rate"), cause("b", b, {"f": 0.5}, per="rate"), finding("f", 0.1)
    )


# --- closed form --------------------------------------------------------------------------------------------


def test_a_rate_is_events_over_hours_at_risk(tmp_path: Path) -> None:
    """0.1 per 1,000 h worth 40 windows of 500 h is 2 events; 3 more in 100,000 h, 200 windows: 5 / 240 a window."""
    made = [*said("a", of=[(GRADER, 3)]), *said("b", of=[(GRADER, 7)])]
    found = rates(learnt_from(worth(two(), 40), made, tmp_path, fleet_hours=100_000))
    assert found["a"] == pytest.approx(limit(2, 40, 3, 200) / 0.5, rel=1e-6)
    assert found["a"] == pytest.approx(5 / 240 / 0.5, rel=0.01)
    assert found["b"] == pytest.approx(limit(6, 40, 7, 200) / 0.5, rel=1e-4)


def test_machines_that_ran_and_did_not_come_in_are_at_risk(tmp_path: Path) -> None:
    """The same cases from twice as large a fleet: less than half way to the knowledge's rate is left."""
    made = said("a", of=[(GRADER, 30)])
    some, more = (rates(learnt_from(two(), made, tmp_path, fleet_hours=hours))["a"] for hours in (3e5, 6e5))
    assert 1.8 < some / more < 2


def test_hours_count_where_the_cause_can_be_and_by_what_facts_make_of_them(tmp_path: Path) -> None:
    """Half of the fleet cannot have the cause, on the other half it happens three times as often: 300 events
    in 3 x 4,000 windows. The other cause, alike in both halves, tells that these ran equally long, though 4
    came in of the one to 1 of the other."""
    base = knowledge(
        fact("duty", {"road": 0.5, "yard": 0.5}),
        cause(
            "a", 0.1, {"f": 0.5}, per="rate", modifiers=times(duty={"yard": 3.0}), only_if=only(duty=["yard"])
        ),
        cause("b", 0.1, {"f": 0.5}, per="rate"),
        finding("f", 0.1),
    )
    yard, road = Machine("YARD", facts={"duty": "yard"}), Machine("ROAD", facts={"duty": "road"})
    made = [*said("a", of=[(yard, 300)]), *said("b", of=[(yard, 100), (road, 100)])]
    found = rates(learnt_from(worth(base, 40), made, tmp_path, fleet_hours=4_000_000))
    assert found["a"] * 0.5 == pytest.approx(limit(3 * 2, 40 / 1, 300, 3 * 4_000 / 3) / 3, rel=0.03)
    assert found["b"] * 0.5 == pytest.approx(202 / (40 + 8_000), rel=0.03)


def test_hours_of_kinds_are_those_that_explain_who_came_in() -> None:
    """Two kinds of which 30 and 10 came in, to be expected 0.3 and 0.05 times a window: 100 and 200 windows."""
    base = two(0.1, 0.6)
    a, b = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    numbers = School(base).graph.numbers
    fleet = Fleet(numbers, [(30.0, b), (10.0, a)])
    assert fleet.windows(300 * 500, numbers.values) == pytest.approx([100, 200])
    assert fleet.windows(600 * 500, numbers.values) == pytest.approx([200, 400])
    assert fleet.hours_needed(np.array([10.0, 30.0])) == pytest.approx(300 * 500)
    assert fleet.at_risk(np.array([100.0, 200.0])) == pytest.approx([200, 100])


def test_cases_that_teach_nothing_take_their_hours_with_them(tmp_path: Path) -> None:
    """Of 20 arrivals 10 were never closed: half of the fleet's hours tell nothing; by repair counts 0.8."""
    made = said("a", of=[(GRADER, 10)])
    lost = [replace(one, case=f"lost {one.case}", is_closed=False) for one in made]
    found = learnt_from(worth(two(), 40), [*made, *lost], tmp_path, fleet_hours=100_000)
    assert found.hours == pytest.approx(50_000)
    assert rates(found)["a"] == pytest.approx(limit(2, 40, 10, 100) / 0.5, rel=1e-4)
    by_repair = [
        replace(one, confirmed=tuple(replace(c, how="by repair") for c in one.confirmed)) for one in made
    ]
    assert learnt_from(two(), by_repair, tmp_path, fleet_hours=100_000).hours == pytest.approx(80_000)


def test_without_the_fleets_hours_only_the_mix_is_learnt(tmp_path: Path) -> None:
    """Rates of 0.05 and 0.15 a window, 12 cases of the one and 4 of the other: 16 events take 80 windows. Worth 100
    windows each: (5 + 12) / 180 and (15 + 4) / 180, together 0.2 as before."""
    made = [*said("a", of=[(GRADER, 12)]), *said("b", of=[(GRADER, 4)])]
    learnt = learnt_from(worth(two(), 100), made, tmp_path)
    found = rates(learnt)
    assert learnt.hours == pytest.approx(80 * 500, rel=0.06)  # a case may stand for more than one event
    assert found["a"] * 0.5 == pytest.approx(17 / 180, rel=0.03)
    assert found["b"] * 0.5 == pytest.approx(19 / 180, rel=0.03)
    assert found["a"] + found["b"] == pytest.approx(0.4, rel=0.01)


def test_more_cases_of_the_same_mix_do_not_raise_the_level(tmp_path: Path) -> None:
    some = [*said("a", of=[(GRADER, 12)]), *said("b", of=[(GRADER, 36)])]
    more = [*some, *said("a", of=[(GRADER, 120)], tag="more"), *said("b", of=[(GRADER, 360)], tag="more")]
    for made in (some, more):
        found = rates(learnt_from(two(), made, tmp_path))
        assert found["a"] == pytest.approx(0.1, rel=0.05)
        assert found["b"] == pytest.approx(0.3, rel=0.05)


def test_a_share_does_not_know_of_hours(tmp_path: Path) -> None:
    """Beta worth 20 cases with mean 0.05, found in 3 of 10: 4 / 30, whatever the fleet ran."""
    base = worth(
        knowledge(cause("a", 0.05, {"f": 0.5}), cause("b", 0.3, {"f": 0.5}, per="rate"), finding("f", 0.1)),
        20,
    )
    made = [*said("a", "b", of=[(GRADER, 3)]), *said("b", of=[(GRADER, 7)])]
    for hours in (None, 1e4, 1e6):
        assert rates(learnt_from(base, made, tmp_path, fleet_hours=hours))["a"] == pytest.approx(
            4 / 30, abs=1e-9
        )


def test_a_rate_is_worth_its_windows_afterwards(tmp_path: Path) -> None:
    """A Gamma worth 40 windows, after 200 more at risk all of which tell whether it happened: 240."""
    made = said("a", of=[(GRADER, 3)])
    learnt = learnt_from(worth(two(), 40), made, tmp_path, fleet_hours=100_000)
    assert learnt.cases[0] == pytest.approx(200)


def test_roots_that_are_known_count_as_they_were_found() -> None:
    """Two of three absent: their own counts, the logarithm of P, and scores z - p in closed form."""
    base = knowledge(cause("a", 0.2, {"f": 0.5}), cause("b", 2.0, {"f": 0.5}, per="rate"), finding("f", 0.1))
    school = School(base)
    made = [*said("a", of=[(GRADER, 1)]), *said("b", of=[(GRADER, 2)])]
    known = [known_of(school, one) for one in made]
    tally = of_roots(school.graph, school.graph.numbers.values, trials(school.graph, known))
    assert tally.counts[:4] == pytest.approx([2, 1, 1, 2])
    b = 1 - np.exp(-1)
    assert tally.log_probability == pytest.approx(
        np.log(0.2) + 2 * np.log(0.8) + 2 * np.log(b) + np.log(1 - b)
    )
    assert tally.known[:2] == pytest.approx([0.8 / 0.2 + 2 * 0.2 / 0.8, 2 * (1 - b) / b + b / (1 - b)])
    assert tally.events[:2] == pytest.approx([1, 2 / b])


def test_the_step_is_the_one_of_the_formula() -> None:
    numbers = School(worth(two(), 40)).graph.numbers
    assert solved_rates(numbers, np.array([3.0, 0.0]), np.array([200.0, 60.0])) == pytest.approx(
        [5 / 240, 6 / 100]
    )


# --- drawn --------------------------------------------------------------------------------------------------

WINDOWS = 6_000
"""Windows of 500 h of each kind of machine in a drawn fleet."""


def fleet_knowledge() -> Knowledge:
    return knowledge(
        fact("duty", {"road": 0.5, "yard": 0.5}),
        cause(
            "pump",
            0.06,
            {"pressure": 0.8, "debris": 0.4, "metal": 0.7},
            per="rate",
            modifiers=times(duty={"yard": 3.0}),
        ),
        cause("debris", 0.02, {"metal": 0.6}, per="rate"),
        cause("seal", 0.05, {"pressure": 0.7, "oil_at_bore": 0.9}, per="rate"),
        cause("starter", 4e-4, {"code": 0.8}, per="per_start"),
        cause("heater", 0.1, {"code": 0.3}, per="rate", only_if=only(duty=["road"])),
        condition("pressure", 0.05, {"code": 0.7}),
        finding("code", 0.04),
        finding("metal", 0.1),
        finding("oil_at_bore", 0.08),
    )


def arrivals(base: Knowledge, seed: int) -> list[Lesson]:
    """Machines that have anything come in; half of the debris that a pump left goes unlisted."""
    kinds = (Machine("ROAD", facts={"duty": "road"}), Machine("YARD", facts={"duty": "yard"}))
    made = [
        cases(base, WINDOWS, seed + n, unlisted={"debris": 0.2}, machine=one) for n, one in enumerate(kinds)
    ]
    return [replace(one, case=f"{kind} {one.case}") for kind, some in enumerate(made) for one in some]


def doubled(base: Knowledge, **by: float) -> Knowledge:
    return replace(
        base,
        causes={
            id: replace(
                one, frequency=replace(one.frequency, value=one.frequency.value * by.get(id, 1.0), ess=1.0)
            )
            for id, one in base.causes.items()
        },
    )


WRONG = {"pump": 0.4, "debris": 3.0, "seal": 2.5, "starter": 0.5, "heater": 2.0}


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 20])
def test_rates_of_a_drawn_fleet_are_found_again(seed: int, tmp_path: Path) -> None:
    """Within four standard errors: a logarithm of a rate has 1 / sqrt(events). From numbers that are wrong by
    half to three times, worth two events or so."""
    truth, made = fleet_knowledge(), arrivals(fleet_knowledge(), seed)
    found = rates(
        learnt_from(doubled(truth, **WRONG), made, tmp_path, fleet_hours=2 * WINDOWS * 500, set_aside=False)
    )
    for id, true in ((one.id, one.frequency.value) for one in truth.causes.values()):
        events: float = sum(id in {c.cause for c in one.confirmed} for one in made)
        if id == "debris":
            events = 2 * WINDOWS * true * 0.5  # most of what is listed a pump brought about
        assert abs(np.log(found[id] / true)) < 4 / np.sqrt(events) + 0.06, (id, found[id], true)


@pytest.mark.slow
def test_without_hours_the_mix_of_a_drawn_fleet_is_found_at_the_level_of_the_knowledge(
    tmp_path: Path,
) -> None:
    """Drawn with three times the rates that the knowledge has: ratios are the true ones, the sum stays."""
    truth = doubled(fleet_knowledge(), **dict.fromkeys(WRONG, 3.0))
    base = doubled(fleet_knowledge())
    found = rates(learnt_from(base, arrivals(truth, 5), tmp_path, set_aside=False))
    for id, one in base.causes.items():
        assert found[id] == pytest.approx(one.frequency.value, rel=0.25 if id == "debris" else 0.12), id


def test_every_pass_raises_the_density_of_rates_too(tmp_path: Path) -> None:
    """Dempster, Laird & Rubin 1977, theorem 1, with cases left unproven so that much is hidden."""
    base = doubled(fleet_knowledge(), **WRONG)
    made = [replace(one, proven=n % 3 > 0) for n, one in enumerate(arrivals(fleet_knowledge(), 3)[:600])]
    for hours in (None, 2e6):
        learnt = learnt_from(base, made, tmp_path, fleet_hours=hours, set_aside=False)
        assert len(learnt.objective) > 2
        assert all(np.diff(learnt.objective) > -1e-9)


def test_the_leak_of_a_condition_above_a_cause_is_not_learnt(tmp_path: Path) -> None:
    """From arrivals alone: nothing but the leak and the cause's own rate could tell why it was there so often."""
    base = knowledge(
        cause("soot", 0.1, {"f": 0.5}, per="rate"),
        cause("other", 0.2, {"f": 0.5}, per="rate"),
        condition("cold", 0.01, {"soot": 0.5, "f": 0.5}),
        condition("dry", 0.01, {"f": 0.5}),
        finding("f", 0.1),
    )
    seen = [Observation("f", "present")], [Observation("f", "absent")]
    made = [lesson(str(n), ["soot"], seen[n % 2], GRADER) for n in range(200)]
    learnt = learnt_from(base, made, tmp_path, fleet_hours=5e5)
    assert row(learnt, learnt.numbers.leak["cold"])[1] == pytest.approx(0.01, rel=1e-9)
    assert row(learnt, learnt.numbers.leak["dry"])[1] != pytest.approx(0.01, rel=1e-2)


# --- gates --------------------------------------------------------------------------------------------------


def gated() -> Knowledge:
    """A lamp that only machines with a heater have; a dry filter says that there is no leak; a hidden
    condition that only machines with a heater can have."""
    lamp, dry = replace(finding("lamp", 0.05), only_if=only(aid=["heater"])), finding("dry", 0.7)
    hot = replace(condition("hot", 0.3, {"smell": 0.8}), only_if=only(aid=["heater"]))
    return knowledge(
        fact("aid", {"none": 0.5, "heater": 0.5}),
        cause("relay", 0.3, {"lamp": 0.8, "smell": 0.2}),
        cause("leak", 0.3, {"drip": 0.9}),
        cause("burst", 0.2, {"leak": 0.5, "drip": 0.5}),
        hot,
        lamp,
        replace(dry, clears=("leak",)),
        finding("smell", 0.05),
        finding("drip", 0.05),
    )


HEATED: dict[str, str] = {"aid": "heater"}
PLAIN: dict[str, str] = {"aid": "none"}
UNTOLD: dict[str, str] = {}
ALL = [Observation(id, "absent") for id in ("lamp", "dry", "smell", "drip")]


@pytest.mark.parametrize(
    ("facts", "causes", "read"),
    [
        (HEATED, ["relay"], {"lamp", "dry", "smell", "drip"}),
        (PLAIN, ["relay"], {"dry", "smell", "drip"}),
        (UNTOLD, ["relay"], {"dry", "drip"}),  # whether it can be hot decides what a smell means
        (HEATED, ["leak"], {"lamp", "smell", "drip"}),
        (HEATED, ["burst"], {"lamp", "smell", "drip"}),  # a leak may have gone unlisted
    ],
)
def test_findings_that_a_gate_may_have_silenced_are_left_out(
    facts: dict[str, str], causes: list[str], read: set[str]
) -> None:
    school = School(gated())
    for state in ("absent", "present"):  # whatever they showed
        seen = [replace(one, state=state) for one in ALL]
        known = known_of(school, lesson("1", causes, seen, Machine(facts=facts)))
        assert {school.graph.network.names[v] for v in known.findings} == read


@pytest.mark.slow
def test_numbers_behind_gates_are_found_again(tmp_path: Path) -> None:
    """Drawn with the gates of the network, the fact told of two machines in three: within four standard
    errors, from numbers that are wrong."""
    truth = gated()
    made = []
    for kind, facts in enumerate((HEATED, PLAIN, UNTOLD)):
        some = cases(truth, 3_000, 10 + kind, looked=0.8, machine=Machine("KIND", facts=facts))
        made += [replace(one, case=f"{kind} {one.case}") for one in some]
    learnt = learnt_from(truth, made, tmp_path, set_aside=False)
    numbers = learnt.numbers
    wanted = {("relay", "lamp"): 0.8, ("relay", "smell"): 0.2, ("leak", "drip"): 0.9}
    for link, true in wanted.items():
        number = numbers.link[link]
        error = np.sqrt(true * (1 - true) / max(learnt.cases[number], 1))
        assert abs(row(learnt, number)[1] - true) < 4 * error, link
    dry = numbers.leak["dry"]
    assert abs(row(learnt, dry)[1] - 0.7) < 4 * np.sqrt(0.7 * 0.3 / learnt.cases[dry])


def test_the_last_bins_are_the_ends() -> None:
    assert (BINS[0], BINS[-1]) == (-LAST_BIN, LAST_BIN)
