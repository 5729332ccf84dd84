"""Which repairs go together: facts of the trade on the shipped knowledge.

Each fact is common practice. Prices, lives and probabilities are the knowledge's own; the tests hold the
direction of the decision, not its sums. That negative minutes and prices (K014), unknown causes and access
states (K030), and access states that need each other in a circle (K036) are refused is tested with the rules
of the reader: tests/rules.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import pytest

from diagnose.cases.case import Case
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Repair
from diagnose.planning.options import access_path
from diagnose.planning.repairs import RepairChoice, repair_choices
from diagnose.planning.shop import Shop
from diagnose.planning.situation import situation
from tests.shipped import scenario, shipped_knowledge

EVERY = 10_000
PUMP, FLUSH, OIL, INJECTORS = (
    "replace_hp_oil_pump",
    "flush_actuation_rail",
    "change_engine_oil",
    "replace_injector_set",
)
KNOWLEDGE = shipped_knowledge()
OUT = {"injectors_out", "one_injector_out"}
INJECTORS_OUT = [repair for repair in KNOWLEDGE.repairs.values() if OUT & set(repair.access)]


@cache
def worn_pump(hours: float, injectors_run: float | None = None, closed: bool = False) -> Diagnosis:
    """The evidence of the worn pump's scenario on a machine of this age; injectors as old as it, or renewed."""
    case: Case = scenario("pump_worn_plough").case()
    cured = [cure.cause for cure in KNOWLEDGE.repairs[INJECTORS].cures]
    renewed = {} if injectors_run is None else dict.fromkeys(cured, injectors_run)
    case = replace(case, machine=replace(case.machine, hours=hours, renewed=renewed))
    return diagnose(KNOWLEDGE, replace(case, access_open=()) if closed else case)


def choices(diagnosis: Diagnosis, shop: Shop | None = None) -> tuple[RepairChoice, ...]:
    return repair_choices(diagnosis, situation(diagnosis, shop or Shop()), EVERY)


def of(found: Sequence[RepairChoice], *ids: str) -> RepairChoice:
    return next(one for one in found if {repair.id for repair in one.repairs} == set(ids))


@pytest.mark.parametrize("hours", [11_000, 12_500, 14_000])
def test_a_worn_pump_on_an_old_engine_is_not_replaced_alone(hours: float) -> None:
    """A pump that shed metal: new oil, a flushed rail and injectors of the same age with it cost less in all
    than the pump alone, which comes back (common practice)."""
    found = choices(worn_pump(hours))
    assert of(found, PUMP, INJECTORS, FLUSH, OIL).expected_cost < of(found, PUMP).expected_cost
    best = {repair.id for repair in found[0].repairs}
    assert {PUMP, FLUSH} <= best


def test_injectors_renewed_lately_stay_in() -> None:
    """150 h after new injectors nobody pays for a second set (common practice)."""
    fresh = choices(worn_pump(11_200, injectors_run=150))
    assert PUMP in {repair.id for repair in fresh[0].repairs}
    assert INJECTORS not in {repair.id for repair in fresh[0].repairs}
    old = choices(worn_pump(14_000))

    def extra(found: Sequence[RepairChoice]) -> float:
        """What the injectors add to the cost in all."""
        return (
            of(found, PUMP, FLUSH, OIL, INJECTORS).expected_cost - of(found, PUMP, FLUSH, OIL).expected_cost
        )

    assert extra(fresh) > 1000
    assert extra(old) < extra(fresh) - 1000


def test_the_older_the_engine_the_more_speaks_for_new_injectors() -> None:
    def extra(hours: float) -> float:
        found = choices(worn_pump(hours))
        return (
            of(found, PUMP, FLUSH, OIL, INJECTORS).expected_cost - of(found, PUMP, FLUSH, OIL).expected_cost
        )

    saved = [extra(hours) for hours in (4_000, 8_000, 12_000)]
    assert saved == sorted(saved, reverse=True)


def test_hold_down_bolts_are_never_put_back() -> None:
    """They are stretched (common practice): single use wherever they are named, and named with every repair that
    takes out injectors which the oil pushes."""
    bolts = [p for repair in KNOWLEDGE.repairs.values() for p in repair.parts if "hold-down bolt" in p.name]
    assert all(bolt.single_use for bolt in bolts)
    pushed = [repair for repair in INJECTORS_OUT if repair.system == "hydraulic_injection"]
    assert len(pushed) >= 3
    assert all(any(part in bolts for part in repair.parts) for repair in pushed)


def test_two_camshaft_sensors_go_as_a_set() -> None:
    repair = KNOWLEDGE.repairs["replace_camshaft_sensors"]
    assert [part.quantity for part in repair.parts if part.name == "camshaft position sensor"] == [2]


@pytest.mark.parametrize("repair", INJECTORS_OUT, ids=lambda repair: repair.id)
def test_cylinders_are_drawn_dry_before_cranking(repair: Repair) -> None:
    """Fuel and oil run into the cylinders when injectors come out; cranked, it bends a rod (common practice)."""
    assert "hydraulic_lock" in repair.hazards
    assert any("sucked" in line and "cylinder" in line.lower() and "barred" in line for line in repair.verify)


def test_dismantling_is_paid_once() -> None:
    """Both go through the same states: the second takes its own work and only what it does not share."""
    found = choices(worn_pump(11_200, closed=True))
    pump, both = of(found, PUMP), of(found, PUMP, FLUSH)
    flush = access_path(KNOWLEDGE, KNOWLEDGE.repairs[FLUSH].access, ())
    shared = {state.id for state in flush} & {state.id for state in pump.access}
    assert shared
    more = sum(state.minutes + state.restore_minutes for state in flush if state.id not in shared)
    work = KNOWLEDGE.repairs[FLUSH].minutes.value
    assert both.labour_minutes == pytest.approx(pump.labour_minutes + work + more)


def test_what_is_open_already_costs_nothing() -> None:
    """The scenario has the pump cover off: neither it nor what had to be opened before is paid again."""
    pump = of(choices(worn_pump(11_200)), PUMP)
    assert not {"pump_cover_off", "pump_outlet_reachable", "cab_tilted"} & {a.id for a in pump.access}
    closed = access_path(KNOWLEDGE, KNOWLEDGE.repairs[PUMP].access, ())
    assert {"pump_outlet_reachable", "cab_tilted"} <= {a.id for a in closed}


def test_the_sum_is_the_sum_of_its_parts() -> None:
    shop = Shop(labour=80, downtime=0, consumables=0)
    for choice in choices(worn_pump(11_200), shop)[:5]:
        parts = sum(part.quantity * part.price for part in choice.parts)
        assert choice.parts_cost == pytest.approx(parts)
        assert choice.cash == pytest.approx(parts + choice.labour_minutes / 60 * 80)
        later = choice.after + choice.wear + choice.damage
        assert choice.expected_cost == pytest.approx(choice.cash + later)
        assert 0 <= choice.still_broken <= 1


def test_more_repairs_never_leave_more_broken() -> None:
    found = choices(worn_pump(11_200))
    assert of(found, PUMP, FLUSH).still_broken <= of(found, PUMP).still_broken + 1e-9
    assert of(found, PUMP, FLUSH, OIL).still_broken <= of(found, PUMP, FLUSH).still_broken + 1e-9


def test_the_best_single_repair_is_always_among_them() -> None:
    diagnosis = worn_pump(11_200)
    found = repair_choices(diagnosis, situation(diagnosis, Shop()), 2)
    assert any(len(choice.repairs) == 1 for choice in found)
    costs = [choice.expected_cost for choice in found]
    assert costs == sorted(costs)
