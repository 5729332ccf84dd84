"""Which cautions belong to this step on this machine as it stands, the worst first."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.observable import observable
from diagnose.knowledge.records import HARMS, Access, Check, Hazard, Knowledge
from diagnose.planning.options import CheckOption, empty_handed, lost_now, suspected
from diagnose.planning.unasked import TOLD

STANDING_ONLY = "unexpected_start"
"""Batteries isolated and tagged: not of a step in which the engine is cranked or run on purpose."""


def of_check(diagnosis: Diagnosis, option: CheckOption, opening: Iterable[Access]) -> tuple[Hazard, ...]:
    """The hazards of a check: none of asking a person, nor what hurts only on a machine that does what this one
    cannot do."""
    if option.check and _only_asked(diagnosis.knowledge, option.check):
        return ()
    return of_step(diagnosis, option.own_hazards, opening, option.wants, lost_now(diagnosis))


def of_step(
    diagnosis: Diagnosis,
    own: Iterable[str],
    opening: Iterable[Access],
    wants: Sequence[str] = (),
    without: Collection[str] = (),
) -> tuple[Hazard, ...]:
    """The hazards of a job and of what is still to be opened for it, the worst first. A stop that is not suspected,
    or was ruled out, is none; nor is what the step itself makes impossible, or what the machine is `without`."""
    live = suspected(diagnosis)
    ids = dict.fromkeys([*own, *(id for state in opening for id in state.hazards)])
    hazards = worst_first(diagnosis.knowledge, ids)
    turned = {"cranking", "running", "load"}.intersection(wants)
    return tuple(
        one
        for one in hazards
        if (not one.stop or one in live)
        and not (turned and one.id == STANDING_ONLY)
        and not set(without).intersection(one.wants)
    )


def worst_first(knowledge: Knowledge, ids: Iterable[str]) -> tuple[Hazard, ...]:
    """Hazards by what they do to people, then to the engine; those that stop everything before all."""
    hazards = [knowledge.hazards[id] for id in ids if id in knowledge.hazards]
    return tuple(sorted(hazards, key=lambda one: (not one.stop, HARMS.index(one.harm))))


def _only_asked(knowledge: Knowledge, check: Check) -> bool:
    """A check that takes no tool, opens nothing and asks nothing of the machine, and mostly what a person tells."""
    told = sum(observable(knowledge, id).kind == TOLD for id in check.reveals)
    return empty_handed(check) and 2 * told > len(check.reveals)
