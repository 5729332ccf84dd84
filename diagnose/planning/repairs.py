"""Which repairs to do together: the sets with the lowest expected cost, and why, in money."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.dismantling import both_ways
from diagnose.knowledge.paths import link_strength
from diagnose.knowledge.records import Access, Hazard, Part, Repair
from diagnose.planning.cautions import of_step
from diagnose.planning.options import access_path, all_hazards, held_back, open_states, redundant, suspected
from diagnose.planning.planner import Glance, Planner, State
from diagnose.planning.problem import together
from diagnose.planning.shop import Shop
from diagnose.planning.situation import Situation
from diagnose.planning.wear import Wear, outlook

GOOD_CURE = 0.7  # probability from which a repair is one of its cause (judgement)
LEADING = 5  # repairs that sets are built around, of the likeliest and of the cheapest
SENSIBLE = 0.2
"""A repair leads a set only where it cures at least this share of what the best one cures."""
MOST_BESIDE = 4  # repairs beside the leading one, with one to spare: 32 sets


@dataclass(frozen=True, slots=True)
class Pays:
    """What one repair is good for beside the set without it: `saved` in money (negative: it does not pay).
    `still_broken`: P(still broken) without it, where that is more; `wear`: of its part, where that tells; `wrecks`:
    what it would leave in may wreck more."""

    repair: Repair
    saved: float
    still_broken: float | None
    wear: Wear | None
    wrecks: bool


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A worn part that is not of the set, and by how much it would cost more than it saves."""

    wear: Wear
    more: float


@dataclass(frozen=True, slots=True)
class RepairChoice:
    """A set of repairs done as one, with what it costs and risks.

    `cash`: parts, labour and downtime now, dismantling shared. `after`: P(still broken) times comeback and what
    it costs from there. `wear`: what the parts left in cost over the horizon beyond what new ones would.
    `damage`: what causes left in may wreck. `expected_cost` is the sum. `held_back`: the hazard to rule out first.
    """

    repairs: tuple[Repair, ...]
    cash: float
    parts_cost: float
    labour_minutes: float
    still_broken: float
    after: float
    wear: float
    damage: float
    parts: tuple[Part, ...]
    access: tuple[Access, ...]
    hazards: tuple[Hazard, ...]
    held_back: Hazard | None
    why: tuple[Pays | LeftOut, ...] = ()

    @property
    def expected_cost(self) -> float:
        """What the choice costs in expectation, over the shop's horizon."""
        return self.cash + self.after + self.wear + self.damage


def repair_choices(diagnosis: Diagnosis, situation: Situation, most: int = 6) -> tuple[RepairChoice, ...]:
    """The best sets of repairs, cheapest expected cost first; the best single repair is always among them."""
    leaders = _leaders(situation)
    sets = list(dict.fromkeys(chosen for leader in leaders for chosen in _around(leader, situation)))
    wears = _wears(diagnosis, situation, {id for chosen in sets for id in chosen})
    choices = [_choice(diagnosis, situation, chosen, wears) for chosen in sets]
    ranked = sorted(choices, key=lambda choice: choice.expected_cost)
    by_ids = {tuple(sorted(r.id for r in choice.repairs)): choice for choice in ranked}
    explained = [replace(choice, why=tuple(_why(choice, by_ids, wears))) for choice in ranked[:most]]
    single = next((choice for choice in ranked if len(choice.repairs) == 1), None)
    if single and all(len(choice.repairs) > 1 for choice in explained):
        explained.append(replace(single, why=tuple(_why(single, by_ids, wears))))
    return tuple(explained)


def _repairs(situation: Situation) -> dict[str, Repair]:
    return {chosen[0].id: chosen[0] for chosen in situation.repairs if len(chosen) == 1}


