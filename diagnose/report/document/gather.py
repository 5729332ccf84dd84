"""Knowledge + case + shop -> the record of the report. Pure; start reading here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from diagnose.cases.case import Case
from diagnose.cases.events import Closed, Coded, Noted, Opened, Reopened, Repaired
from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.evidence.counted import CountedObservation
from diagnose.explaining.reasons import seen_words
from diagnose.knowledge.located import with_place
from diagnose.knowledge.observable import observable
from diagnose.knowledge.records import Knowledge
from diagnose.moves.advice import Advice, advised
from diagnose.moves.move import PROVE, REPAIR
from diagnose.plain import small
from diagnose.planning.checks import CheckValue
from diagnose.planning.shop import Shop
from diagnose.report.checklist import worth
from diagnose.report.document.case_record import (
    Argument,
    CaseReport,
    CauseAtClosing,
    CauseStanding,
    Closing,
    CodeSeen,
    Proof,
    Sheet,
    Visit,
    WeighedFinding,
)
from diagnose.report.document.doubts import doubts
from diagnose.report.document.ledger import spending
from diagnose.report.document.proof import proof
from diagnose.report.document.record_words import fact_words, name_of, renewed_words, seen
from diagnose.report.document.replay import CaseEntry, Moment, Tell, entries, replay
from diagnose.report.document.story import decibans, excluded, raised, story
from diagnose.report.document.work_records import Caution, NextCheck, NextMove, RunOn, Work
from diagnose.report.document.works import cautions, proposal, works
from diagnose.report.move import VERBS, reason_words, stop_words
from diagnose.report.record import event_words
from diagnose.report.screen_words import listed
from diagnose.report.text import cause_name

SHOWN = 0.02  # probability below which a cause gets no line (judgement)
ARGUED = 0.1  # probability from which on a cause is argued for (judgement)
MOST_CAUSES, MOST_ARGUMENTS, MOST_SETS, MOST_CHECKS, MOST_RUN_ON = 8, 3, 4, 3, 3
"""Lines and pages that a report spends on each of these."""


def case_report(
    knowledge: Knowledge, case: Case, shop: Shop, made: str = "", tell: Tell = lambda done, of: None
) -> CaseReport:
    """Everything that a report tells of a case. `made`: when (ISO 8601, UTC); `tell`: how far the replay is.

    Never raises for what the case holds: findings that cannot all be true are told as such.
    """
    told = entries(case)
    moments = tuple(replay(knowledge, case, told, tell))
    last = moments[-1] if moments else None
    diagnosis = last.diagnosis if last and case.opened and last.diagnosis else None
    impossible = last.impossible if last and case.opened else ()
    known = diagnosis if diagnosis and diagnosis.evidence else None
    visits = _visits(knowledge, moments)
    proven = proof(knowledge, case)
    found = _found(visits)
    spent = spending(knowledge, case, shop, told)
    now = _outlook(known, shop, visits, proven)
    return CaseReport(
        case.number,
        made,
        knowledge.version,
        case.opened is None,
        _sheet(knowledge, case),
        case.complaint,
        visits,
        _codes(knowledge, told),
        story(knowledge, moments, found),
        _leading(known, proven.tried == "gone"),
        known.other_cause if known else 0.0,
        _combinations(known),
        _arguments(known, moments, found),
        excluded(knowledge, moments, found) if known else (),
        now.move,
        now.stops,
        now.run_on,
        works(knowledge, case, shop, moments, spent),
        now.proposal,
        now.checks,
        proven,
        shop.currency,
        spent,
        doubts(knowledge, case, diagnosis, visits, proven, impossible),
        impossible,
        _withdrawn(knowledge, case),
    )


@dataclass(frozen=True, slots=True)
class _Outlook:
    """What is to be done from here; nothing where the case is closed or nothing is known."""

    move: NextMove | None = None
    stops: tuple[Caution, ...] = ()
    run_on: tuple[RunOn, ...] = ()
    proposal: Work | None = None
    checks: tuple[NextCheck, ...] = ()


def _outlook(known: Diagnosis | None, shop: Shop, visits: Sequence[Visit], proven: Proof) -> _Outlook:
    if known is None or (visits and visits[-1].closing):
        return _Outlook()
    advice = advised(known, shop)
    move = _next_move(advice)
    stops, run_on = cautions(advice.hazards), _run_on(advice)
    if proven.tried in ("gone", "not tried"):
        return _Outlook(move, stops, run_on)
    checks = tuple(_check(check, shop) for check in advice.next_checks(MOST_CHECKS)[:MOST_CHECKS])
    return _Outlook(move, stops, run_on, proposal(advice), checks)


def _next_move(advice: Advice) -> NextMove:
    move = advice.move
    names = [advice.knowledge.repairs[id].name for id in move.ids] if move.kind == REPAIR else [move.name]
    told = f"prove the repair: {move.name}" if move.kind == PROVE else listed(map(small, names))
    return NextMove(VERBS[move.kind].lower(), move.name, reason_words(move), told.removesuffix("."))


def _check(check: CheckValue, shop: Shop) -> NextCheck:
    held = check.held_back.name if check.held_back else ""
    return NextCheck(check.name, check.total_minutes, worth(check, shop), cautions(check.hazards), held)


def _run_on(advice: Advice) -> tuple[RunOn, ...]:
    """What a cause forbids, the worst first."""
    worst = [stop for stop in advice.stops if stop.cause and stop.forbids][:MOST_RUN_ON]
    return tuple(
        RunOn(one.word, one.name, one.probability, one.words, stop_words(one, advice.shop)) for one in worst
    )


def _sheet(knowledge: Knowledge, case: Case) -> Sheet:
    machine = case.machine
    family = knowledge.families.get(machine.family)
    return Sheet(
        machine.number,
        family.name if family else machine.family,
        machine.hours,
        fact_words(knowledge, machine.facts),
        renewed_words(knowledge, machine.renewed),
    )


def _codes(knowledge: Knowledge, told: Iterable[CaseEntry]) -> tuple[CodeSeen, ...]:
    """Each fault code once, with the findings that it set."""
    codes: dict[str, tuple[str, ...]] = {}
    for event in (event for entry in told for event in entry.events):
        if isinstance(event, Noted) and event.code:
            names = (*codes.get(event.code, ()), name_of(knowledge.findings, event.finding))
            codes[event.code] = tuple(dict.fromkeys(names))
        elif isinstance(event, Coded):
            codes.setdefault(event.code, ())
    return tuple(CodeSeen(code, names) for code, names in codes.items())


def _visits(knowledge: Knowledge, moments: Sequence[Moment]) -> tuple[Visit, ...]:
    """The stays in the shop, each from an opening to its closing."""
    visits: list[Visit] = []
    for number, event in enumerate(moment.entry.first for moment in moments):
        if isinstance(event, Opened):
            visits.append(Visit(event.time, event.complaint, False, None))
        elif isinstance(event, Reopened) and visits:
            visits.append(Visit(event.time, event.text, event.comeback, None))
        elif isinstance(event, Closed) and visits:
            before = visits.pop()
            closing = _closing(knowledge, event, moments[:number])
            visits.append(Visit(before.time, before.why, before.comeback, closing))
    return tuple(visits)


def _closing(knowledge: Knowledge, event: Closed, before: Sequence[Moment]) -> Closing:
    return Closing(
        event.time,
        tuple(_found_cause(knowledge, event, id, before) for id in event.causes),
        event.proven,
        event.text,
    )


def _found_cause(knowledge: Knowledge, event: Closed, id: str, before: Sequence[Moment]) -> CauseAtClosing:
    cause = knowledge.causes.get(id)
    probability = _before_repair(before, id).probabilities.get(id) if before else None
    return CauseAtClosing(
        id, cause.name if cause else id, cause.about if cause else "", event.how(id), probability
    )


def _before_repair(before: Sequence[Moment], cause: str) -> Moment:
    """What was known when the cause was last dealt with; the last that was known where it was not."""
    for number in range(len(before) - 1, 0, -1):
        event = before[number].entry.first
        if isinstance(event, Repaired) and cause in event.causes:
            return before[number - 1]
    return before[-1]


def _found(visits: Iterable[Visit]) -> tuple[str, ...]:
    return tuple(found.id for visit in visits if visit.closing for found in visit.closing.found)


def _leading(known: Diagnosis | None, gone: bool = False) -> tuple[CauseStanding, ...]:
    """The likeliest causes that can be behind what was found; the first always. With the complaint `gone`, those
    that are likelier than on any machine."""
    causes = [cause for cause in known.causes if cause.relevant] if known else []
    if gone:
        causes = [cause for cause in causes if raised(cause)] or causes[:1]
    shown = [c for c in causes[:MOST_CAUSES] if c.probability >= SHOWN] or causes[:1]
    return tuple(_standing(known, cause, rank) for rank, cause in enumerate(shown, 1) if known)


def _standing(known: Diagnosis, cause: RankedCause, rank: int) -> CauseStanding:
    by = cause_name(known.knowledge, cause.wrecked_by) if cause.wrecked_by else ""
    about = known.knowledge.causes[cause.id].about
    return CauseStanding(cause.id, cause.name, about, cause.probability, rank, by)


def _combinations(known: Diagnosis | None) -> tuple[tuple[tuple[str, ...], float], ...]:
    """The likeliest sets of faults, where more than the ranking can be learnt from them."""
    sets = [one for one in known.fault_sets[:MOST_SETS] if one.probability >= SHOWN] if known else []
    if known is None or all(len(one.causes) < 2 for one in sets):
        return ()
    names = known.knowledge
    return tuple((tuple(cause_name(names, id) for id in one.causes), one.probability) for one in sets)


def _arguments(
    known: Diagnosis | None, moments: Sequence[Moment], found: Iterable[str]
) -> tuple[Argument, ...]:
    """What speaks for and against: the causes found and those that repairs were done for, as they stood before;
    then the leading ones as they stand."""
    told: dict[str, Argument] = {}
    for number, moment in enumerate(moments, 1):
        event, before = moment.entry.first, moments[max(number - 2, 0)].diagnosis
        if isinstance(event, Repaired) and before and before.evidence:
            told |= {a.cause.id: a for a in _argued(before, event.causes, found, number)}
    if known:
        causes = [one for one in _leading(known) if one.id not in told]
        told |= {one.id: _argument(known, one, 0) for one in causes[: max(MOST_ARGUMENTS - len(told), 1)]}
    return tuple(told.values())


def _argued(
    before: Diagnosis, covered: Iterable[str], found: Iterable[str], number: int
) -> Iterator[Argument]:
    """The causes that a repair was done for: those found in the end, else those that it was likely for."""
    wanted = set(covered) & set(found)
    for rank, cause in enumerate(before.causes, 1):
        if cause.id in wanted or (not wanted and cause.id in covered and cause.probability >= ARGUED):
            yield _argument(before, _standing(before, cause, rank), number)


def _argument(known: Diagnosis, cause: CauseStanding, step: int) -> Argument:
    """All that was found, by its weight for the cause given the rest, the heaviest first."""
    ranked = known.cause(cause.id)
    assert ranked is not None
    found = [
        WeighedFinding(seen_words(known, item), _plain(known, item), weight)
        for item, weight in zip(known.evidence, known.weights(cause.id), strict=True)
    ]
    raised = decibans(ranked.probability) - decibans(ranked.prior)
    return Argument(cause, step, raised, tuple(sorted(found, key=lambda one: -abs(one.decibans))))


def _plain(known: Diagnosis, item: CountedObservation) -> str:
    one = item.observation
    before = " (before the repair)" if one.epoch < len(known.case.epochs) - 1 else ""
    return f"{with_place(seen(observable(known.knowledge, one.finding), one.state), one.place)}{before}"


def _withdrawn(knowledge: Knowledge, case: Case) -> tuple[str, ...]:
    """What was taken back, by its number."""
    gone = (event for event in case.history if event.sequence in case.withdrawn)
    return tuple(f"{event.sequence}: {event_words(knowledge, event)}" for event in gone)
