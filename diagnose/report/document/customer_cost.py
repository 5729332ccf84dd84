"""What it has cost, for the customer: finding the fault in one line, each repair in one, and how the sum grew."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.report.document.blocks import Block, Figure, Grid, Para
from diagnose.report.document.case_record import CaseReport
from diagnose.report.document.figures import costs_picture, costs_words
from diagnose.report.document.record_words import in_a_row
from diagnose.report.document.work_records import Money
from diagnose.report.screen_words import listed


def cost(report: CaseReport) -> Iterator[Block]:
    """The table of sums and the picture; nothing where nothing was spent."""
    if not report.spent:
        return
    rows = [*_searching(report), *_repairing(report), ("In all", report.total)]
    columns = ("What", "Labour", "Parts", f"Sum, {report.currency}")
    yield Grid(columns, tuple(_sums(*row) for row in rows), frozenset({1, 2, 3}), total=True)
    yield Para(
        "Reckoned from usual working times and the workshop's rates and prices; the invoice counts. What the "
        "machine's standing still costs you is not in it, nor work that nobody recorded.",
        quiet=True,
    )
    if report.works and len(report.spent) > 1:
        yield Figure("Cost so far, step by step", costs_picture(report), costs_words(report), beside=True)


def _searching(report: CaseReport) -> Iterator[tuple[str, Money]]:
    """What finding the fault cost, in one line."""
    repairs = {work.step for work in report.works}
    found = [line for line in report.spent if line.step not in repairs and line.recorded]
    if found:
        steps = listed(str(line.step) for line in found)
        yield (
            f"Finding the fault: looking, measuring, opening ({'steps' if len(found) > 1 else 'step'} {steps})",
            sum((line.money for line in found), Money()),
        )


def _repairing(report: CaseReport) -> Iterator[tuple[str, Money]]:
    for work in report.works:
        stayed = f"; {work.in_vain}" if work.in_vain else ""
        yield f"{in_a_row(work.names)} (step {work.step}{stayed})", work.money


def _sums(what: str, money: Money) -> tuple[str, ...]:
    return what, f"{money.labour:,.0f}", f"{money.parts:,.0f}", f"{money.bill:,.0f}"
