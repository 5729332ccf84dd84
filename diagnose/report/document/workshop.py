"""Work for the technician: repairs done and proposed, why in money, parts, cautions, proof, checks, cost."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.plain import small
from diagnose.report.document.blocks import Block, Figure, Grid, Heading, Notice, Para, Points
from diagnose.report.document.case_record import CaseReport
from diagnose.report.document.figures import costs_picture, costs_words
from diagnose.report.document.record_words import in_a_row
from diagnose.report.document.states import not_noted, still_there
from diagnose.report.document.work_records import Caution, Money, NextCheck, Option, PartLine, Tried, Work
from diagnose.report.screen_words import listed, minutes, percent

SINCE: Mapping[Tried, str] = {
    "nothing repaired": "",
    "not tried": "Whether it helped was not recorded before the next repair.",
    "still there": "It did not cure the complaint, which was still there afterwards.",
    "there again": "The complaint was gone afterwards, and came back.",
    "gone": "Afterwards the complaint was gone.",
}


def repaired(report: CaseReport, work: Work) -> Iterator[Block]:
    """A repair that was done, with how it was weighed before."""
    yield Heading(f"Step {work.step}: {in_a_row(work.names)}")
    yield from _care(work.cautions)
    yield from _money(report, work)
    if work.option:
        yield Para(f"As it was weighed before: {_weighed(report, work.option)}.")
        yield Points(work.option.reasons)
    yield from _others(report, work)
    yield from _parts(report, work)
    if work is not report.works[-1]:
        yield Para(SINCE[work.since])
    yield from _verify(work, "What proves it, by the knowledge:")


def proposed(report: CaseReport, work: Work) -> Iterator[Block]:
    """The repair with the lowest cost in all, as things stand."""
    yield Heading(in_a_row(work.names))
    if work.held_back:
        yield Notice("warn", f"Not now: first rule out {small(work.held_back)}.", "")
    yield from _care(work.cautions)
    yield from _money(report, work)
    if work.option:
        yield Para(f"Weighed: {_weighed(report, work.option)}. Why:")
        yield Points(work.option.reasons)
    if work.against:
        yield Para(work.against)
    yield from _others(report, work)
    yield from _parts(report, work)
    if work.left_out:
        yield Para("Thought of while it is open, and left:")
        yield Points(work.left_out)
    yield from _verify(work, "What will prove it:")


def _care(cautions: tuple[Caution, ...]) -> Iterator[Block]:
    """By name; in full they stand before all work."""
    if cautions:
        yield Para(f"Care: {'; '.join(small(caution.name) for caution in cautions)}.")


def _money(report: CaseReport, work: Work) -> Iterator[Block]:
    if work.minutes:
        opened = f" Opened for it: {listed(work.access)}." if work.access else ""
        yield Para(
            f"{minutes(work.minutes)}; labour {work.money.labour:,.0f}, parts {work.money.parts:,.0f}, standing "
            f"still {work.money.standing:,.0f} {report.currency}.{opened}"
        )


def _weighed(report: CaseReport, option: Option) -> str:
    return (
        f"{option.cash:,.0f} now, {option.expected:,.0f} {report.currency} to be expected in all, still broken in "
        f"{percent(option.still_broken)}"
    )


def _others(report: CaseReport, work: Work) -> Iterator[Block]:
    rows = tuple(
        (" + ".join(one.names), f"{one.cash:,.0f}", f"{one.expected:,.0f}", percent(one.still_broken))
        for one in work.others
    )
    if rows:
        yield Para("Weighed beside it:")
        yield Grid(
            ("Repairs", f"Now, {report.currency}", "In all", "Still broken"), rows, frozenset({1, 2, 3})
        )


def _parts(report: CaseReport, work: Work) -> Iterator[Block]:
    rows = tuple(
        (f"{p.quantity:g}", p.name, _marks(p), f"{p.price:,.2f}", f"{p.price * p.quantity:,.2f}")
        for p in work.parts
    )
    if rows:
        yield Grid(("Number", "Part", "Mark", "Each", f"Sum, {report.currency}"), rows, frozenset({0, 3, 4}))


def _marks(part: PartLine) -> str:
    marks = ["one use, never put back"] if part.single_use else []
    return "; ".join([*marks, *(["renew as a set"] if part.as_set else [])])


def _verify(work: Work, title: str) -> Iterator[Block]:
    if work.verify:
        yield Para(title)
        yield Points(work.verify)


def work_cautions(report: CaseReport) -> Iterator[Block]:
    """The cautions of all repairs and checks told of, each once; those that stop everything first."""
    works = (*report.works, *((report.proposal,) if report.proposal else ()))
    careful = (*works, *report.checks)
    found = dict.fromkeys(one for work in careful for one in work.cautions)
    yield from (caution(one) for one in found if one.stop)
    if rest := tuple(f"{one.name}. {one.words}" for one in found if not one.stop):
        yield Points(rest)


def caution(one: Caution) -> Notice:
    """A caution in full."""
    return Notice("warn", f"{'Stop first' if one.stop else 'Caution'}: {small(one.name)}.", one.words)


def tried(report: CaseReport) -> str:
    """What is known of the complaint since the repair."""
    complaints = listed(report.proof.complaints) or "the complaint"
    said = {
        "nothing repaired": "Nothing has been repaired yet.",
        "not tried": not_noted(complaints),
        "still there": still_there(complaints),
        "there again": f"Gone after the repair for a while, and there again: {complaints}.",
        "gone": f"Gone after the repair: {complaints}.",
    }
    return said[report.proof.tried]


def proof_of_repair(report: CaseReport) -> Iterator[Block]:
    """The complaint since, the closing, and what was looked at before and after."""
    if not report.works:
        return
    yield Para(tried(report))
    if report.closing:
        proven = "was" if report.closing.proven else "was not"
        yield Para(f"At the closing the repair {proven} recorded as proven by its own test.")
    if report.proof.compared:
        rows = tuple(
            (one.name, one.before, one.after, "yes" if one.tells else "no") for one in report.proof.compared
        )
        yield Grid(("Looked at", "Before", "After", "State changed"), rows)
    if report.proof.not_again:
        yield Para(f"Not normal before the repair and not looked at since: {listed(report.proof.not_again)}.")


def next_checks(report: CaseReport) -> Iterator[Block]:
    """The checks most worth doing."""
    rows = tuple(
        (check.name, minutes(check.minutes), check.worth, _careful(check)) for check in report.checks
    )
    if rows:
        yield Grid(("Check", "Takes", "Worth", "Care"), rows, frozenset({1, 2}))


def _careful(check: NextCheck) -> str:
    if check.held_back:
        return f"NOT NOW: first rule out {small(check.held_back)}"
    return "; ".join(small(one.name) for one in check.cautions)


def cost_so_far(report: CaseReport) -> Iterator[Block]:
    """Every step that cost something."""
    if not report.spent:
        return
    counted = [line for line in report.spent if line.recorded]
    rows = [_line(str(line.step), line.words, line.minutes, line.money) for line in counted]
    rows.append(_line("", "In all", sum(line.minutes for line in counted), report.total))
    columns = ("Step", "What", "Time", "Labour", "Parts", f"Standing, {report.currency}")
    yield Grid(columns, tuple(rows), frozenset({2, 3, 4, 5}), total=True)
    yield Para(
        "Reckoned from usual times, the shop's rates and prices (diagnose shop); nobody wrote down minutes.",
        quiet=True,
    )
    rest = [
        f"Step {line.step}: {small(line.words)}, {minutes(line.minutes)}"
        for line in report.spent
        if not line.recorded
    ]
    if rest:
        yield Para(
            "Not counted, because no check was recorded for what was noted; the least that it takes:",
            quiet=True,
        )
        yield Points(tuple(rest))
    if len(counted) > 1:
        yield Figure(
            "Labour and parts, step by step", costs_picture(report), costs_words(report), beside=True
        )


def _line(step: str, what: str, time: float, money: Money) -> tuple[str, ...]:
    return step, what, minutes(time), f"{money.labour:,.0f}", f"{money.parts:,.0f}", f"{money.standing:,.0f}"
