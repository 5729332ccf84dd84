"""A diagnosis as plain JSON values: the ranking, the next checks, one cause explained."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.diagnosis import Diagnosis, RankedCause, Seen
from diagnose.planning.checks import CheckValue
from diagnose.planning.keep_running import KeepRunning
from diagnose.planning.options import suspected
from diagnose.report.data import Json, hazards
from diagnose.report.explain import Explanation, Test, ordered


def causes(diagnosis: Diagnosis, advice: Iterable[KeepRunning]) -> Json:
    """The ranking. Weights are in decibans, in the order of `evidence`."""
    running = {one.cause.id: one for one in advice}
    return {
        **head(diagnosis),
        "causes": [
            _cause(cause, diagnosis.weights(cause.id), running.get(cause.id)) for cause in ordered(diagnosis)
        ],
        "fault_sets": [
            {"causes": list(chosen.causes), "probability": chosen.probability}
            for chosen in diagnosis.fault_sets
        ],
        "other_cause": diagnosis.other_cause,
        "conflict": {
            "bits": diagnosis.conflict.bits,
            "strange": [{"name": name, "bits": size} for name, size in diagnosis.conflict.strange],
        },
        "evidence": [_seen(item) for item in diagnosis.evidence],
        "stops": hazards(suspected(diagnosis)),
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


def checks(diagnosis: Diagnosis, found: Iterable[CheckValue], advice: Iterable[KeepRunning]) -> Json:
    """The next checks, best first; `held_back`: the hazard to rule out before."""
    return {
        **head(diagnosis),
        "stops": hazards(suspected(diagnosis)),
        "keep_running": [{"cause": one.cause.id, **keep_running(one)} for one in advice],
        "checks": [_check(check) for check in found],
    }


def why(diagnosis: Diagnosis, told: Explanation) -> Json:
    """One cause explained."""
    return {
        **head(diagnosis),
        "cause": {
            **_cause(told.cause, diagnosis.weights(told.cause.id)),
            "rank": told.rank,
            "before": told.before,
            "about": told.about,
        },
        "reasons": [
            {"finding": reason.finding, "words": reason.words, "decibans": reason.decibans}
            for reason in told.reasons
        ],
        "leads_to": [{"id": e.id, "name": e.name, "strength": e.strength} for e in told.effects],
        "brought_about_by": list(told.brought_about_by),
        "checks": [_test(test) for test in told.tests],
        "repairs": [
            {"id": repair.id, "name": repair.name, "effectiveness": cures, "verify": list(repair.verify)}
            for repair, cures in told.repairs
        ],
    }


def _cause(cause: RankedCause, weights: Iterable[float], running: KeepRunning | None = None) -> Json:
    return {
        "id": cause.id,
        "name": cause.name,
        "system": cause.system,
        "probability": cause.probability,
        "interval": None,
        "role": cause.role,
        "wrecked_by": cause.wrecked_by or None,
        "keep_running": keep_running(running) if running else None,
        "prior": cause.prior,
        "relevant": cause.relevant,
        "weights": list(weights),
    }


def _seen(item: Seen) -> Json:
    seen = item.observation
    return {
        "finding": seen.finding,
        "name": item.name,
        "state": seen.state,
        "confidence": seen.confidence,
        "value": seen.value,
        "unit": seen.unit,
        "code": seen.code,
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


def _test(test: Test) -> Json:
    return {
        "id": test.check,
        "name": test.name,
        "minutes": test.minutes,
        "finding": test.finding,
        "name_of_finding": test.asks,
        "bits": test.bits,
        "answers": [
            {"state": answer.state, "probability": answer.probability, "after": answer.after}
            for answer in test.answers
        ],
    }
