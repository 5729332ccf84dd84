"""What is kept of an advice for the list of cases."""

from __future__ import annotations

from diagnose.cases.kept_advice import KeptAdvice
from diagnose.moves.advice import Advice
from diagnose.report.move import SERIOUS, VERBS
from diagnose.report.ranking import listed_causes
from diagnose.report.text import NOT_LISTED


def told_of(advice: Advice) -> KeptAdvice:
    """The leading cause, the next move, and what must not be done."""
    case, move = advice.case, advice.move
    cause, name, probability = _leading(advice)
    stop = next((one for one in advice.stops if one.word in SERIOUS), None)
    return KeptAdvice(
        number=case.number,
        opened=case.opened.time if case.opened else "",
        entries=len(case.history),
        cause=cause,
        name=name,
        probability=probability,
        kind=move.kind,
        verb=VERBS[move.kind],
        move=move.name,
        stop=f"{stop.word}: {stop.name}" if stop else "",
    )


def _leading(advice: Advice) -> tuple[str, str, float]:
    """Id, name and probability of what leads; the unlisted cause has no id, and nothing leads where nothing is
    noted."""
    diagnosis = advice.diagnosis
    listed = listed_causes(diagnosis)
    if not diagnosis.evidence or not listed:
        return "", "", 0.0
    first = listed[0]
    if diagnosis.other_cause > first.probability:
        return "", NOT_LISTED, diagnosis.other_cause
    return first.id, first.name, first.probability
