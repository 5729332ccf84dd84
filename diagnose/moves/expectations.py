"""Whether a worked scenario comes out as it says it must."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.cases.expectation import Expectation
from diagnose.diagnosis import Diagnosis
from diagnose.moves.advice import Advice
from diagnose.moves.move import Move
from diagnose.planning.checks import CheckValue
from diagnose.planning.keep_running import KeepRunning
from diagnose.planning.repairs import RepairChoice


def unmet(expected: Expectation, advice: Advice) -> tuple[str, ...]:
    """In words, everything that did not come out as expected; empty when all did."""
    return (
        *_causes(expected, advice.diagnosis),
        *_probabilities(expected, advice.diagnosis),
        *(_check(expected, advice.next_checks()) if expected.check else ()),
        *(_move(expected, advice.move) if expected.move else ()),
        *(_repairs(expected, advice.choices) if expected.repairs else ()),
        *_running(expected, advice.running),
    )


def _causes(expected: Expectation, diagnosis: Diagnosis) -> Iterator[str]:
    order = [cause.id for cause in diagnosis.causes]
    for id in expected.causes:
        place = order.index(id) + 1 if id in order else None
        if place is None or place > expected.within:
            yield f"{id} stands at place {place}, not among the first {expected.within} ({', '.join(order[:3])})"
    for id in expected.consequence:
        cause = diagnosis.cause(id)
        if cause is None or cause.role != "consequence":
            yield f"{id} is not told as a consequence"
    if expected.unexplained and diagnosis.other_cause <= diagnosis.causes[0].probability:
        yield f"{order[0]} comes before the other cause ({diagnosis.other_cause:.3f})"


def _probabilities(expected: Expectation, diagnosis: Diagnosis) -> Iterator[str]:
    for id, (low, high) in expected.probability.items():
        cause = diagnosis.cause(id)
        p = cause.probability if cause else 0.0
        if not low <= p <= high:
            yield f"{id} has probability {p:.3f}, not {low} to {high}"


def _repairs(expected: Expectation, choices: Sequence[RepairChoice]) -> Iterator[str]:
    best = [repair.id for repair in choices[0].repairs] if choices else []
    for id in expected.repairs:
        if id not in best:
            yield f"{id} is not in the best repair ({', '.join(best)})"


def _running(expected: Expectation, advice: Sequence[KeepRunning]) -> Iterator[str]:
    given = {one.cause.id: one.advice for one in advice}
    for id, wanted in expected.keep_running.items():
        if given.get(id) != wanted:
            yield f"of {id} the advice is {given.get(id, 'none')}, not {wanted}"


def _check(expected: Expectation, checks: Sequence[CheckValue]) -> Iterator[str]:
    if expected.check is None:
        return
    first = [check.id for check in checks[: expected.check.first]]
    if not set(first) & set(expected.check.any_of):
        wanted = " or ".join(expected.check.any_of)
        yield f"{wanted} is not among the first {expected.check.first} checks ({', '.join(first)})"


def _move(expected: Expectation, move: Move) -> Iterator[str]:
    if expected.move is None:
        return
    wanted = expected.move
    if move.kind != wanted.kind or (wanted.any_of and not set(move.ids) & set(wanted.any_of)):
        named = f" {' or '.join(wanted.any_of)}" if wanted.any_of else ""
        yield f"the next move is {move.kind} {move.id}, not {wanted.kind}{named}"
