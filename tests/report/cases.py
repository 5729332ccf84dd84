"""Cases for the tests of the report: event by event, on the small knowledge of the command line's tests."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from diagnose.cases.case import Case, fold
from diagnose.cases.events import (
    Checked,
    Closed,
    Event,
    Noted,
    Opened,
    Reopened,
    Repaired,
    from_json,
    to_json,
)
from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from diagnose.planning.shop import Shop
from diagnose.report.document.case_record import CaseReport
from diagnose.report.document.gather import case_report
from tests.cli.conftest import FOLDER

SHOP = Shop(labour=60.0, downtime=30.0, consumables=0.0)
"""A minute of labour costs 1, a minute of standing still 0.5: sums are done by head."""
OPENED = Opened("P-7", "new_six", {"start_aid": "heater"}, 5200.0, {}, "no start since Monday")
NO_START = Noted("no_start", "present", text="will not fire")
METAL = Noted("metal_in_filter", "present")
PUMP = Repaired(("replace_pump", "flush_gallery"), ("pump_worn", "debris"))
GONE = Noted("no_start", "absent")
SEEN = (
    OPENED,
    NO_START,
    Noted("rail_pressure", "low", text="rail pressure cranking 2 MPa", value=2.0, unit="MPa"),
    Checked("cut_filter", "half a spoon of it"),
    METAL,
)
MENDED = (
    *SEEN,
    PUMP,
    GONE,
    Noted("rail_pressure", "normal", text="rail pressure cranking 5 MPa", value=5.0, unit="MPa"),
)
DONE = (*MENDED, Closed(("pump_worn",), "by sight", True, "plungers scored"))
CAME_BACK = (*DONE, Reopened("no start again"), replace(NO_START, text="again"))


@cache
def small() -> Knowledge:
    return load(FOLDER)


def case_of(*events: Event) -> Case:
    numbered = (
        replace(event, sequence=n, time=f"2026-03-0{1 + n // 9}T08:{n:02}:00Z", knowledge=small().version)
        for n, event in enumerate(events, 1)
    )
    return fold(7, numbered)


def told(*events: Event) -> CaseReport:
    return _told(tuple(to_json(event) for event in case_of(*events).history))


@cache
def _told(events: tuple[str, ...]) -> CaseReport:
    case = fold(7, map(from_json, events))
    return case_report(small(), case, SHOP, "2026-03-09T12:00:00Z")