def _leaders(situation: Situation) -> list[Repair]:
    """The single repairs that most likely cure it, and those that look cheapest."""
    planner = Planner(situation.problem)
    glances = [g for g in planner.glances(planner.start(situation.open_now)) if g.kind == "fix"]
    single = [g for g in glances if len(situation.repairs[g.number]) == 1]
    best = max((1 - _left(g) for g in single), default=0.0)
    single = [g for g in single if 1 - _left(g) >= SENSIBLE * best]
    likeliest = sorted(single, key=lambda g: _left(g))[:LEADING]
    chosen = dict.fromkeys(g.number for g in (*likeliest, *single[:LEADING]))
    return [situation.repairs[number][0] for number in chosen]


def _left(glance: Glance) -> float:
    return glance.after[0][1] if glance.after else 0.0


def _around(leader: Repair, situation: Situation) -> list[tuple[str, ...]]:
    """The repair alone and with every choice of what belongs together with it."""
    known = _repairs(situation)
    beside = [id for id in leader.together if id in known]
    further = [id for near in beside for id in known[near].together if id in known]
    first = [*_likely_roots(situation), *beside, *further, *_likely_pairs(leader, situation)]
    pool = [id for id in dict.fromkeys(first) if id != leader.id][: MOST_BESIDE + 1]
    sizes = range(len(pool) + 1)
    sets = [(leader.id, *extra) for size in sizes for extra in combinations(pool, size)]
    return [tuple(sorted(ids)) for ids in sets if not redundant([known[id] for id in ids])]


def _likely_roots(situation: Situation) -> list[str]:
    """The cheapest repair of each fault that is there with P >= 1/2: none of these is left in unasked."""
    problem, found = situation.problem, []
    present = situation.present.T @ problem.probabilities
    for fault in np.flatnonzero(present >= 0.5):
        single = [n for n, chosen in enumerate(situation.repairs) if len(chosen) == 1]
        cures = [n for n in single if problem.fixes[n].cures[fault] >= GOOD_CURE]
        if cures:
            found.append(situation.repairs[min(cures, key=lambda n: problem.fixes[n].cost)][0].id)
    return list(dict.fromkeys(found))[:2]


def _likely_pairs(leader: Repair, situation: Situation) -> list[str]:
    """Repairs that situation found worth trying together with this one."""
    pairs = [chosen for chosen in situation.repairs if len(chosen) == 2 and leader in chosen]
    return [repair.id for chosen in pairs for repair in chosen if repair is not leader][:2]


def _wears(diagnosis: Diagnosis, situation: Situation, ids: Iterable[str]) -> dict[str, Wear]:
    known = _repairs(situation)
    found = {
        id: outlook(diagnosis.knowledge, diagnosis.case, known[id], situation.shop) for id in sorted(ids)
    }
    return {id: wear for id, wear in found.items() if wear is not None}


def _choice(
    diagnosis: Diagnosis, situation: Situation, ids: Sequence[str], wears: Mapping[str, Wear]
) -> RepairChoice:
    known, shop = _repairs(situation), situation.shop
    repairs = tuple(known[id] for id in ids)
    still_broken, after = _outcome(situation, ids)
    opened = open_states(diagnosis.knowledge, diagnosis.case.access_open)
    path = access_path(diagnosis.knowledge, [a for r in repairs for a in r.access], opened)
    minutes = sum(r.minutes.value for r in repairs) + both_ways(path)
    parts = merged(repairs)
    hazards = tuple(
        dict.fromkeys(h for r in repairs for h in all_hazards(diagnosis.knowledge, r.hazards, r.access))
    )
    live = suspected(diagnosis)
    return RepairChoice(
        repairs,
        shop.time(minutes) + shop.parts(parts),
        shop.parts(parts),
        minutes,
        still_broken,
        after,
        sum(wear.behind for id, wear in wears.items() if id not in ids),
        _damage(diagnosis, repairs, shop),
        parts,
        path,
        of_step(diagnosis, (h for r in repairs for h in r.hazards), path),
        next((held for r in repairs if (held := held_back(hazards, r.id, live))), None),
    )


