"""Which cautions belong to this step on this machine as it stands, the worst first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import HARMS, Access, Hazard, Knowledge
from diagnose.planning.options import suspected

MOST = 3
"""Nobody reads eleven."""
STANDING_ONLY = "unexpected_start"
"""Batteries isolated and tagged: not of a step in which the engine is cranked or run on purpose."""


def of_step(
    diagnosis: Diagnosis, own: Iterable[str], opening: Iterable[Access], wants: Sequence[str] = ()
) -> tuple[Hazard, ...]:
    """The hazards of a job and of what is still to be opened for it, the worst first. A stop that is not suspected,
    or was ruled out, is none; nor is what the step itself makes impossible."""
    live = suspected(diagnosis)
    ids = dict.fromkeys([*own, *(id for state in opening for id in state.hazards)])
    hazards = worst_first(diagnosis.knowledge, ids)
    turned = {"cranking", "running", "load"}.intersection(wants)
    return tuple(
        one for one in hazards if (not one.stop or one in live) and not (turned and one.id == STANDING_ONLY)
    )


def worst_first(knowledge: Knowledge, ids: Iterable[str]) -> tuple[Hazard, ...]:
    """Hazards by what they do to people, then to the engine; those that stop everything before all."""
    hazards = [knowledge.hazards[id] for id in ids if id in knowledge.hazards]
    return tuple(sorted(hazards, key=lambda one: (not one.stop, HARMS.index(one.harm))))
