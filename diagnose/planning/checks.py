"""The next check: what each would tell about the causes, and what it takes in minutes and dismantling."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, replace

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.away import is_away
from diagnose.knowledge.dismantling import both_ways
from diagnose.knowledge.observable import (
    FACT,
    LAST_RIGHT,
    LAST_RIGHT_ANSWERS,
    LAST_RIGHT_QUESTION,
    observable,
)
from diagnose.knowledge.records import Access, Hazard
from diagnose.network.built import unlisted
from diagnose.network.engine import Outcomes
from diagnose.plain import small
from diagnose.planning.cautions import of_check
from diagnose.planning.information import bits, by_fault_sets, entropy, outcomes, told_of_causes
from diagnose.planning.options import (
    LOOK_MINUTES,
    CheckOption,
    access_path,
    check_options,
    held_back,
    open_states,
    suspected,
)
from diagnose.planning.passing import in_one_go, passing, to_the_point, were_asked
from diagnose.planning.placing import is_placing
from diagnose.planning.savings import Saving, in_order, quick_first, savings
from diagnose.planning.since import ASK_LAST_RIGHT, SHARES, Since, since
from diagnose.planning.situation import Situation

MOST_CHECKS, FEWEST_CHECKS = 16, 5
"""How many checks are looked into, unless others are asked for; and how many at least where each takes
long."""
BUDGET = 1 << 20
"""Numbers of the tree that all checks looked into may take together."""


@dataclass(frozen=True, slots=True)
class Result:
    """One joint result of a check: finding id -> state, how likely, and the leading cause after it."""

    states: Mapping[str, str]
    probability: float
    leading: str
    leading_probability: float


@dataclass(frozen=True, slots=True)
class CheckValue:
    """A check with what it tells and takes.

    `minutes`: the work itself; `access_minutes`: to reach and restore what is not open yet. `bits`: expected
    drop of the sum of the causes' entropies, sum over causes of I(cause; results | evidence). Where a check
    reveals more than can be treated jointly, its most telling findings are, so `bits` is a lower bound.
    `cost`: time in money; `value`: expected cost of repair now minus after the result, less `cost` (EVOI),
    where repair means the best sequence of repairs alone or handing over. `held_back`: the hazard to rule out
    before. `before`: id of a check that saves more but would prevent this one, so that this one comes first.
    """

    id: str
    name: str
    minutes: float
    access_minutes: float
    access: tuple[Access, ...]
    hazards: tuple[Hazard, ...]
    tools: tuple[str, ...]
    steps: tuple[str, ...]
    findings: tuple[str, ...]
    bits: float
    results: tuple[Result, ...]
    cost: float = 0.0
    value: float = 0.0
    held_back: Hazard | None = None
    before: str = ""

    @property
    def total_minutes(self) -> float:
        """Work and dismantling together."""
        return self.minutes + self.access_minutes

    @property
    def bits_per_minute(self) -> float:
        """Information for the time."""
        return self.bits / max(self.total_minutes, 0.5)

    @property
    def value_per_minute(self) -> float:
        """Money saved for the time."""
        return self.value / max(self.total_minutes, 0.5)


@dataclass(frozen=True, eq=False)
class Order:
    """What each check saves, by number; those that save, in the order in which they are best done, `ahead` of them
    those that the dismantling for the others would prevent; the question when the machine was last right, where
    that pays (planning/since.py). `asks_since`: that question comes first; `go`: ids of all that is asked in one go
    where a question comes first, that one at the head."""

    saved: Mapping[int, Saving]
    ahead: tuple[int, ...]
    saving: tuple[int, ...]
    question: CheckValue | None
    asks_since: bool = False
    go: tuple[str, ...] = ()

    @property
    def first(self) -> int | None:
        """The check to do first."""
        return next(iter((*self.ahead, *self.saving)), None)


def in_which_order(diagnosis: Diagnosis, now: Situation) -> Order:
    """The checks that save money, the most first; but what its dismantling would prevent before the first of them
    where that pays, and a much quicker one before it where that costs no more. What is asked comes so once: all
    of it in one go."""
    saved = savings(now)
    ahead, saving = in_order(now, saved)
    asked, again = passing(diagnosis.knowledge, now, saved), were_asked(diagnosis)
    best = saved[saving[0]].money if saving else 0.0
    if saving and not ahead:
        first = quick_first(now, saved, saving[0], asked if again else ())
        if to_the_point(diagnosis, now.checks[first]):
            saving = [first, *(n for n in saving if n != first)]
    told, price = since(diagnosis.focused, now), now.shop.time(LOOK_MINUTES[FACT])
    question = _question(now, told, price) if told is not None and told.pays(price) else None
    order = Order(saved, tuple(ahead), tuple(saving), question)
    beaten = best if again or order.first is None else saved[order.first].money
    order = replace(order, asks_since=question is not None and question.value > beaten)
    return replace(order, go=_go(diagnosis, now, order, asked))


def _go(diagnosis: Diagnosis, now: Situation, order: Order, asked: Sequence[int]) -> tuple[str, ...]:
    """What is asked in one go where a question comes first, that one at the head."""
    first = order.first
    if not order.asks_since and first not in asked:
        return ()
    lead = ASK_LAST_RIGHT if order.asks_since or first is None else now.checks[first].id
    others = [now.checks[n].id for n in in_one_go(diagnosis, now, order.saved, asked)]
    return tuple(dict.fromkeys([lead, *others, *([ASK_LAST_RIGHT] if order.question else [])]))


def next_checks(
    diagnosis: Diagnosis, now: Situation, most: int | None = None, order: Order | None = None, lead: str = ""
) -> tuple[CheckValue, ...]:
    """The checks most worth doing, about `most` of them.

    `lead`, the check that is the next move, comes first, with what is asked in the same go after it. Then those
    that rule out a suspected hazard, the quickest first: safety before money. Then those that save money, in their
    order, and among them always the best for its minutes; then by bits per minute. Those held back by a hazard that
    is not ruled out come last.
    """
    order = order or in_which_order(diagnosis, now)
    diagnosis = diagnosis.focused
    saved, live = order.saved, suspected(diagnosis)
    most = most or max(FEWEST_CHECKS, min(MOST_CHECKS, BUDGET // diagnosis.engine.tree.size))
    clearing = {id for hazard in live for id in hazard.cleared_by} | ({lead} if lead else set())
    go = order.go if lead in order.go else ()
    worth = {now.checks[n].id: one.money for n, one in saved.items()}
    prevented = {now.checks[n].id: now.checks[order.saving[0]].id for n in order.ahead}
    saving = [*order.ahead, *order.saving]
    found = [
        replace(check, value=worth.get(check.id, -check.cost), before=prevented.get(check.id, ""))
        for check in _told(diagnosis, now, _promising(now, saving, worth, {*clearing, *go}, most))
    ]
    missing = {lead, *go} - {check.id for check in found}
    found += [_plain(diagnosis, now, one) for one in check_options(diagnosis) if one.id in missing]
    held = _held_back(diagnosis, now, live)
    place = {now.checks[n].id: position for position, n in enumerate(saving)}

    def rank(check: CheckValue) -> tuple[bool, bool, bool, float, float, str]:
        first = check.id in clearing
        by = check.total_minutes if first else place.get(check.id, len(place))
        return check.id != lead, check.id not in go, not first, by, -check.bits_per_minute, check.id

    first = sum(check.id in clearing or check.id in go for check in found)
    ranked = _with_question(order.question, sorted(found, key=rank), first, lead == ASK_LAST_RIGHT)
    return (*ranked, *held)


def _with_question(
    asked: CheckValue | None, ranked: list[CheckValue], first: int, leads: bool
) -> list[CheckValue]:
    """The checks with the question when the machine was last right by what it saves, or at the head where it leads;
    the `first` ones stay ahead."""
    if asked is None:
        return ranked
    place = next((n for n, one in enumerate(ranked) if n >= first and one.value < asked.value), len(ranked))
    place = 0 if leads else place
    return [*ranked[:place], asked, *ranked[place:]]


def _question(now: Situation, told: Since, price: float) -> CheckValue:
    """The question as a check; what it tells is predicted from the likely fault sets."""
    results = [
        Result({LAST_RIGHT: answer}, share, now.candidates[int(np.argmax(row))], float(row.max()))
        for answer, share, row in zip(LAST_RIGHT_ANSWERS, SHARES.tolist(), told.causes, strict=True)
    ]
    return CheckValue(
        id=ASK_LAST_RIGHT,
        name=f"Ask: {small(LAST_RIGHT_QUESTION)}",
        minutes=LOOK_MINUTES[FACT],
        access_minutes=0.0,
        access=(),
        hazards=(),
        tools=(),
        steps=(LAST_RIGHT_QUESTION,),
        findings=(LAST_RIGHT,),
        bits=told_of_causes(SHARES, told.causes),
        results=tuple(results),
        cost=price,
        value=told.gain - price,
    )


def _told(diagnosis: Diagnosis, now: Situation, chosen: Sequence[int]) -> list[CheckValue]:
    """What some checks tell, not those that tell nothing; exact, but by the likely fault sets where the result
    hangs on too much, or on a part taken out. Which of their findings jointly is chosen by the predictions of
    `now`."""
    relevant, others = [cause.id for cause in diagnosis.causes if cause.relevant], _asked_others(diagnosis)
    targets = [*relevant, *map(unlisted, others)]
    columns = [*map(diagnosis.built.variable, relevant), *others.values()]
    before = diagnosis.engine.marginals(columns)
    base = float(entropy(np.array([1 - before[v][0] for v in columns])).sum())
    joint = {number: tuple(now.results[number][0]) for number in chosen}
    plain = [n for n in chosen if not any(is_away(id) or is_placing(id) for id in joint[n])]
    exact = dict(zip(plain, outcomes(diagnosis, [joint[n] for n in plain], columns), strict=True))
    values = []
    for number in chosen:
        ids, outcome = exact.get(number, (joint[number], None))
        if outcome is not None:
            told = bits(outcome, base)
        else:
            ids, outcome = joint[number], by_fault_sets(diagnosis, now, number, columns)
            told = told_of_causes(outcome.probabilities.ravel(), outcome.causes.reshape(-1, len(targets)))
        values.append(_value(diagnosis, now, now.checks[number], ids, outcome, told, targets))
    return [value for value in values if value.bits > 1e-6]


def _promising(
    now: Situation, saving: Sequence[int], worth: Mapping[str, float], clearing: Set[str], most: int
) -> list[int]:
    """Numbers of the checks to look into: those that rule out a hazard, those that save money, as many as
    asked for and the best for its minutes, and the most telling for their minutes until there are enough."""
    first = [n for n, check in enumerate(now.checks) if check.id in clearing]
    quickest = sorted(saving, key=lambda n: -worth[now.checks[n].id] / max(now.minutes(n), 0.5))[:1]
    chosen = list(dict.fromkeys([*first, *saving[:most], *quickest]))
    if len(saving) < most:
        chosen += [n for n, _ in most_telling(now) if n not in chosen][: most - len(saving)]
    return chosen


def most_telling(now: Situation) -> list[tuple[int, float]]:
    """Numbers of the checks with their predicted bits per minute, the most first."""
    told = [predicted_bits(now, n) / max(now.minutes(n), 1.0) for n in range(len(now.checks))]
    return sorted(enumerate(told), key=lambda one: -one[1])


def predicted_bits(now: Situation, number: int) -> float:
    """Information of a check about the fault sets, by the predictions of the planning problem."""
    joint = now.problem.probabilities[:, None] * now.problem.tests[number].results
    alone = joint.sum(axis=0)
    safe = np.where(joint > 0, joint, 1.0)
    known = now.problem.tests[number].results / np.where(alone > 0, alone, 1.0)
    return float((joint * np.log2(np.where(joint > 0, known, safe))).sum())


def _held_back(diagnosis: Diagnosis, now: Situation, live: Sequence[Hazard]) -> list[CheckValue]:
    """The checks that a hazard not ruled out forbids for now, without figures."""
    found = []
    for option in check_options(diagnosis) if live else ():
        hazard = held_back(option.hazards, option.id, live, option.wants) if option.check else None
        if hazard is not None:
            found.append(replace(_plain(diagnosis, now, option), held_back=hazard))
    return found


def _asked_others(diagnosis: Diagnosis) -> dict[str, int]:
    """The variable of a cause that is not listed of each complaint that was looked for."""
    asked = {item.observation.finding for item in diagnosis.evidence}
    others = diagnosis.built.others
    return {complaint: other for complaint, other in others.items() if complaint in asked}


def _value(
    diagnosis: Diagnosis,
    now: Situation,
    option: CheckOption,
    joint: tuple[str, ...],
    outcome: Outcomes,
    told: float,
    targets: Sequence[str],
) -> CheckValue:
    plain = _plain(diagnosis, now, option)
    return replace(plain, bits=told, results=_likely_results(diagnosis, joint, outcome, targets))


def _plain(diagnosis: Diagnosis, now: Situation, option: CheckOption) -> CheckValue:
    """What the check takes, without what it tells."""
    knowledge, check = diagnosis.knowledge, option.check
    path = access_path(knowledge, option.access, open_states(knowledge, diagnosis.case.access_open))
    reach = both_ways(path)
    return CheckValue(
        option.id,
        option.name,
        option.minutes,
        reach,
        path,
        of_check(diagnosis, option, path),
        check.tools if check else (),
        check.steps if check else (observable(knowledge, option.findings[0]).observe,),
        option.findings,
        0.0,
        (),
        now.shop.time(option.minutes + reach) + now.shop.waiting(option.wait),
    )


def _likely_results(
    diagnosis: Diagnosis, joint: tuple[str, ...], outcome: Outcomes, targets: Sequence[str], most: int = 4
) -> tuple[Result, ...]:
    findings = [observable(diagnosis.knowledge, id) for id in joint]
    order = np.argsort(-outcome.probabilities, axis=None, kind="stable")[:most]
    found = []
    for flat in order:
        index = np.unravel_index(flat, outcome.probabilities.shape)
        causes = outcome.causes[index]
        best = int(np.argmax(causes))
        states = {finding.id: finding.states[state] for finding, state in zip(findings, index, strict=True)}
        found.append(Result(states, float(outcome.probabilities[index]), targets[best], float(causes[best])))
    return tuple(found)