def _outcome(situation: Situation, ids: Sequence[str]) -> tuple[float, float]:
    """P(still broken) after these repairs, and that times the comeback and the best way on from there."""
    problem, known = situation.problem, _repairs(situation)
    numbers = [situation.repairs.index((known[id],)) for id in ids]
    one = together(problem, numbers)
    onward = Planner(problem)
    state = onward.start(situation.open_now)
    glance = next(iter(Planner(replace(problem, fixes=(one,), tests=())).fixes(state)), None)
    if glance is None:
        return 1.0, problem.comeback + float(onward.values([state])[0])
    if not glance.after:
        return 0.0, 0.0
    _, left, then = glance.after[0]
    after = State(then.belief, then.open)
    return left, left * (problem.comeback + float(onward.values([after])[0]))


def merged(repairs: Iterable[Repair]) -> tuple[Part, ...]:
    """The parts of all repairs; the same part asked for by two of them is taken once, the larger number."""
    parts: dict[str, Part] = {}
    for repair in repairs:
        for part in repair.parts:
            before = parts.get(part.name)
            if before is None or before.quantity < part.quantity:
                parts[part.name] = part
    return tuple(parts.values())


def _damage(diagnosis: Diagnosis, repairs: Iterable[Repair], shop: Shop) -> float:
    """What causes that the repairs leave in will cost when the machine works on: what they wreck outright, and the
    causes that they bring about again, each with its cheapest repair and a comeback."""
    total = 0.0
    cures = [(cure.cause, cure.effectiveness.value) for repair in repairs for cure in repair.cures]
    for ranked in diagnosis.causes:
        cause = diagnosis.knowledge.causes[ranked.id]
        stays = ranked.probability if ranked.relevant else 0.0
        for cured, effectiveness in cures:
            stays *= 1 - effectiveness if cured == ranked.id else 1.0
        if stays < 0.01:
            continue
        if cause.damage:
            total += stays * cause.damage.running.value * cause.damage.cost.value
        for link in cause.leads_to:
            if link.effect in diagnosis.knowledge.causes:
                total += stays * link_strength(link) * _again(diagnosis, link.effect, shop)
    return total


def _again(diagnosis: Diagnosis, cause: str, shop: Shop) -> float:
    """A cause brought about again: its cheapest repair that mostly cures it, and the comeback."""
    costs = [
        shop.parts(repair.parts) + shop.time(repair.minutes.value)
        for repair in diagnosis.knowledge.repairs.values()
        if any(c.cause == cause and c.effectiveness.value >= GOOD_CURE for c in repair.cures)
    ]
    return min(costs, default=0.0) + shop.comeback


def _why(
    choice: RepairChoice, others: Mapping[tuple[str, ...], RepairChoice], wears: Mapping[str, Wear]
) -> Iterator[Pays | LeftOut]:
    """What each part of the set is good for, and what was left out."""
    ids = tuple(sorted(r.id for r in choice.repairs))
    for repair in choice.repairs:
        without = others.get(tuple(id for id in ids if id != repair.id))
        if without is not None:
            yield _pays(repair, without, choice, wears)
    for id, wear in wears.items():
        with_it = others.get(tuple(sorted((*ids, id))))
        if id not in ids and with_it is not None and with_it.expected_cost > choice.expected_cost:
            yield LeftOut(wear, with_it.expected_cost - choice.expected_cost)


def _pays(repair: Repair, without: RepairChoice, choice: RepairChoice, wears: Mapping[str, Wear]) -> Pays:
    return Pays(
        repair,
        without.expected_cost - choice.expected_cost,
        without.still_broken if without.still_broken - choice.still_broken > 0.005 else None,
        wears.get(repair.id) if without.wear > choice.wear else None,
        without.damage - choice.damage > 1,
    )
