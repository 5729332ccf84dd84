"""What must be ruled out before anything else: shown first. Pure."""

from __future__ import annotations

from diagnose.diagnosis import Diagnosis
from diagnose.planning.options import suspected
from diagnose.report.text import WARN, Pieces, cautions, item
from diagnose.report.words import listed


def stops(diagnosis: Diagnosis) -> Pieces:
    """The suspected hazards in full, with the checks that rule them out."""
    for hazard in suspected(diagnosis):
        yield from cautions((hazard,))
        names = [diagnosis.knowledge.checks[id].name for id in hazard.cleared_by]
        if names:
            yield item("RULE OUT", f"by: {listed(names, 'or')}", 2, mark_style=WARN)
