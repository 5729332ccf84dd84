"""The record of a report as plain JSON values. Fields may be added, never renamed."""

from __future__ import annotations

from dataclasses import asdict

from diagnose.report.data import Json
from diagnose.report.document.case_record import CaseReport


def report_data(report: CaseReport) -> Json:
    """The whole record; sums that the record only works out are added."""
    total = report.total
    machine = asdict(report.machine)
    return {
        **asdict(report),
        "machine": machine | {"facts": dict(report.machine.facts), "renewed": dict(report.machine.renewed)},
        "combinations": [{"causes": causes, "probability": p} for causes, p in report.combinations],
        "closed": report.closing is not None,
        "came_back": report.came_back,
        "total": {**asdict(total), "bill": total.bill},
    }
