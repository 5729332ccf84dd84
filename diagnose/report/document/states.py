"""How far a case is, in one notice that stands above everything else."""

from __future__ import annotations

from diagnose.report.document.blocks import Notice
from diagnose.report.document.case_record import CaseReport, Closing

PROVEN, NOT_PROVEN = "The repair was proven by its own test.", "The repair was not proven by its own test."
NOT_FOUND = "What was wrong was not found."


def not_noted(complaints: str) -> str:
    """Nobody has noted since the repair whether these are gone."""
    return f"Not noted since the repair: {complaints}."


def still_there(complaints: str) -> str:
    """The repair has not changed these."""
    return f"Still there after the repair: {complaints}."


def state(report: CaseReport) -> Notice:
    """How far the case is; never further than was recorded."""
    if report.void:
        return Notice("warn", "Not a case.", "It was opened by mistake and withdrawn.")
    if report.closing:
        return _closed(report, report.closing)
    if report.impossible:
        return Notice(
            "warn", "Not finished.", "What was found does not fit together and must be looked at again."
        )
    if not report.causes:
        return Notice("open", "Not finished.", "Nothing has been found yet.")
    return Notice("open", "Not finished.", _open(report))


def _open(report: CaseReport) -> str:
    back = "The machine came back after it was closed. " if report.visits[-1].comeback else ""
    words = {
        "nothing repaired": "Nothing has been repaired. What follows is what is known so far.",
        "not tried": "It was repaired, but whether the complaint is gone is not recorded.",
        "still there": "It was repaired, and the complaint is still there.",
        "there again": "It was repaired, the complaint was gone, and now it is there again.",
        "gone": "It was repaired and the complaint is gone, but the case is not closed.",
    }
    return back + words[report.proof.tried]


def _closed(report: CaseReport, closing: Closing) -> Notice:
    back = "The machine had come back before. " if report.came_back else ""
    if report.proof.tried in ("still there", "there again"):
        return Notice("warn", "Closed with the complaint still there.", f"{back}It was not cured.")
    if not closing.found:
        return Notice("warn", "Closed without a cause.", f"{back}{NOT_FOUND}")
    if not closing.proven:
        return Notice("open", "Closed, not proven.", f"{back}{NOT_PROVEN}")
    assumed = [found for found in closing.found if found.confirmed == "assumed"]
    if assumed:
        some = (
            "the cause is assumed" if len(assumed) == len(closing.found) else "part of the cause is assumed"
        )
        return Notice("open", f"Done; {some}.", f"{back}{PROVEN}")
    if report.proof.tried == "nothing repaired":
        return Notice("open", "Closed.", f"{back}No repair is recorded.")
    return Notice("good", "Done and proven.", f"{back}{PROVEN}")
