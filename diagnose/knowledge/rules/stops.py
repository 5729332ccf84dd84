"""The rule on stops: what forbids work is soon settled by somebody's own eyes and hands."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.dismantling import with_all_before
from diagnose.knowledge.records import Check, Hazard
from diagnose.knowledge.rules.base import Survey, Violation, rule

SOON = 60.0
"""Minutes, opening and closing included, in which a stop can be settled (judgement)."""


@rule("K049", "stop that nothing clears soon")
def stop_not_cleared(survey: Survey) -> Iterator[Violation]:
    """A hazard with `stop` has a check (`cleared_by`) that looks, tries or measures, and of which a result speaks
    of what is suspected: what is only asked clears nothing. Where a cause or condition is suspected, and not only
    what was seen already, one such check takes at most an hour with its dismantling.
    """
    for hazard in survey.knowledge.hazards.values():
        if (
            hazard.stop
            and hazard.suspect
            and survey.doubtful.isdisjoint((*hazard.suspect, *hazard.cleared_by))
        ):
            times = [_minutes(survey, check) for check in _clearing(survey, hazard)]
            if not times:
                yield Violation(
                    hazard.place, f"no check that looks or measures clears the stop `{hazard.id}`"
                )
            elif min(times) > SOON and any(id not in survey.knowledge.findings for id in hazard.suspect):
                message = f"the quickest check that clears the stop `{hazard.id}` takes {min(times):g} min"
                yield Violation(hazard.place, message, f"add one of at most {SOON:g} min to cleared_by")


def _clearing(survey: Survey, hazard: Hazard) -> list[Check]:
    checks = (survey.knowledge.checks.get(id) for id in hazard.cleared_by)
    return [check for check in checks if check and _speaks(survey, check, hazard)]


def _speaks(survey: Survey, check: Check, hazard: Hazard) -> bool:
    """Whether a result that is not only told shares a cause with something suspected."""
    suspected = [survey.behind(id) for id in hazard.suspect]
    found = (survey.knowledge.findings.get(id) for id in check.reveals)
    seen = [survey.behind(one.id) for one in found if one and one.kind != "question"]
    return any(not one.isdisjoint(other) for one in seen for other in suspected)


def _minutes(survey: Survey, check: Check) -> float:
    access = survey.knowledge.access
    states = (access[id] for id in with_all_before(access, check.access))
    return check.minutes.value + sum(state.minutes + state.restore_minutes for state in states)
