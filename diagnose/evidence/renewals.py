"""The repairs of a case and the parts taken out in it, as the history that a network is built by."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.knowledge.away import is_away
from diagnose.knowledge.records import Knowledge
from diagnose.network.away import stretches
from diagnose.network.history import History, Renewal

UNNAMED_EFFECTIVENESS = 0.9
"""Effectiveness of a repair of a cause that no repair of the knowledge covers (judgement)."""


def history(knowledge: Knowledge, case: Case, counted: Iterable[Observation]) -> History:
    """The repairs of the case and where in time its observations stand."""
    repairs = tuple(_renewals(knowledge, epoch) for epoch in case.epochs[1:])
    plain = frozenset((o.id, o.epoch) for o in counted if not is_away(o.finding))
    away = stretches(knowledge, ((o.finding, o.epoch) for o in counted))
    return History(repairs, plain, away, case.visits)


def _renewals(knowledge: Knowledge, epoch: Epoch) -> dict[str, Renewal]:
    """What the repairs of one epoch do to each cause that they cover."""
    done = [knowledge.repairs[id] for id in epoch.repairs if id in knowledge.repairs]
    cures = [(cure.cause, cure.effectiveness.value, repair) for repair in done for cure in repair.cures]
    covered = epoch.causes or tuple(cause for cause, _, _ in cures)
    renewals = {}
    for cause in covered:
        mine = [(effectiveness, repair) for cured, effectiveness, repair in cures if cured == cause]
        left = (
            float(np.prod([1 - effectiveness for effectiveness, _ in mine]))
            if mine
            else 1 - UNNAMED_EFFECTIVENESS
        )
        infant = max((repair.infant.value for _, repair in mine if repair.infant), default=0.0)
        renewals[cause] = Renewal(1 - left, infant)
    return {cause: renewal for cause, renewal in renewals.items() if cause in knowledge.causes}
