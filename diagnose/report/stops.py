"""What must be ruled out before anything else: shown first, with the checks that rule it out. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Hazard
from diagnose.planning.checks import CheckValue
from diagnose.planning.options import held_back, suspected
from diagnose.report.text import WARN, Pieces, cautions, item
from diagnose.report.words import listed


@dataclass(frozen=True, slots=True)
class Proposal:
    """A check as proposed. `held`: the suspected hazard because of which it is not to be done now, if any."""

    check: CheckValue
    held: Hazard | None = None


def proposals(diagnosis: Diagnosis, checks: Iterable[CheckValue]) -> tuple[Proposal, ...]:
    """The checks in their order, but those first that rule out a suspected hazard, those last that it forbids."""
    live = suspected(diagnosis)
    clearing = {id for hazard in live for id in hazard.cleared_by}
    found = [Proposal(check, held_back((h.id for h in check.hazards), check.id, live)) for check in checks]
    return tuple(sorted(found, key=lambda one: (one.held is not None, one.check.id not in clearing)))


def stops(diagnosis: Diagnosis) -> Pieces:
    """The suspected hazards in full, with the checks that rule them out."""
    for hazard in suspected(diagnosis):
        yield from cautions((hazard,))
        names = [diagnosis.knowledge.checks[id].name for id in hazard.cleared_by]
        if names:
            yield item("RULE OUT", f"by: {listed(names, 'or')}", 2, mark_style=WARN)
