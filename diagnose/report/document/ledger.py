"""What a case has cost so far, entry by entry, from usual times, the shop's rates and prices.

Nobody records minutes. A check done costs its usual time and the dismantling that was not open yet; a look or a
question its minutes. A finding that takes a check, where none of its epoch is recorded, has the cheapest one told
beside the sum and not in it. The complaint costs nothing to hear; trying the machine is part of the repair.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from diagnose.cases.case import Case
from diagnose.cases.events import Checked, Event, Noted, OpenedUp, Repaired
from diagnose.knowledge.dismantling import both_ways
from diagnose.knowledge.records import Check, Knowledge, Part, Repair
from diagnose.planning.options import LOOK_MINUTES, access_path, open_states
from diagnose.planning.repairs import merged
from diagnose.planning.shop import Shop
from diagnose.report.document.replay import CaseEntry
from diagnose.report.document.work_records import Money, Spent
from diagnose.report.screen_words import listed

CODES = "codes read"


@dataclass(frozen=True, slots=True)
class _Now:
    """What is open, and what was paid for since the last repair: checks by id, and the reading of codes."""

    opened: frozenset[str] = frozenset()
    paid: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class _Cost:
    words: str
    minutes: float
    parts: tuple[Part, ...] = ()
    recorded: bool = True


def spending(knowledge: Knowledge, case: Case, shop: Shop, told: Sequence[CaseEntry]) -> tuple[Spent, ...]:
    """What each entry cost, those that cost nothing left out; steps count from 1."""
    now = _Now(paid=_checks_until_repair(told))
    found: list[Spent] = []
    for number, entry in enumerate(told, 1):
        costs = []
        for event in entry.events:
            now, cost = _cost(knowledge, case, now, event)
            costs.append(cost)
        if isinstance(entry.first, Repaired):
            now = replace(now, paid=_checks_until_repair(told[number:]))
        found += _spent(shop, number, [cost for cost in costs if cost])
    return tuple(found)


def _checks_until_repair(told: Sequence[CaseEntry]) -> frozenset[str]:
    """The checks recorded before the next repair: what they show needs no other way to it."""
    found = []
    for entry in told:
        if isinstance(entry.first, Repaired):
            break
        found += [event.check for event in entry.events if isinstance(event, Checked)]
    return frozenset(found)


def _spent(shop: Shop, step: int, costs: Sequence[_Cost]) -> Iterator[Spent]:
    if costs:
        money = sum((_money(shop, cost) for cost in costs), Money())
        minutes = sum(cost.minutes for cost in costs)
        recorded = all(cost.recorded for cost in costs)
        yield Spent(step, listed(dict.fromkeys(cost.words for cost in costs)), minutes, money, recorded)


def _money(shop: Shop, cost: _Cost) -> Money:
    hours = cost.minutes / 60
    return Money(hours * shop.labour, shop.parts(cost.parts), hours * shop.downtime)


def _cost(knowledge: Knowledge, case: Case, now: _Now, event: Event) -> tuple[_Now, _Cost | None]:
    match event:
        case Checked():
            return _checked(knowledge, now, knowledge.checks.get(event.check))
        case OpenedUp():
            return _opened(knowledge, now, event.access)
        case Noted():
            return _noted(knowledge, case, now, event)
        case Repaired():
            done = tuple(knowledge.repairs[id] for id in event.repairs if id in knowledge.repairs)
            left = frozenset(open_states(knowledge, event.left_open))
            return _Now(left), _repair_cost(knowledge, done, now.opened) if done else None
    return now, None


def _repair_cost(knowledge: Knowledge, done: tuple[Repair, ...], opened: frozenset[str]) -> _Cost:
    path = access_path(knowledge, [access for repair in done for access in repair.access], opened)
    minutes = sum(repair.minutes.value for repair in done)
    minutes += both_ways(path)
    return _Cost(" + ".join(repair.name for repair in done), minutes, merged(done))


def _checked(knowledge: Knowledge, now: _Now, check: Check | None) -> tuple[_Now, _Cost | None]:
    if check is None:
        return now, None
    minutes, opened = _with_access(knowledge, now, check)
    return replace(now, opened=opened), _Cost(check.name, minutes)


def _with_access(knowledge: Knowledge, now: _Now, check: Check) -> tuple[float, frozenset[str]]:
    """Minutes of a check with the dismantling before it, and what is open after it."""
    path = access_path(knowledge, check.access, now.opened)
    minutes = check.minutes.value + both_ways(path)
    return minutes, now.opened | {access.id for access in path}


def _opened(knowledge: Knowledge, now: _Now, access: str) -> tuple[_Now, _Cost | None]:
    wanted = [access] if access in knowledge.access else []
    path = access_path(knowledge, wanted, now.opened)
    minutes = both_ways(path)
    cost = _Cost(listed(state.name for state in path), minutes) if path else None
    return replace(now, opened=now.opened | {state.id for state in path}), cost


def _noted(knowledge: Knowledge, case: Case, now: _Now, event: Noted) -> tuple[_Now, _Cost | None]:
    """The cheapest way to what was noted, where no check recorded or reckoned before shows it."""
    finding = knowledge.findings.get(event.finding)
    if finding is None or finding.other is not None:
        return now, None
    ways = [check for check in knowledge.checks.values() if finding.id in check.reveals]
    if any(check.id in now.paid for check in ways):
        return now, None
    fitting = [check for check in ways if case.machine.fits(check.only_if)]
    priced = sorted((_with_access(knowledge, now, check)[0], check.id) for check in fitting)
    look = LOOK_MINUTES.get(finding.kind)
    if look is not None and (not priced or look <= priced[0][0]):
        return _looked(now, finding.kind, finding.name, look)
    if not priced:
        return now, None
    minutes, cheapest = priced[0]
    told = _Cost(knowledge.checks[cheapest].name, minutes, recorded=False)
    return replace(now, paid=now.paid | {cheapest}), told


def _looked(now: _Now, kind: str, name: str, minutes: float) -> tuple[_Now, _Cost | None]:
    """A look or a question; all codes are read at once."""
    if kind != "code":
        return now, _Cost(f"{'asked' if kind == 'question' else 'looked'}: {name}", minutes)
    if CODES in now.paid:
        return now, None
    return replace(now, paid=now.paid | {CODES}), _Cost(CODES, minutes)
