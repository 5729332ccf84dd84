"""The report for the customer: in plain words what was wrong, done, paid, proven and left open."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from diagnose.cases.times import day
from diagnose.plain import small
from diagnose.planning.keep_running import STOP
from diagnose.planning.shop import Shop
from diagnose.report.document.blocks import (
    Block,
    DefinitionList,
    Figure,
    Grid,
    Heading,
    Notice,
    Paper,
    Para,
    Points,
    Section,
)
from diagnose.report.document.case_record import (
    LIKELY,
    Argument,
    CaseReport,
    CauseAtClosing,
    CauseStanding,
    Excluded,
    WeighedFinding,
)
from diagnose.report.document.customer_cost import cost
from diagnose.report.document.figures import traces_picture, traces_words
from diagnose.report.document.record_words import in_a_row, likelihood
from diagnose.report.document.states import NOT_FOUND, PROVEN, state
from diagnose.report.document.story import noted_by
from diagnose.report.document.work_records import Work
from diagnose.report.document.workshop import SINCE
from diagnose.report.screen_words import CAUTION, listed

POINTS_TO = 1.0
"""Decibans below which a finding is not told to a customer as a reason."""
AGAINST = 3.0
"""Decibans from which on a finding is told as speaking against: half the odds. Less only confuses (judgement)."""
CLEARLY = 5.0  # decibans: a factor of three
MOST_REASONS, MOST_EXCLUDED = 6, 6  # what a customer reads through
ALSO, STANDS_OUT = 0.1, 0.33
"""Probability from which another cause is named, and below which none stands out (judgement)."""
HOW = {
    "by sight": "The fault itself was seen.",
    "by repair": "It was confirmed by the repair: with this put right the complaint was gone.",
    "assumed": "This is the best explanation of what was found; nobody has seen the fault itself.",
}


def customer_paper(report: CaseReport) -> Paper:
    """The whole report for the customer."""
    sections = (
        Section("The machine", (_machine(report),)),
        Section("For your safety", tuple(_safety(report))),
        Section("What was wrong" if report.closing else "What we think is wrong", tuple(_wrong(report))),
        Section(_why_title(report), tuple(_why(report))),
        Section("What was done", tuple(_done(report))),
        Section("What would be done next", tuple(_next(report))),
        Section("What it cost" if report.closing else "What it has cost so far", tuple(cost(report))),
        Section("What proves the repair", tuple(_proof(report))),
        Section("What remains in doubt", tuple(_doubts(report))),
    )
    return Paper(
        f"Report on machine {report.machine.number or 'without a number'}",
        "For the customer",
        state(report),
        tuple(section for section in sections if section.blocks),
        (
            f"Case {report.case}, written {day(report.made)}."
            if report.case
            else f"Written {day(report.made)}.",
            "“Very likely” means at least nine in ten, “likely” at least two in three, “unlikely” less than one in "
            f"three. {CAUTION}",
        ),
    )


def _machine(report: CaseReport) -> DefinitionList:
    machine = report.machine
    visits = [
        (
            "Came back for" if visit.comeback else "Taken up again" if place else "Came in for",
            _visit(visit.time, visit.why),
        )
        for place, visit in enumerate(report.visits)
    ]
    rows = [
        ("Machine", machine.number),
        ("Kind", machine.family),
        ("Running hours", f"{machine.hours:,g}" if machine.hours is not None else ""),
        *visits,
        ("Noted by", listed(noted_by(report.story))),
    ]
    return DefinitionList(tuple((label, words) for label, words in rows if words))


def _visit(time: str, why: str) -> str:
    return f"{why or 'no reason given'} ({day(time)})" if time else why


def _safety(report: CaseReport) -> Iterator[Block]:
    if report.run_on:
        stop = any(one.advice == STOP for one in report.run_on)
        what = (
            "Do not run the machine" if stop else "Do not work with the machine; move it only out of the way"
        )
        behind = "; ".join(
            f"{small(one.name)} ({likelihood(one.probability)}): {one.what}" for one in report.run_on
        )
        yield Notice(
            "warn",
            f"{what} until this is settled.",
            f"What may be behind it, and what it would do: {behind}.",
        )
    for caution in report.stops:
        yield Notice("warn", f"{caution.name}.", caution.words)


def _wrong(report: CaseReport) -> Iterator[Block]:
    if report.closing:
        yield from (_found(found) for found in report.closing.found)
        if not report.closing.found:
            yield Para(NOT_FOUND)
        if report.closing.remark:
            yield Para(f"Note of the workshop: {report.closing.remark}")
        return
    if not report.causes:
        yield Para(_nothing_known(report))
        return
    if report.proof.tried == "gone":
        work = report.works[-1]
        yield Para(
            f"The complaint is gone since step {work.step} ({small(in_a_row(work.names))}). Nobody has said yet "
            "what exactly was wrong."
        )
        return
    first = report.causes[0]
    also = [one for one in report.causes if one not in report.likely and one.probability >= ALSO]
    if first.probability < STANDS_OUT:
        yield Para(f"No single cause stands out yet. The first suspects: {_suspects([first, *also], 'and')}.")
        return
    yield from map(_thought, report.likely)
    if damaged := [one for one in also if one.wrecked_by]:
        yield Para(f"It may have damaged more: {_suspects(damaged, 'and')}.")
    if other := [one for one in also if not one.wrecked_by]:
        yield Para(f"It could also be: {_suspects(other, 'or')}.")


def _suspects(causes: Sequence[CauseStanding], last: str) -> str:
    return listed((f"{small(one.name)} ({likelihood(one.probability)})" for one in causes), last)


def _nothing_known(report: CaseReport) -> str:
    if report.impossible:
        return "What was found does not fit together, so no cause can be named yet."
    return "Nothing has been looked at yet, so no cause can be named."


def _found(found: CauseAtClosing) -> Para:
    about = f" {found.about}" if found.about else ""
    return Para(f"{found.name}.{about} {HOW[found.confirmed]}")


def _thought(first: CauseStanding) -> Para:
    return Para(f"{first.name}: {likelihood(first.probability)} by all that was found so far. {first.about}")


def _why_title(report: CaseReport) -> str:
    return "Why we say so" if not report.closing or report.closing.found else "What was thought of"


def _why(report: CaseReport) -> Iterator[Block]:
    for argument in _argued(report):
        told = [reason for reason in argument.reasons if abs(reason.decibans) >= POINTS_TO]
        points_to = _points(reason for reason in told if reason.decibans > 0)
        against = _points(reason for reason in told if reason.decibans <= -AGAINST)
        if points_to:
            yield Para(f"This points to it ({small(argument.cause.name)}):")
            yield Points(points_to)
        if against:
            yield Para(f"This speaks against it ({small(argument.cause.name)}):")
            yield Points(against)
    argued = {argument.cause.id for argument in _argued(report)}
    if excluded := [one for one in report.excluded if one.id not in argued]:
        yield Para("We also thought of these, and what we found makes them very unlikely:")
        yield Points(tuple(_excluded(one, report) for one in excluded[:MOST_EXCLUDED]))
    if len(report.story.moments) > 2 and report.story.traces:
        yield Figure(
            "How likely each cause looked, step by step",
            traces_picture(report, plain=True),
            traces_words(report, plain=True),
            beside=True,
        )


def _argued(report: CaseReport) -> list[Argument]:
    """The causes found; while nobody has said what it was, those that were put right if that helped, else the
    likely ones. None where it was closed and nothing was found."""
    if report.closing:
        found = {one.id for one in report.closing.found}
        return [one for one in report.arguments if one.cause.id in found]
    if report.proof.tried == "gone":
        return [one for one in report.arguments if one.step == report.works[-1].step]
    likely = {one.id for one in report.likely}
    return [one for one in report.arguments if one.step == 0 and one.cause.id in likely]


def _points(reasons: Iterable[WeighedFinding]) -> tuple[str, ...]:
    """The same thing seen twice is told once, with its heavier weight."""
    told: dict[str, str] = {}
    for reason in reasons:
        told.setdefault(reason.plain, f"{reason.plain}{_strong(reason.decibans)}")
    return tuple(told.values())[:MOST_REASONS]


def _strong(decibans: float) -> str:
    return " (strongly)" if abs(decibans) >= CLEARLY else ""


def _excluded(one: Excluded, report: CaseReport) -> str:
    if one.repaired:
        work = next((work for work in report.works if work.step == one.repaired), None)
        stayed = f", and {work.in_vain}" if work and work.in_vain else ""
        return f"{one.name} (dealt with in step {one.repaired}{stayed})"
    because = listed(small(weighed.plain) for weighed in one.because)
    return f"{one.name} (less likely since: {because})" if because else one.name


def _done(report: CaseReport) -> Iterator[Block]:
    rows = tuple((str(step.number), day(step.time), step.plain) for step in report.story.steps)
    dated = any(when for _, when, _ in rows)
    columns = ("Step", "Day", "What was found and done") if dated else ("Step", "What was found and done")
    shown = rows if dated else tuple((number, words) for number, _, words in rows)
    yield Grid(columns, shown, tight=frozenset({1} if dated else ()))
    for work in report.works:
        yield from _work(work)


def _work(work: Work) -> Iterator[Block]:
    yield Heading(f"Step {work.step}: {in_a_row(work.names)}")
    said = []
    if work.option and work.option.still_broken >= 0.01:
        said.append(
            f"Before it was done, it was reckoned to be {likelihood(1 - work.option.still_broken)} to cure the "
            f"complaint.{_cheapest(work)}"
        )
    if words := " ".join([*said, SINCE[work.since]]):
        yield Para(words)
    if work.parts:
        yield Points(tuple(f"{part.quantity:g} x {part.name}" for part in work.parts))
    single = [part.name for part in work.parts if part.single_use]
    if single:
        yield Para(
            f"Always renewed when it is opened, because it seals or holds only once: {listed(single)}.",
            quiet=True,
        )


def _cheapest(work: Work) -> str:
    """Why it was chosen: in money, where it was the best of what was weighed."""
    best = work.option is not None and all(work.option.expected <= other.expected for other in work.others)
    if not best or not work.others:
        return ""
    return (
        " Of all that could have been done it was expected to cost the least in the end, the risk of a second "
        "visit counted in."
    )


def _next(report: CaseReport) -> Iterator[Block]:
    if report.move:
        yield Para(f"Next: {report.move.words}.")
    work = report.proposal
    if work is None or work.option is None:
        return
    cures = 1 - work.option.still_broken
    if cures < LIKELY:
        yield Para("More must be checked before a repair is worth its money.")
        return
    cash = f"about {Shop(report.currency).money(work.money.bill)} for labour and parts"
    names = listed(map(small, work.names))
    yield Para(
        f"If it is repaired by what is known today: {names}; {cash}. That is {likelihood(cures)} to cure it."
    )


def _proof(report: CaseReport) -> Iterator[Block]:
    tried, complaints = report.proof.tried, listed(map(small, report.proof.complaints)) or "the complaint"
    said = {
        "nothing repaired": "Nothing has been repaired yet, so there is nothing to prove.",
        "not tried": f"It has not been recorded yet whether this is gone: {complaints}. Nothing is proven.",
        "still there": f"The complaint is still there after the repair ({complaints}). The repair was not enough.",
        "there again": f"After the repair this was gone, and now it is there again: {complaints}.",
        "gone": f"After the repair the machine was tried, and this was gone: {complaints}.",
    }
    yield Para(said[tried])
    if report.closing:
        yield Para(
            PROVEN
            if report.closing.proven
            else "It is not recorded that the repair was proven by its own test."
        )
    if report.proof.compared:
        rows = tuple((one.name, one.before, one.after) for one in report.proof.compared)
        yield Grid(("Looked at", "Before the repair", "After it"), rows)


def _doubts(report: CaseReport) -> Iterator[Block]:
    plain = [doubt.plain for doubt in report.doubts if doubt.plain]
    if not report.closing:
        plain.append("The work is not finished; what is said here can still change.")
    if plain:
        yield Points(tuple(dict.fromkeys(plain)))
    else:
        yield Para(
            "Nothing that is recorded speaks against it. A fault that nobody has seen yet can always be left."
        )
