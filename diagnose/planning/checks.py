"""The next check: what each would tell about the causes, and what it takes in minutes and dismantling."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Access, Hazard
from diagnose.network.engine import Outcomes
from diagnose.network.network import Array
from diagnose.planning.options import CheckOption, access_path, check_options, open_states

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


def next_checks(diagnosis: Diagnosis) -> tuple[CheckValue, ...]:
    """Every check that can still tell something, best per minute first."""
    options = check_options(diagnosis)
    targets = [*(cause.id for cause in diagnosis.causes if cause.relevant), *_asked_others(diagnosis)]
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


def _asked_others(diagnosis: Diagnosis) -> list[str]:
    asked = {item.observation.finding for item in diagnosis.evidence}
    return [other for complaint, other in diagnosis.built.others.items() if complaint in asked]


def _single_bits(
    diagnosis: Diagnosis, options: Iterable[CheckOption], columns: Sequence[int], base: float
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
    option: CheckOption,
    joint: tuple[str, ...],
    outcome: Outcomes,
    base: float,
    targets: Sequence[str],
) -> CheckValue:
    knowledge, check = diagnosis.knowledge, option.check
    opened = open_states(knowledge, diagnosis.case.access_open)
    path = access_path(knowledge, option.access, opened)
    return CheckValue(
        option.id,
        option.name,
        option.minutes,
        sum(access.minutes + access.restore_minutes for access in path),
        path,
        tuple(sorted((knowledge.hazards[h] for h in option.hazards), key=lambda hazard: not hazard.stop)),
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
