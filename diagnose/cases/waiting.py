"""What an open case waits for: parts, the customer, cooling down, or a proof that falls due later. Pure."""

from __future__ import annotations

from diagnose.cases.case import Case
from diagnose.cases.events import Checked

PROOF = "prove:"
"""What the id of a proof begins with where it stands among the checks done of a case."""
LATER = "later"
"""The word of a proof that is due only after hours of running."""
LATER_PROOF = "later proof"
PART = "in part"
"""The word of a check of which some questions were not asked, for they had nothing to do with it then."""


def waits_for(case: Case) -> tuple[str, ...]:
    """What the case waits for, in words; nothing where it is closed."""
    if case.closed:
        return ()
    told = (case.waits.reason,) if case.waits else ()
    return (*told, *([LATER_PROOF] if due_later(case) else []))


def _texts(case: Case) -> dict[str, str]:
    """The word with which each check was last said to be done."""
    return {
        event.check: event.text
        for event in case.history
        if isinstance(event, Checked) and event.sequence not in case.withdrawn
    }


def done_in_part(case: Case) -> frozenset[str]:
    """The checks since the last repair of which some questions were not asked."""
    told = _texts(case)
    return frozenset(id for id in case.epochs[-1].checks if told.get(id) == PART)


def due_later(case: Case) -> tuple[str, ...]:
    """The proofs of the last repair that were put off, by id."""
    told = _texts(case)
    ticked = (id for id in case.epochs[-1].checks if id.startswith(PROOF))
    return tuple(id for id in ticked if told.get(id) == LATER)
