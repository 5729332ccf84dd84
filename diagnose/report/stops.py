"""What must be ruled out before anything else: shown first, with the checks that rule it out. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.diagnosis import Diagnosis
from diagnose.planning.checks import CheckValue
from diagnose.planning.options import suspected
from diagnose.report.text import WARN, Pieces, cautions, item
from diagnose.report.words import listed


def safe_first(diagnosis: Diagnosis, checks: Iterable[CheckValue]) -> tuple[CheckValue, ...]:
    """The checks in their order, but those first that rule out a suspected hazard: safety before money."""
    clearing = {id for hazard in suspected(diagnosis) for id in hazard.cleared_by}
    return tuple(sorted(checks, key=lambda check: check.id not in clearing))


def stops(diagnosis: Diagnosis) -> Pieces:
    """The suspected hazards in full, with the checks that rule them out."""
    for hazard in suspected(diagnosis):
        yield from cautions((hazard,))
        names = [diagnosis.knowledge.checks[id].name for id in hazard.cleared_by]
        if names:
            yield item("RULE OUT", f"by: {listed(names, 'or')}", 2, mark_style=WARN)
