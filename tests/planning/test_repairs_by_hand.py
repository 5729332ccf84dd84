"""Sums of a set of repairs on records made by hand, reckoned apart from the program."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.knowledge.records import Cure, Part, Repair
from diagnose.planning.repairs import merged, repair_choices
from diagnose.planning.shop import Shop
from diagnose.planning.situation import situation
from tests.knowledge_by_hand import HERE, number
from tests.planning.test_keep_running import engine, seen


def repair(id: str, *parts: Part, cures: str = "sensor") -> Repair:
    cure = Cure(cures, number(1.0), HERE)
    return Repair(id, id, "test", number(30), (), (), parts, (cure,), None, (), ("Try it.",), (), HERE)


@pytest.mark.parametrize("quantities", [(2.0, 6.0), (6.0, 2.0)])
def test_a_part_of_two_repairs_is_bought_once_in_the_larger_number(quantities: tuple[float, float]) -> None:
    """Bolts taken out for the one are out for the other: six bolts, not two, not eight."""
    bolts = [Part("bolt", quantity, 4, True) for quantity in quantities]
    gasket = Part("gasket", 1, 20, True)
    bought = merged([repair("one", bolts[0], gasket), repair("other", bolts[1])])
    assert {part.name: part.quantity for part in bought} == {"bolt": 6, "gasket": 1}


def test_a_cause_left_in_costs_what_it_wrecks_when_the_machine_works_on() -> None:
    """The sensor renewed leaves the loose part on the crankshaft in: P(loose) x 0.5 x 150,000. The machine
    works after a repair, so it is the damage of running (0.5) that counts, not that of being moved (0.05)."""
    known = replace(engine(150_000, 0.5, 0.05), repairs={"renew_sensor": repair("renew_sensor")})
    diagnosis = seen(known)
    loose = next(one.probability for one in diagnosis.causes if one.id == "loose_on_crankshaft")
    (choice,) = repair_choices(diagnosis, situation(diagnosis, Shop()))
    assert choice.damage == pytest.approx(loose * 0.5 * 150_000)
