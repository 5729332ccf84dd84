"""The report for the next technician: everything, in order, with the reasoning and the money."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.cases.times import stamp
from diagnose.plain import small
from diagnose.report.document.analysis import (
    TELLING,
    excluded_causes,
    for_and_against,
    weight_words,
    where_it_stands,
)
from diagnose.report.document.blocks import (
    Block,
    DefinitionList,
    Figure,
    Grid,
    Notice,
    Paper,
    Para,
    Points,
    Section,
)
from diagnose.report.document.case_record import (
    CaseReport,
    CaseStep,
    CauseAtClosing,
    CauseStanding,
    ProbabilityChange,
)
from diagnose.report.document.figures import traces_picture, traces_words
from diagnose.report.document.record_words import in_a_row
from diagnose.report.document.states import state
from diagnose.report.document.story import noted_by
from diagnose.report.document.work_records import Work
from diagnose.report.document.workshop import (
    caution,
    cost_so_far,
    next_checks,
    proof_of_repair,
    proposed,
    repaired,
    tried,
    work_cautions,
)
from diagnose.report.screen_words import CAUTION, listed, percent

MOST_IN_SHORT = 3  # reasons in the short version: a line


def technician_paper(report: CaseReport) -> Paper:
    """The whole report for the next technician."""
    sections = (
        Section("In short", tuple(_short(report))),
        Section("Before anything else", tuple(_first(report))),
        Section("Machine and complaint", tuple(_machine(report))),
        Section("What was found and done, in order", tuple(_story(report))),
        Section("Where it stands", tuple(where_it_stands(report))),
        Section("For and against", tuple(for_and_against(report))),
        Section("Thought of and excluded", tuple(excluded_causes(report))),
        Section("Cautions for the work below", tuple(work_cautions(report))),
        Section("Repaired", tuple(block for work in report.works for block in repaired(report, work))),
        Section("Proof of the repair", tuple(proof_of_repair(report))),
        Section("Next checks", tuple(next_checks(report))),
        Section("Repair proposed", tuple(proposed(report, report.proposal) if report.proposal else ())),
        Section("Cost so far", tuple(cost_so_far(report))),
        Section("Open doubts", tuple(_doubts(report))),
        Section("Taken back", (Points(report.withdrawn),) if report.withdrawn else ()),
    )
    return Paper(
        f"Case {report.case}: machine {report.machine.number}"
        if report.case
        else f"Worked example: machine {report.machine.number}",
        "For the next technician",
        state(report),
        tuple(section for section in sections if section.blocks),
        (
            f"Written {stamp(report.made)} by knowledge {report.knowledge[:12]}. Probabilities are by this "
            "knowledge, whose numbers are mostly judgement: read 71 % as “probably”. +10 dB is ten times the odds.",
            CAUTION,
        ),
    )


def _short(report: CaseReport) -> Iterator[Block]:
    """What it was, why, what was done, whether it is proven."""
    points = [*_verdict(report), *_reasons_in_short(report)]
    points += [_work(work) for work in report.works]
    points += [tried(report)] if report.works else []
    points += [f"Next ({report.move.verb}): {report.move.words}. {report.move.reason}"] if report.move else []
    points += [f"First doubt: {report.doubts[0].full}"] if report.doubts else []
    if points:
        yield Points(tuple(points))


def _work(work: Work) -> str:
    stayed = f"; {work.in_vain}" if work.in_vain else ""
    return f"Repaired in step {work.step}: {in_a_row(work.names)}{stayed}."


def _verdict(report: CaseReport) -> Iterator[str]:
    for visit in report.visits:
        if visit.closing:
            names = listed(map(_found, visit.closing.found)) or "no cause named"
            proven = "proven by its own test" if visit.closing.proven else "not proven by its own test"
            remark = f" “{visit.closing.remark}”" if visit.closing.remark else ""
            yield f"Closed {stamp(visit.closing.time)}: {names}; repair {proven}.{remark}".replace("  ", " ")
    if report.causes and not report.closing:
        yield f"First in the ranking: {'; '.join(map(_ranked, report.likely))}."


def _found(found: CauseAtClosing) -> str:
    now = f", {percent(found.probability)} by the record" if found.probability is not None else ""
    return f"{found.name} ({found.confirmed}{now})"


def _ranked(cause: CauseStanding) -> str:
    by = f", most likely wrecked by {small(cause.wrecked_by)}" if cause.wrecked_by else ""
    return f"{cause.name}, {percent(cause.probability)}{by}"


def _reasons_in_short(report: CaseReport) -> Iterator[str]:
    for argument in report.arguments[:1]:
        told = [r for r in argument.reasons if abs(r.decibans) >= TELLING][:MOST_IN_SHORT]
        if told:
            yield f"What decides about “{argument.cause.name}”: {listed(map(weight_words, told))}."


def _first(report: CaseReport) -> Iterator[Block]:
    yield from (Notice("warn", f"{one.advice.capitalize()}.", one.words) for one in report.run_on)
    yield from map(caution, report.stops)


def _machine(report: CaseReport) -> Iterator[Block]:
    machine = report.machine
    rows = [
        ("Machine", machine.number),
        ("Kind", machine.family),
        ("Running hours", f"{machine.hours:,g}" if machine.hours is not None else "not known"),
        *machine.facts,
        *((f"{part} renewed", f"{hours:,g} h ago") for part, hours in machine.renewed),
        *(
            (
                "Came back for" if visit.comeback else "Taken up again" if place else "Came in for",
                _visit(visit.time, visit.why),
            )
            for place, visit in enumerate(report.visits)
        ),
        ("Noted by", listed(noted_by(report.story))),
    ]
    yield DefinitionList(tuple((label, words) for label, words in rows if words))
    if report.codes:
        rows_of_codes = tuple(
            (c.code, listed(c.findings) or "not in the knowledge, not used") for c in report.codes
        )
        yield Grid(("Fault code", "Stands for"), rows_of_codes)


def _visit(time: str, why: str) -> str:
    return f"{why or 'no reason given'} ({stamp(time)})" if time else why


def _story(report: CaseReport) -> Iterator[Block]:
    steps = report.story.steps
    if not steps:
        return
    dated = any(step.time for step in steps)
    columns = ("Step", *(("Time",) if dated else ()), "Found or done", "What it changed")
    yield Grid(
        columns,
        tuple(
            (str(s.number), *((stamp(s.time),) if dated else ()), _step_words(s), _moved(s)) for s in steps
        ),
        tight=frozenset({1} if dated else ()),
    )
    if len(report.story.moments) > 1 and report.story.traces:
        yield Figure(
            "How the leading causes moved, step by step",
            traces_picture(report, plain=False),
            traces_words(report, plain=False),
            beside=True,
        )


def _step_words(step: CaseStep) -> str:
    typed = (
        f" [noted as “{step.typed}”]" if step.typed and step.typed.lower() not in step.words.lower() else ""
    )
    return f"{step.words}{typed}{f' [{step.by}]' if step.by else ''}"


def _moved(step: CaseStep) -> str:
    if step.impossible:
        return f"cannot be true together: {listed(step.impossible)}"
    return "; ".join(_move(step, move) for move in step.moves)


def _move(step: CaseStep, move: ProbabilityChange) -> str:
    silent = step.kind == "repaired" or abs(move.decibans) < TELLING
    weight = "" if silent else f" ({move.decibans:+.0f} dB)"
    return f"{move.name} {percent(move.before)} → {percent(move.after)}{weight}"


def _doubts(report: CaseReport) -> Iterator[Block]:
    if report.doubts:
        yield Points(tuple(doubt.full for doubt in report.doubts))
    elif not report.void:
        yield Para("None is recorded. What nobody looked at can still be wrong.")
