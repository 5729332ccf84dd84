"""A diagnosis as plain JSON values: the ranking and the next checks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.evidence.counted import CountedObservation
from diagnose.knowledge.away import finding_of, is_away, part_of
from diagnose.moves.advice import Advice
from diagnose.planning.checks import CheckValue
from diagnose.planning.keep_running import KeepRunning
from diagnose.report.data import Json, hazards
from diagnose.report.move import move_data, stops_data

if TYPE_CHECKING:
    from diagnose.explaining.intervals import Interval


def causes(advice: Advice, intervals: Mapping[str, Interval] | None = None) -> Json:
    """The ranking. Weights are in decibans, in the order of `evidence`."""
    diagnosis = advice.diagnosis
    running = {one.cause.id: one for one in advice.running}
    ranges = intervals or {}
    return {
        **head(diagnosis),
        "move": move_data(advice),
        "causes": [
            cause(one, diagnosis.weights(one.id), ranges.get(one.id), running.get(one.id))
            for one in diagnosis.causes
        ],
        "fault_sets": [
            {"causes": list(chosen.causes), "probability": chosen.probability}
            for chosen in diagnosis.fault_sets
        ],
        "other_cause": diagnosis.other_cause,
        "unexplained": unexplained(diagnosis),
        "averaged": list(diagnosis.averaged),
        "counted_few_at_a_time": 0,  # of an earlier version; links stand on average instead
        "weak_links_on_average": diagnosis.thinned.strongest if diagnosis.thinned else 0.0,
        "links_on_average": len(diagnosis.thinned.links) if diagnosis.thinned else 0,
        "error": diagnosis.error,
        "conflict": {
            "bits": diagnosis.conflict.bits,
            "strange": [{"name": name, "bits": size} for name, size in diagnosis.conflict.strange],
        },
        "evidence": [_seen(item) for item in diagnosis.evidence],
        "stops": hazards(advice.hazards),
        "forbidden": stops_data(advice),
        "unused": list(diagnosis.unused),
    }


def head(diagnosis: Diagnosis) -> Json:
    """Which case, by which knowledge."""
    return {
        "case": diagnosis.case.number,
        "machine": diagnosis.case.machine.number,
        "knowledge": diagnosis.knowledge.version,
    }


def keep_running(one: KeepRunning) -> Json:
    """The advice for one cause; `running` and `moving`: expected damage, `ruling_out`: cost, all in money."""
    return {
        "advice": one.advice,
        "what": one.what,
        "running": one.running,
        "moving": one.moving,
        "ruling_out": one.ruling_out,
        "check": one.check.id if one.check else None,
    }


def checks(advice: Advice, found: Iterable[CheckValue]) -> Json:
    """The next move, and the checks, best first; `held_back`: the hazard to rule out before."""
    return {
        **head(advice.diagnosis),
        "move": move_data(advice),
        "stops": hazards(advice.hazards),
        "forbidden": stops_data(advice),
        "keep_running": [{"cause": one.cause.id, **keep_running(one)} for one in advice.running],
        "checks": [_check(check) for check in found],
    }


def cause(
    ranked: RankedCause,
    weights: Iterable[float],
    interval: Interval | None = None,
    running: KeepRunning | None = None,
) -> Json:
    """One cause of the ranking."""
    return {
        "id": ranked.id,
        "name": ranked.name,
        "system": ranked.system,
        "probability": ranked.probability,
        "interval": list(interval) if interval else None,
        "role": ranked.role,
        "wrecked_by": ranked.wrecked_by or None,
        "keep_running": keep_running(running) if running else None,
        "prior": ranked.prior,
        "relevant": ranked.relevant,
        "place": ranked.place or None,
        "weights": list(weights),
    }


def unexplained(diagnosis: Diagnosis) -> list[Json]:
    """What nothing listed explains, finding by finding."""
    return [
        {
            "finding": one.finding,
            "state": one.state,
            "probability": one.probability,
            "misleads": one.misleads,
            "not_listed": one.probability - one.misleads,
        }
        for one in diagnosis.unexplained
    ]


def _seen(item: CountedObservation) -> Json:
    seen = item.observation
    away = {"of": finding_of(seen.finding), "without": part_of(seen.finding)} if is_away(seen.finding) else {}
    return away | {
        "finding": seen.finding,
        "name": item.name,
        "state": seen.state,
        "confidence": seen.confidence,
        "value": seen.value,
        "unit": seen.unit,
        "code": seen.code,
        "place": seen.place,
        "event": seen.event,
        "epoch": seen.epoch,
    }


def _check(check: CheckValue) -> Json:
    return {
        "id": check.id,
        "name": check.name,
        "minutes": check.minutes,
        "access_minutes": check.access_minutes,
        "cost": check.cost,
        "value": check.value,
        "value_per_minute": check.value_per_minute,
        "bits": check.bits,
        "held_back": check.held_back.id if check.held_back else None,
        "before": check.before or None,
        "access": [{"id": a.id, "name": a.name, "minutes": a.minutes} for a in check.access],
        "cautions": hazards(check.hazards),
        "tools": list(check.tools),
        "steps": list(check.steps),
        "findings": list(check.findings),
        "results": [
            {
                "states": dict(result.states),
                "probability": result.probability,
                "leading": result.leading,
                "leading_probability": result.leading_probability,
            }
            for result in check.results
        ],
    }
