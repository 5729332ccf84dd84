"""A case as a planning problem: likely sets of faults, what each check would show, what each repair would
cure.

The sets and their probabilities are exact; what checks would show given a set is predicted
(network/predict.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial
from itertools import combinations

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.away import is_away
from diagnose.knowledge.observable import observable
from diagnose.knowledge.paths import link_strength, links_of, strengths_below
from diagnose.knowledge.records import Knowledge, Link, Repair
from diagnose.network.buckets import TooWide
from diagnose.network.network import Array
from diagnose.network.predict import predict
from diagnose.network.remaining import Remaining
from diagnose.planning.aftermath import Aftermath
from diagnose.planning.away import predicted
from diagnose.planning.belonging import belong
from diagnose.planning.keep_running import KeepRunning, forbidden, keep_running
from diagnose.planning.options import (
    CheckOption,
    access_path,
    check_options,
    held_back,
    open_states,
    repair_options,
    suspected,
)
from diagnose.planning.placing import is_placing
from diagnose.planning.placing import predicted as at_which
from diagnose.planning.problem import FaultSets, Fix, Problem, Test, closed, together
from diagnose.planning.shop import Shop

CANDIDATES = 12  # causes: sets of them are worked out one by one
FLOOR = 0.01  # probability below which a cause is no candidate (judgement)
MASS = 0.98  # of the probability of all fault sets, that the sets kept hold
MOST_SETS, FEWEST_SETS, NUMBERS = 70, 8, 5 << 18
"""Of how many fault sets at most and at least, and how many numbers of the tree they may take together."""
MOST_RESULTS = 16  # joint results of a check: two to the power of four findings
LARGEST_SET = 3  # faults at once: an arrival has 1.0 to 1.5 as a rule
FEWEST_LEFT, ROOM = 12, 1 << 20
"""Of how many pairs (before, after) at least, and how many numbers of the tree they may take together."""
TURNS = 8
"""Of fitting the sets to the probability of each cause."""
WEAKEST = 0.02
"""Paths weaker than this are not followed from a new part to the complaint."""
MOST_LEFT = 24
"""For how many of the likeliest sets it is reckoned exactly what is left of the complaint after repairs."""
GROWN = 8
"""How many of the likeliest sets of one size are looked into with a fault more."""


@dataclass(frozen=True, eq=False)
class Situation:
    """The problem with the names behind its numbers.

    `candidates`: the causes, by bit of a fault set; the last bit is "something else". `checks[i]` is test i
    of the problem with `results[i]` naming its results (finding -> state); `repairs[j]` are the repairs of
    fix j.
    """

    problem: Problem
    shop: Shop
    candidates: tuple[str, ...]
    checks: tuple[CheckOption, ...]
    results: tuple[tuple[Mapping[str, str], ...], ...]
    repairs: tuple[tuple[Repair, ...], ...]
    access: tuple[str, ...]
    open_now: int

    def minutes(self, check: int) -> float:
        """Work and dismantling of one check as things stand, and what is waited for it as minutes of work."""
        test = self.problem.tests[check]
        hour = self.shop.time(60.0)
        reach = self.problem.reach(test.access, self.open_now)[0]
        return 60 * (test.cost + reach) / hour if hour else self.checks[check].minutes

    @cached_property
    def present(self) -> Array:
        """Whether a candidate is of a fault set, shape (fault sets, candidates)."""
        bits = np.arange(len(self.candidates))
        return np.asarray((self.problem.faults[:, None] >> bits) & 1, dtype=float)

    @property
    def something_else(self) -> int:
        """The bit of a fault that is none of the candidates."""
        return len(self.candidates)


def situation(diagnosis: Diagnosis, shop: Shop, running: Sequence[KeepRunning] | None = None) -> Situation:
    """The planning problem of a case as it stands; no check in it asks what a standing stop forbids. `running`:
    whether the machine may run on, where that is known already."""
    whole, diagnosis = diagnosis, diagnosis.focused
    candidates = _candidates(diagnosis)
    faults, probabilities = _fault_sets(diagnosis, candidates)
    live = suspected(diagnosis)
    banned = forbidden(keep_running(whole, shop) if running is None else running)
    checks = [
        check
        for check in check_options(diagnosis)
        if held_back(check.hazards, check.id, live, check.wants) is None
        and not banned.intersection(check.wants)
    ]
    repairs = [r for r in repair_options(diagnosis) if any(cure.cause in candidates for cure in r.cures)]
    access = _access_used(diagnosis, checks, repairs)
    tests, results, kept = _tests(diagnosis, shop, candidates, faults, checks, access)
    shows = _shows(diagnosis)
    fixes = tuple(_fix(repair, shop, candidates, access, shows) for repair in repairs)
    opening = np.array([shop.time(_minutes(diagnosis, id)) for id in access])
    aftermath = _aftermath(diagnosis, candidates, faults, probabilities)
    plain = Problem(
        faults,
        probabilities,
        tests,
        fixes,
        shop.hand_over + _cured_elsewhere(faults, fixes, opening, aftermath),
        opening,
        tuple(_bits(diagnosis.knowledge.access[id].needs, access) for id in access),
        shop.comeback,
        reassembled=True,
        aftermath=aftermath,
    )
    sets = _sets_worth_trying(plain, repairs)
    all_fixes = (*plain.fixes, *(together(plain, chosen) for chosen in sets))
    opened = open_states(diagnosis.knowledge, diagnosis.case.access_open)
    return Situation(
        replace(plain, fixes=all_fixes),
        shop,
        candidates,
        kept,
        results,
        (*((repair,) for repair in repairs), *(tuple(repairs[i] for i in chosen) for chosen in sets)),
        access,
        _bits(opened & set(access), access),
    )


def _candidates(diagnosis: Diagnosis) -> tuple[str, ...]:
    """The likeliest causes that can be behind what was found."""
    likely = [c.id for c in diagnosis.causes if c.relevant and c.probability >= FLOOR]
    in_tree = diagnosis.engine.region
    return tuple(id for id in likely if diagnosis.built.variable(id) in in_tree)[:CANDIDATES]


def _rows(diagnosis: Diagnosis, candidates: Sequence[str], faults: Iterable[int]) -> list[dict[int, int]]:
    """For each fault set the states of the candidates."""
    variables = [diagnosis.built.variable(id) for id in candidates]
    fixed = diagnosis.engine.fixed
    return [{v: int(f) >> bit & 1 for bit, v in enumerate(variables) if v not in fixed} for f in faults]


def _fault_sets(diagnosis: Diagnosis, candidates: Sequence[str]) -> tuple[FaultSets, Array]:
    """The likely fault sets, closed under removal, and their exact probabilities (scaled to one).

    None of the candidates means that something else is behind it.
    """
    else_bit = 1 << len(candidates)
    most = max(FEWEST_SETS, min(MOST_SETS, NUMBERS // diagnosis.engine.tree.size))
    found = dict[int, float]()
    new = [0, *(1 << bit for bit in range(len(candidates)))]
    for _ in range(LARGEST_SET):
        found |= dict(zip(new, _chances(diagnosis, candidates, new), strict=True))
        grown = sorted(filter(None, new), key=lambda one: -found[one])[: min(GROWN, most // 8)]
        new = sorted({one | 1 << bit for one in grown for bit in range(len(candidates))} - found.keys())
        if not new:
            break
    sets, chances = list(found), np.array(list(found.values()))
    order = np.argsort(-chances, kind="stable")
    enough = int(np.searchsorted(np.cumsum(chances[order]), MASS * chances.sum())) + 1
    likely = {sets[i] or else_bit: float(chances[i]) for i in order[: min(enough, most)]}
    faults = closed([*likely, else_bit])  # it is left where all that is listed has gone
    probabilities = np.array([likely.get(int(fault), 0.0) for fault in faults])
    exact = [cause.probability for id in candidates if (cause := diagnosis.cause(id))]
    return faults, with_marginals(faults, probabilities, [*exact, found[0]])


def with_marginals(faults: FaultSets, probabilities: Array, wanted: Sequence[float]) -> Array:
    """The probabilities, scaled so that each fault is there as often as it must: the sets left out, those of
    many faults above all, would be missing from all of them. Each in its turn, with the least change
    (iterative proportional fitting: Deming & Stephan 1940, Csiszar 1975, from memory)."""
    found = probabilities / probabilities.sum()
    members = ((faults[:, None] >> np.arange(len(wanted))) & 1).T.astype(bool)
    for _ in range(TURNS):
        for member, share in zip(members, wanted, strict=True):
            there = float(found[member].sum())
            if 0 < there < 1 and 0 < share < 1:
                found = found * np.where(member, share / there, (1 - share) / (1 - there))
    scaled: Array = found / found.sum()
    return scaled


def _chances(diagnosis: Diagnosis, candidates: Sequence[str], sets: Sequence[int]) -> Array:
    """P(exactly these of the candidates), exact."""
    return diagnosis.engine.given(_rows(diagnosis, candidates, sets), ())[0]


def _cured_elsewhere(faults: FaultSets, fixes: Sequence[Fix], opening: Array, aftermath: Aftermath) -> Array:
    """What the cure itself costs whoever the machine is handed to, by fault set: of each fault the cheapest
    repair with its own dismantling; of something else as much as the middle one of those known, also where it
    is behind the complaint beside these faults."""
    candidates = len(aftermath.alone)
    reach = [sum(float(cost) for bit, cost in enumerate(opening) if fix.access >> bit & 1) for fix in fixes]
    of_each = np.array(
        [
            min(
                (fix.cost + r for fix, r in zip(fixes, reach, strict=True) if fix.cures[bit] > 0), default=0.0
            )
            for bit in range(candidates)
        ]
    )
    known = np.sort(of_each[of_each > 0])
    prices = np.append(of_each, known[len(known) // 2] if len(known) else 0.0)
    there = ((faults[:, None] >> np.arange(candidates + 1)) & 1).astype(float)
    there[:, -1] = [aftermath.stays(fault, 0)[1] if fault else 0.0 for fault in faults.tolist()]
    return np.asarray(there @ prices)


def _aftermath(
    diagnosis: Diagnosis, candidates: Sequence[str], faults: FaultSets, probabilities: Array
) -> Aftermath:
    """What repairs leave. Where no complaint stands there is nothing to stay but the faults themselves."""
    complaints, beyond, shows = standing(diagnosis), 1 << len(candidates), _shows(diagnosis)
    alone = np.array([shows(id) if complaints else 1.0 for id in candidates])
    sets = likeliest(faults, probabilities, beyond)
    left = _left(diagnosis, candidates, complaints, sets) if complaints else {}
    usual = [
        (p, left[fault, 0])
        for fault, p in zip(faults.tolist(), probabilities, strict=True)
        if (fault, 0) in left
    ]
    weight = sum(p for p, _ in usual)
    mean = sum(p * share for p, share in usual) / weight if weight else 0.0
    return Aftermath(beyond, left, alone, _brings(diagnosis.knowledge, candidates), mean)


def _shows(diagnosis: Diagnosis) -> Callable[[str], float]:
    """P(a cause come anew brings what stands about), by its best path; 0 where this machine cannot have
    it."""
    complaints, causes = standing(diagnosis), set(diagnosis.built.causes)
    links = partial(links_of, diagnosis.knowledge)

    @cache
    def shows(id: str) -> float:
        below = strengths_below(links, id, WEAKEST) if id in causes else {}
        return 1 - float(np.prod([1 - below.get(one, 0.0) for one in complaints]))

    return shows


def standing(diagnosis: Diagnosis) -> tuple[str, ...]:
    """What the machine came in for and still shows: its complaints; where it has none, what it came with."""
    findings, first = diagnosis.knowledge.findings, set(diagnosis.case.came_in_for)
    shown = [id for item in diagnosis.shown if (id := item.observation.finding) in (first or findings)]
    shown = [id for id in shown if id in findings]
    return tuple(id for id in shown if findings[id].other) or tuple(shown)


def likeliest(faults: FaultSets, probabilities: Array, beyond: int) -> list[int]:
    """The likeliest sets of candidates, for which it is worth reckoning what is left of the complaint."""
    order = [int(i) for i in np.argsort(-probabilities, kind="stable") if probabilities[i] > 0]
    sets = [int(faults[i]) for i in order if not int(faults[i]) & beyond]
    return sets[:MOST_LEFT]


def _left(
    diagnosis: Diagnosis, candidates: Sequence[str], complaints: Sequence[str], sets: Sequence[int]
) -> dict[tuple[int, int], float]:
    """(faults before, faults after) -> P(the complaint stays), of the sets and all parts of them; a part that
    is not one of the sets is what was left of the likeliest set that holds it. Nothing where that is too
    wide."""
    whole = diagnosis.whole.focused if diagnosis.built.places else diagnosis  # focused already
    causes, shown = ([whole.built.variable(id) for id in ids] for ids in (candidates, complaints))
    try:
        remaining = Remaining(whole.built, whole.engine, causes, shown)
    except TooWide:
        return {}
    pairs = [(one, int(part)) for one in sets for part in closed([one])[:-1]]
    pairs = pairs[: max(FEWEST_LEFT, ROOM // remaining.tree.size)]
    found = dict(zip(pairs, map(float, remaining.left(pairs)), strict=True))
    for one, part in pairs:
        for further in closed([part])[:-1] if part else ():
            if (one, int(further)) in found and found[one, part] > 0:
                found.setdefault((part, int(further)), min(1.0, found[one, int(further)] / found[one, part]))
    return found


def _brings(knowledge: Knowledge, candidates: Sequence[str]) -> Array:
    """P(one candidate brings another about), by links and through conditions, shape (candidates,
    candidates)."""

    def below(id: str) -> tuple[Link, ...]:
        return links_of(knowledge, id) if id in knowledge.conditions else ()

    found = np.zeros((len(candidates), len(candidates)))
    for place, id in enumerate(candidates):
        for link in links_of(knowledge, id):
            reached = strengths_below(below, link.effect)
            for other, one in enumerate(candidates):
                if one in reached:
                    strength = link_strength(link) * reached[one]
                    found[place, other] = 1 - (1 - found[place, other]) * (1 - strength)
    return found


def _access_used(
    diagnosis: Diagnosis, checks: Iterable[CheckOption], repairs: Iterable[Repair]
) -> tuple[str, ...]:
    wanted = [id for check in checks for id in check.access] + [
        id for repair in repairs for id in repair.access
    ]
    return tuple(state.id for state in access_path(diagnosis.knowledge, wanted, ()))


def _minutes(diagnosis: Diagnosis, access: str) -> float:
    state = diagnosis.knowledge.access[access]
    return state.minutes + state.restore_minutes


def _bits(ids: Iterable[str], access: Sequence[str]) -> int:
    return sum(1 << access.index(id) for id in set(ids))


def _fix(
    repair: Repair,
    shop: Shop,
    candidates: Sequence[str],
    access: Sequence[str],
    shows: Callable[[str], float],
) -> Fix:
    cures = np.zeros(len(candidates) + 1)
    for cure in repair.cures:
        if cure.cause in candidates:
            cures[candidates.index(cure.cause)] = cure.effectiveness.value
    cost = shop.time(repair.minutes.value) + shop.parts(repair.parts)
    infant = repair.infant.value if repair.infant else 0.0
    others = [1 - infant * shows(cure.cause) for cure in repair.cures if cure.cause not in candidates]
    anew = 1 - float(np.prod(others)) if infant else 0.0
    return Fix(repair.name, cost, _bits(repair.access, access), cures, np.where(cures > 0, infant, 0.0), anew)


def _tests(
    diagnosis: Diagnosis,
    shop: Shop,
    candidates: Sequence[str],
    faults: FaultSets,
    checks: Sequence[CheckOption],
    access: Sequence[str],
) -> tuple[tuple[Test, ...], tuple[tuple[Mapping[str, str], ...], ...], tuple[CheckOption, ...]]:
    findings = list(dict.fromkeys(id for check in checks for id in check.findings))
    places = [id for id in findings if is_placing(id)]
    plain = [id for id in findings if not (is_away(id) or is_placing(id))]
    variables = {id: diagnosis.built.variable(id) for id in plain}
    shown = predict(diagnosis.engine, _rows(diagnosis, candidates, faults), variables.values())
    by_finding = {id: shown[variable].T for id, variable in variables.items()}
    by_finding |= predicted(diagnosis, candidates, faults, filter(is_away, findings))
    by_finding |= at_which(diagnosis, candidates, faults, places)
    tests, results, kept = [], [], []
    for check in checks:
        told = _most_telling([id for id in check.findings if id in by_finding], by_finding)
        if told:
            table, names = _joint(diagnosis, told, by_finding)
            cost = shop.time(check.minutes) + shop.waiting(check.wait)
            shut = _bits(check.shut & set(access), access)
            tests.append(Test(check.name, cost, _bits(check.access, access), table, shut))
            results.append(names)
            kept.append(check)
    return tuple(tests), tuple(results), tuple(kept)


def _most_telling(findings: Iterable[str], shown: Mapping[str, Array]) -> list[str]:
    """The findings that differ between the fault sets, most first, as many as can be joined."""
    spread = {id: float(np.ptp(shown[id][:, 0])) for id in findings}
    chosen: list[str] = []
    size = 1
    for id in sorted(findings, key=lambda id: -spread[id]):
        if spread[id] > 0.02 and size * shown[id].shape[1] <= MOST_RESULTS:
            chosen.append(id)
            size *= shown[id].shape[1]
    return chosen


def _joint(
    diagnosis: Diagnosis, findings: Sequence[str], shown: Mapping[str, Array]
) -> tuple[Array, tuple[Mapping[str, str], ...]]:
    """P(joint result | fault set), shape (fault sets, results), and each result in words."""
    table = np.ones((len(shown[findings[0]]), 1))
    names: list[dict[str, str]] = [{}]
    for id in findings:
        states = observable(diagnosis.knowledge, id).states
        table = (table[:, :, None] * shown[id][:, None, :]).reshape(len(table), -1)
        names = [{**name, id: state} for name in names for state in states]
    return table, tuple(names)


def _sets_worth_trying(problem: Problem, repairs: Sequence[Repair]) -> list[tuple[int, ...]]:
    """Sets of repairs to plan with: what belongs together, and pairs and triples of the likeliest cures."""
    place = {repair.id: number for number, repair in enumerate(repairs)}
    cured = problem.probabilities @ _touched(problem)
    likely = [int(i) for i in np.argsort(-cured)[:6] if cured[i] > 0.02]
    found: dict[tuple[int, ...], None] = {}
    for number in likely:
        beside = [place[id] for id in repairs[number].together if id in place]
        if beside:
            found[tuple(sorted({number, *beside}))] = None
            for other in beside:
                found[tuple(sorted((number, other)))] = None
    for size in (2, 3):
        for chosen in combinations(sorted(likely[: 7 - size]), size):
            found[chosen] = None
    return [
        chosen
        for chosen in found
        if len(chosen) > 1 and belong(problem, chosen, [repairs[i] for i in chosen])
    ]


def _touched(problem: Problem) -> Array:
    """Whether a fix acts on a fault of the set, shape (fault sets, fixes)."""
    if not problem.fixes:
        return np.zeros((len(problem.faults), 0))
    cures = np.array([fix.cures for fix in problem.fixes]).reshape(len(problem.fixes), -1)
    bits = (problem.faults[:, None] >> np.arange(cures.shape[1])) & 1
    return np.asarray((bits @ cures.T > 0).astype(float))
