"""The next check: what each would tell about the causes, and what it takes in minutes and dismantling."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Access, Hazard
from diagnose.network.engine import Outcomes
from diagnose.network.network import Array
from diagnose.planning.options import (
    CheckOption,
    access_path,
    check_options,
    held_back,
    open_states,
    suspected,
)
from diagnose.planning.planner import Planner
from diagnose.planning.situation import Situation

MAX_RESULTS = 16
TELLING = 0.005
"""Bits below which a finding is left out of a check's joint results."""


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
    `cost`: time in money; `value`: expected cost of repair now minus after the result, less `cost` (EVOI), where
    repair means the best sequence of repairs alone or handing over. `held_back`: the hazard to rule out before.
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


def next_checks(diagnosis: Diagnosis, now: Situation) -> tuple[CheckValue, ...]:
    """Every check that can still tell something: those that save money first, the most first; then by bits per
    minute. Those held back by a hazard that is not ruled out come last."""
    worth = _worth(now)
    live = suspected(diagnosis)
    valued = [
        replace(
            check,
            cost=now.shop.time(check.total_minutes),
            value=worth.get(check.id, -now.shop.time(check.total_minutes)),
            held_back=held_back((hazard.id for hazard in check.hazards), check.id, live),
        )
        for check in telling_checks(diagnosis)
    ]
    return tuple(
        sorted(valued, key=lambda c: (c.held_back is not None, -max(c.value, 0.0), -c.bits_per_minute, c.id))
    )


def _worth(now: Situation) -> dict[str, float]:
    """What each check saves, net of its own cost, with repairs alone after it."""
    planner = Planner(now.problem)
    start = planner.start(now.open_now)
    base = float(planner.values([start])[0])
    return {now.checks[g.number].id: base - g.estimate for g in planner.glances(start) if g.kind == "test"}


def telling_checks(diagnosis: Diagnosis) -> tuple[CheckValue, ...]:
    """Every check that can still tell something about the causes, most bits per minute first."""
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
    """What each finding alone would tell."""
    ids = list(dict.fromkeys(id for option in options for id in option.findings))
    outcomes = diagnosis.engine.outcomes([(diagnosis.built.variable(id),) for id in ids], columns)
    return {id: bits(outcome, base) for id, outcome in zip(ids, outcomes, strict=True)}


def _joint(diagnosis: Diagnosis, findings: Sequence[str], singles: Mapping[str, float]) -> tuple[str, ...]:
    """The findings to treat jointly: the telling ones, most first, as many as fit; at least one."""
    chosen: list[str] = []
    results = 1
    for id in sorted(findings, key=lambda id: -singles[id]):
        states = len(diagnosis.knowledge.findings[id].states)
        if not chosen or (singles[id] > TELLING and results * states <= MAX_RESULTS):
            chosen.append(id)
            results *= states
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
