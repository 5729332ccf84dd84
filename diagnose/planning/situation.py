"""A case as a planning problem: likely sets of faults, what each check would show, what each repair would
cure.

The sets and their probabilities are exact; what checks would show given a set is predicted
(network/predict.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.away import is_away
from diagnose.knowledge.observable import observable
from diagnose.knowledge.records import Repair
from diagnose.network.network import Array
from diagnose.network.predict import predict
from diagnose.planning.after_repairs import aftermath_of, cured_elsewhere, shows_anew
from diagnose.planning.away import predicted
from diagnose.planning.belonging import belong
from diagnose.planning.fault_sets import candidates_of, likely_fault_sets, rows_of
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
from diagnose.planning.problem import DecisionProblem, FaultSets, Fix, Test, together
from diagnose.planning.shop import Shop

MOST_RESULTS = 16  # joint results of a check: two to the power of four findings


@dataclass(frozen=True, eq=False)
class Situation:
    """The problem with the names behind its numbers.

    `candidates`: the causes, by bit of a fault set; the last bit is "something else". `checks[i]` is test i
    of the problem with `results[i]` naming its results (finding -> state); `repairs[j]` are the repairs of
    fix j.
    """

    problem: DecisionProblem
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


def situation(diagnosis: Diagnosis, shop: Shop, running: Sequence[KeepRunning] | None = None) -> Situation:
    """The planning problem of a case as it stands; no check in it asks what a standing stop forbids. `running`:
    whether the machine may run on, where that is known already."""
    whole, diagnosis = diagnosis, diagnosis.focused
    candidates = candidates_of(diagnosis)
    faults, probabilities = likely_fault_sets(diagnosis, candidates)
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
    shows = shows_anew(diagnosis)
    fixes = tuple(_fix(repair, shop, candidates, access, shows) for repair in repairs)
    opening = np.array([shop.time(diagnosis.knowledge.access[id].both_ways) for id in access])
    aftermath = aftermath_of(diagnosis, candidates, faults, probabilities)
    plain = DecisionProblem(
        faults,
        probabilities,
        tests,
        fixes,
        shop.hand_over + cured_elsewhere(faults, fixes, opening, aftermath),
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


def _access_used(
    diagnosis: Diagnosis, checks: Iterable[CheckOption], repairs: Iterable[Repair]
) -> tuple[str, ...]:
    wanted = [id for check in checks for id in check.access] + [
        id for repair in repairs for id in repair.access
    ]
    return tuple(state.id for state in access_path(diagnosis.knowledge, wanted, ()))


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
    rows = rows_of(diagnosis.built, diagnosis.engine, candidates, faults)
    shown = predict(diagnosis.engine, rows, variables.values())
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


def _sets_worth_trying(problem: DecisionProblem, repairs: Sequence[Repair]) -> list[tuple[int, ...]]:
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


def _touched(problem: DecisionProblem) -> Array:
    """Whether a fix acts on a fault of the set, shape (fault sets, fixes)."""
    if not problem.fixes:
        return np.zeros((len(problem.faults), 0))
    cures = np.array([fix.cures for fix in problem.fixes]).reshape(len(problem.fixes), -1)
    bits = (problem.faults[:, None] >> np.arange(cures.shape[1])) & 1
    return np.asarray((bits @ cures.T > 0).astype(float))
