"""An explanation as plain JSON values: one cause, and one set against another."""

from __future__ import annotations

from diagnose.diagnosis import Diagnosis
from diagnose.explaining.contrast import Contrast, Settles
from diagnose.explaining.explanation import Explanation
from diagnose.explaining.reasons import seen_words, weights_of
from diagnose.explaining.settling import Telling, UnknownFinding
from diagnose.explaining.turning import Turn
from diagnose.report.data import Json
from diagnose.report.diagnosis_data import cause, head
from diagnose.report.number_words import number_words


def why(diagnosis: Diagnosis, told: Explanation, against: Contrast | None = None) -> Json:
    """One cause explained; `contrast`: set against another, if asked for."""
    doubt = told.doubt
    return {
        **head(diagnosis),
        "cause": {
            **cause(told.cause, weights_of(diagnosis, told.cause.id), doubt.interval if doubt else None),
            "rank": told.rank,
            "before": told.before,
            "about": told.about,
        },
        "reasons": [
            {"finding": reason.finding, "words": reason.words, "decibans": reason.decibans}
            for reason in told.reasons
        ],
        "story": [
            {"finding": step.finding, "words": step.words, "decibans": step.decibans, "after": step.after}
            for step in told.story
        ],
        "codes": _codes(diagnosis, told),
        "mistaken_for": [
            {
                "id": rival.cause.id,
                "name": rival.cause.name,
                "probability": rival.cause.probability,
                "told_apart_by": _question(diagnosis, rival.apart) if rival.apart else None,
            }
            for rival in told.rivals
        ],
        "best_explanations": [
            {"causes": list(one.causes), "factor": one.factor, "probability": one.probability}
            for one in told.best
        ],
        "turning_points": [_turn(diagnosis, turn) for turn in doubt.turns] if doubt else None,
        "contrast": _contrast(diagnosis, against) if against else None,
        "leads_to": [{"id": e.id, "name": e.name, "strength": e.strength} for e in told.effects],
        "brought_about_by": list(told.brought_about_by),
        "checks": [_test(diagnosis, test) for test in told.tests],
        "repairs": [
            {"id": repair.id, "name": repair.name, "effectiveness": cures, "verify": list(repair.verify)}
            for repair, cures in told.repairs
        ],
    }


def _contrast(diagnosis: Diagnosis, found: Contrast) -> Json:
    """One cause against another; odds and weights in decibans, positive for the one."""
    return {
        "other": cause(found.other, weights_of(diagnosis, found.other.id)),
        "before": found.before,
        "now": found.now,
        "both": found.both,
        "neither": found.neither,
        "findings": [
            {
                "finding": diagnosis.evidence[one.place].observation.finding,
                "words": seen_words(diagnosis, diagnosis.evidence[one.place]),
                "decibans": one.given_rest,
                "in_turn": one.in_turn,
            }
            for one in found.evidence
        ],
        "checks": [_settles(diagnosis, one) for one in found.checks],
    }


def _codes(diagnosis: Diagnosis, told: Explanation) -> Json:
    return {
        "seen": [
            {
                "finding": diagnosis.evidence[code.place].observation.finding,
                "name": diagnosis.evidence[code.place].name,
                "decibans": code.decibans,
                "explained": code.explained,
            }
            for code in told.codes.seen
        ],
        "together": told.codes.together,
    }


def _turn(diagnosis: Diagnosis, turn: Turn) -> Json:
    return {
        "number": number_words(diagnosis, turn.row, turn.item),
        "value": turn.number.value,
        "would_be": turn.value,
        "log_odds": turn.by,
        "within_doubt": turn.within_doubt,
        "first": turn.first,
        "basis": turn.number.basis,
        "ess": turn.number.ess,
        "file": turn.number.place.file,
        "line": turn.number.place.line,
    }


def _question(diagnosis: Diagnosis, question: UnknownFinding) -> Json:
    return {
        "id": question.check.id,
        "name": question.check.name,
        "minutes": question.minutes,
        "finding": question.finding,
        "name_of_finding": diagnosis.knowledge.findings[question.finding].name,
    }


def _test(diagnosis: Diagnosis, test: Telling) -> Json:
    return {
        **_question(diagnosis, test.question),
        "bits": test.bits,
        "answers": [
            {"state": answer.state, "probability": answer.probability, "after": answer.after}
            for answer in test.answers
        ],
    }


def _settles(diagnosis: Diagnosis, one: Settles) -> Json:
    return {
        **_question(diagnosis, one.question),
        "bits": one.bits,
        "results": [
            {"state": o.state, "if_one": o.if_one, "if_other": o.if_other, "odds": o.odds}
            for o in one.outcomes
        ],
    }
