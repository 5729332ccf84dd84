"""The next check: what each would tell about the causes, and what it takes in minutes and dismantling."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Access, Check, Finding, Hazard, Knowledge, Requirement
from diagnose.network.engine import Outcomes
from diagnose.network.machine import Machine
from diagnose.network.network import Array

LOOK_MINUTES: Mapping[str, float] = {"question": 1.0, "symptom": 2.0, "code": 3.0}
"""Minutes for a finding that needs no procedure: ask the driver, look and listen, read codes (judgement)."""
MAX_RESULTS = 32


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

    @property
    def total_minutes(self) -> float:
        """Work and dismantling together."""
        return self.minutes + self.access_minutes

    @property
    def bits_per_minute(self) -> float:
        """What the ranking goes by."""
        return self.bits / max(self.total_minutes, 0.5)


@dataclass(frozen=True, slots=True)
class _Option:
    """Something that can be done to learn findings."""

    id: str
    name: str
    minutes: float
    check: Check | None
    findings: tuple[str, ...]


def next_checks(diagnosis: Diagnosis) -> tuple[CheckValue, ...]:
    """Every check that can still tell something, best per minute first."""
    options = _options(diagnosis)
    targets = [*_relevant(diagnosis), *_asked_others(diagnosis)]
    columns = [diagnosis.built.variable(id) for id in targets]
    base = entropy(np.array([1 - diagnosis.engine.marginal(v)[0] for v in columns])).sum()
    singles = _single_bits(diagnosis, options, columns, base)
    joint = [_joint(diagnosis, option.findings, singles) for option in options]
    outcomes = diagnosis.engine.outcomes(
        [tuple(map(diagnosis.built.variable, ids)) for ids in joint], columns
    )
    values = [
        _value(diagnosis, option, ids, outcome, base, targets)
        for option, ids, outcome in zip(options, joint, outcomes, strict=True)
    ]
    telling = [value for value in values if value.bits > 1e-6]
    return tuple(sorted(telling, key=lambda value: (-value.bits_per_minute, value.id)))


def entropy(p: Array) -> Array:
    """Binary entropy in bits, elementwise."""
    safe = np.clip(p, 1e-300, 1.0)
    rest = np.clip(1 - p, 1e-300, 1.0)
    value: Array = -(p * np.log2(safe) + (1 - p) * np.log2(rest))
    return value


def bits(outcome: Outcomes, base: float) -> float:
    """Expected drop of the summed entropies of the causes, from `base`, by seeing the result."""
    after = entropy(outcome.causes).sum(axis=-1)
    return max(0.0, float(base - (outcome.probabilities * after).sum()))


def applies(requirements: Iterable[Requirement], machine: Machine) -> bool:
    """Whether a check or repair fits the machine (an unknown fact does not exclude it)."""
    return all(machine.facts.get(r.fact, r.values[0]) in r.values for r in requirements)


def access_path(knowledge: Knowledge, wanted: Iterable[str], open_now: Iterable[str]) -> tuple[Access, ...]:
    """The states of dismantling still to reach, those that come first before those that need them."""
    path: dict[str, Access] = {}
    done = set(open_now)

    def reach(id: str) -> None:
        if id in done or id in path:
            return
        for needed in knowledge.access[id].needs:
            reach(needed)
        path[id] = knowledge.access[id]

    for id in wanted:
        reach(id)
    return tuple(path.values())


def open_states(knowledge: Knowledge, reached: Iterable[str]) -> set[str]:
    """What is open now: the states reached and all that had to be reached before them."""
    return {access.id for access in access_path(knowledge, [r for r in reached if r in knowledge.access], ())}


def _options(diagnosis: Diagnosis) -> list[_Option]:
    """The checks not done since the last repair, and each finding that anyone can look or ask for."""
    knowledge, known = diagnosis.knowledge, _known(diagnosis)
    done = diagnosis.case.epochs[-1].checks
    found = []
    for check in knowledge.checks.values():
        open_findings = tuple(id for id in check.reveals if id not in known)
        if open_findings and check.id not in done and applies(check.only_if, diagnosis.case.machine):
            found.append(_Option(check.id, check.name, check.minutes.value, check, open_findings))
    revealed = {id for check in knowledge.checks.values() for id in check.reveals}
    for finding in knowledge.findings.values():
        if finding.kind in LOOK_MINUTES and finding.id not in known and finding.id not in revealed:
            minutes = LOOK_MINUTES[finding.kind]
            found.append(_Option(f"look:{finding.id}", _look_name(finding), minutes, None, (finding.id,)))
    return found


def _look_name(finding: Finding) -> str:
    verb = {"question": "Ask", "symptom": "Look", "code": "Read the codes"}[finding.kind]
    return f"{verb}: {finding.name[0].lower()}{finding.name[1:]}?"


def _known(diagnosis: Diagnosis) -> set[str]:
    now = diagnosis.built.versions
    last = len(diagnosis.case.epochs) - 1
    return {
        item.observation.finding
        for item in diagnosis.evidence
        if now[item.observation.finding][item.observation.epoch] == now[item.observation.finding][last]
    }


def _relevant(diagnosis: Diagnosis) -> list[str]:
    """The causes that can be behind what was found not normal; all, where nothing was.

    A check of something else altogether would tell much about causes that nobody complains of.
    """
    built = diagnosis.built
    shown = [
        s.variable for s in diagnosis.evidence if s.observation.state != built.network.states[s.variable][0]
    ]
    behind = built.network.ancestors(shown)
    return [id for id in built.causes if not shown or built.variable(id) in behind]


def _asked_others(diagnosis: Diagnosis) -> list[str]:
    asked = {item.observation.finding for item in diagnosis.evidence}
    return [other for complaint, other in diagnosis.built.others.items() if complaint in asked]


def _single_bits(
    diagnosis: Diagnosis, options: Iterable[_Option], columns: Sequence[int], base: float
) -> dict[str, float]:
    """What each finding alone would tell; needed only where a check reveals too many to treat jointly."""
    crowded = [option for option in options if _results(diagnosis, option.findings) > MAX_RESULTS]
    ids = list(dict.fromkeys(id for option in crowded for id in option.findings))
    outcomes = diagnosis.engine.outcomes([(diagnosis.built.variable(id),) for id in ids], columns)
    return {id: bits(outcome, base) for id, outcome in zip(ids, outcomes, strict=True)}


def _results(diagnosis: Diagnosis, findings: Iterable[str]) -> int:
    count = 1
    for id in findings:
        count *= len(diagnosis.knowledge.findings[id].states)
    return count


def _joint(diagnosis: Diagnosis, findings: Sequence[str], singles: Mapping[str, float]) -> tuple[str, ...]:
    """The findings to treat jointly: all, or the most telling ones that fit."""
    chosen: list[str] = []
    for id in sorted(findings, key=lambda id: -singles.get(id, 0.0)):
        if _results(diagnosis, [*chosen, id]) <= MAX_RESULTS:
            chosen.append(id)
    return tuple(chosen)


def _value(
    diagnosis: Diagnosis,
    option: _Option,
    joint: tuple[str, ...],
    outcome: Outcomes,
    base: float,
    targets: Sequence[str],
) -> CheckValue:
    knowledge, check = diagnosis.knowledge, option.check
    opened = open_states(knowledge, diagnosis.case.access_open)
    path = access_path(knowledge, check.access if check else (), opened)
    hazards = dict.fromkeys(h for holder in (*((check,) if check else ()), *path) for h in holder.hazards)
    return CheckValue(
        option.id,
        option.name,
        option.minutes,
        sum(access.minutes + access.restore_minutes for access in path),
        path,
        tuple(sorted((knowledge.hazards[h] for h in hazards), key=lambda hazard: not hazard.stop)),
        check.tools if check else (),
        check.steps if check else (knowledge.findings[option.findings[0]].observe,),
        option.findings,
        bits(outcome, base),
        _likely_results(diagnosis, joint, outcome, targets),
    )


def _likely_results(
    diagnosis: Diagnosis, joint: tuple[str, ...], outcome: Outcomes, targets: Sequence[str], most: int = 4
) -> tuple[Result, ...]:
    findings = [diagnosis.knowledge.findings[id] for id in joint]
    order = np.argsort(-outcome.probabilities, axis=None, kind="stable")[:most]
    found = []
    for flat in order:
        index = np.unravel_index(flat, outcome.probabilities.shape)
        causes = outcome.causes[index]
        best = int(np.argmax(causes))
        states = {finding.id: finding.states[state] for finding, state in zip(findings, index, strict=True)}
        found.append(Result(states, float(outcome.probabilities[index]), targets[best], float(causes[best])))
    return tuple(found)
