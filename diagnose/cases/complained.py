"""What a machine was complained of, which is what must be gone before it leaves."""

from __future__ import annotations

from diagnose.cases.case import Case
from diagnose.knowledge.records import Knowledge


def complained_of(knowledge: Knowledge, case: Case) -> tuple[str, ...]:
    """The complaints that were noted, there or not. Where none was: what else the machine does that it came in for,
    as people tell it ("hot on hills only"), for that is what must be gone."""
    known = [knowledge.findings[o.finding] for o in case.observations if o.finding in knowledge.findings]
    complaints = [one.id for one in known if one.other]
    told = [one.id for one in known if one.id in case.came_in_for and one.in_passing and not one.past]
    return tuple(dict.fromkeys(complaints or told))
