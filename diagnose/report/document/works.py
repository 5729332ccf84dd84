"""Repairs done, weighed as they stood before, and the repair proposed now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from diagnose.cases.case import Case
from diagnose.cases.events import Repaired
from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Hazard, Knowledge, Part, Repair
from diagnose.moves.advice import Advice, advised
from diagnose.planning.cautions import worst_first
from diagnose.planning.options import access_path, all_hazards, open_states
from diagnose.planning.repairs import RepairChoice, merged
from diagnose.planning.shop import Shop
from diagnose.report.document.proof import since
from diagnose.report.document.record_words import repaired_names
from diagnose.report.document.replay import Moment
from diagnose.report.document.work_records import Caution, Money, Option, PartLine, Spent, Work
from diagnose.report.remedy import best_single, set_against_single, shown, while_open
from diagnose.report.repair_words import why

OTHERS = 3  # repairs beside the chosen one


def works(
    knowledge: Knowledge, case: Case, shop: Shop, moments: Sequence[Moment], spent: Iterable[Spent]
) -> tuple[Work, ...]:
    """Every repair done, in order."""
    by_step = {line.step: line for line in spent}
    found: list[Work] = []
    for number, moment in enumerate(moments, 1):
        event = moment.entry.first
        if isinstance(event, Repaired):
            before = moments[number - 2].diagnosis if number > 1 else None
            done = _done(knowledge, shop, before, event, number, by_step.get(number))
            found.append(replace(done, since=since(knowledge, case, len(found) + 1)))
    return tuple(found)


def proposal(advice: Advice) -> Work | None:
    """The repair that is the next move, or with the lowest cost in all; None where none cures anything likely."""
    diagnosis, shop, choices = advice.diagnosis, advice.shop, advice.repairs()
    if not choices:
        return None
    best, single = choices[0], best_single(choices)
    money = _money(best, shop)
    return Work(
        0,
        tuple(repair.name for repair in best.repairs),
        best.labour_minutes,
        tuple(access.name for access in best.access),
        part_lines(best.parts, shop),
        money,
        _option(best, shop),
        tuple(_option(choice, shop) for choice in shown(choices, OTHERS)[1:]),
        set_against_single(best, single, shop) if single else "",
        while_open(diagnosis, choices, shop),
        cautions(best.hazards),
        best.held_back.name if best.held_back else "",
        _verify(best.repairs),
    )


def _done(
    knowledge: Knowledge,
    shop: Shop,
    before: Diagnosis | None,
    event: Repaired,
    number: int,
    spent: Spent | None,
) -> Work:
    repairs = [knowledge.repairs[id] for id in event.repairs if id in knowledge.repairs]
    choices = advised(before, shop).choices if before and before.evidence and repairs else ()
    chosen = next((c for c in choices if {r.id for r in c.repairs} == set(event.repairs)), None)
    opened = open_states(knowledge, before.case.access_open) if before else set()
    path = access_path(knowledge, [access for repair in repairs for access in repair.access], opened)
    hazards = dict.fromkeys(id for r in repairs for id in all_hazards(knowledge, r.hazards, r.access))
    return Work(
        number,
        repaired_names(knowledge, event),
        spent.minutes if spent else 0.0,
        tuple(access.name for access in path),
        part_lines(merged(repairs), shop),
        spent.money if spent else Money(),
        _option(chosen, shop) if chosen else None,
        tuple(_option(choice, shop) for choice in choices[:OTHERS] if choice is not chosen),
        "",
        (),
        cautions(worst_first(knowledge, hazards)),
        "",
        _verify(repairs),
    )


def _money(choice: RepairChoice, shop: Shop) -> Money:
    hours = choice.labour_minutes / 60
    return Money(hours * shop.labour, choice.parts_cost, hours * shop.downtime)


def _option(choice: RepairChoice, shop: Shop) -> Option:
    return Option(
        tuple(repair.id for repair in choice.repairs),
        tuple(repair.name for repair in choice.repairs),
        choice.cash,
        choice.expected_cost,
        choice.still_broken,
        why(choice, shop),
    )


def part_lines(parts: Iterable[Part], shop: Shop) -> tuple[PartLine, ...]:
    """The parts at the shop's prices."""
    return tuple(
        PartLine(
            part.name,
            part.quantity,
            shop.prices.get(part.name, part.price),
            part.single_use,
            part.quantity > 1,
        )
        for part in parts
    )


def cautions(hazards: Iterable[Hazard]) -> tuple[Caution, ...]:
    """Cautions in their order."""
    return tuple(Caution(hazard.name, hazard.caution, hazard.stop) for hazard in hazards)


def _verify(repairs: Iterable[Repair]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line for repair in repairs for line in repair.verify))
