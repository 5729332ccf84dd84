"""Decisions as plain JSON values: repair choices, the plan, the shop's rates. Sums are in money."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from pathlib import Path

from diagnose.knowledge.records import Access, Part
from diagnose.moves.advice import Advice
from diagnose.planning.decide import Branch, Decision, PlanStep
from diagnose.planning.repairs import RepairChoice
from diagnose.planning.shop import Shop
from diagnose.report.data import Json, hazards
from diagnose.report.diagnosis_data import head
from diagnose.report.move import move_data
from diagnose.report.remedy import shown, while_open
from diagnose.report.repair_words import why


def repairs(advice: Advice, choices: Sequence[RepairChoice], most: int) -> Json:
    """The first repair choices of all that were weighed, the next move or the cheapest first; and what belongs
    together with the best one but was left out, in words."""
    diagnosis, shop = advice.diagnosis, advice.shop
    return {
        **head(diagnosis),
        "move": move_data(advice),
        "currency": shop.currency,
        "options": [_choice(choice, shop) for choice in shown(choices, most)],
        "left_out": list(while_open(diagnosis, choices, shop)) if choices else [],
    }


def _choice(choice: RepairChoice, shop: Shop) -> Json:
    return {
        "repairs": [repair.id for repair in choice.repairs],
        "names": [repair.name for repair in choice.repairs],
        "expected_cost": choice.expected_cost,
        "cash": choice.cash,
        "parts_cost": choice.parts_cost,
        "labour_cost": choice.cash - choice.parts_cost,
        "labour_minutes": choice.labour_minutes,
        "parts": [_part(part, shop) for part in choice.parts],
        "access": [_access(access) for access in choice.access],
        "still_broken": choice.still_broken,
        "after_cost": choice.after,
        "wear_cost": choice.wear,
        "damage_cost": choice.damage,
        "reasons": list(why(choice, shop)),
        "cautions": hazards(choice.hazards),
        "held_back": choice.held_back.id if choice.held_back else None,
        "verify": list(dict.fromkeys(line for repair in choice.repairs for line in repair.verify)),
    }


def _part(part: Part, shop: Shop) -> Json:
    return {
        "name": part.name,
        "quantity": part.quantity,
        "price": shop.prices.get(part.name, part.price),
        "single_use": part.single_use,
        "set": part.quantity > 1,
    }


def _access(access: Access) -> Json:
    return {"id": access.id, "name": access.name, "minutes": access.both_ways}


def plan(advice: Advice, decision: Decision) -> Json:
    """The whole plan as a tree; each step's `cost` is expected from there to the end."""
    return {
        **head(advice.diagnosis),
        "move": move_data(advice),
        "currency": advice.shop.currency,
        "expected_cost": decision.cost,
        "hours": decision.hours,
        "worst": decision.worst,
        "repair_only": decision.repair_only,
        "plan": _step(decision.first),
    }


def _step(step: PlanStep) -> Json:
    return {
        "kind": step.kind,
        "name": step.name,
        "check": step.check.id if step.check else None,
        "repairs": [repair.id for repair in step.repairs],
        "cost": step.cost,
        "own_cost": step.own_cost,
        "minutes": step.minutes,
        "cautions": hazards(step.hazards),
        "branches": [_branch(step, branch) for branch in step.branches],
    }


def _branch(step: PlanStep, branch: Branch) -> Json:
    """One way on: `results` of a check (any of them leads here), none after a repair, which is still broken."""
    return {
        "results": [dict(result) for result in branch.when],
        "still_broken": step.kind == "repair",
        "probability": branch.probability,
        "then": _step(branch.then),
    }


def shop(rates: Shop, file: Path | None, unknown: Iterable[str]) -> Json:
    """The rates in force and the file that they come from; none where they are the usual figures."""
    values = asdict(rates) | {"prices": dict(rates.prices)}
    return {**values, "file": str(file) if file else None, "unknown_parts": list(unknown)}
