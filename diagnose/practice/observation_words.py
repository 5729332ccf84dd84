"""What was seen, in the words of screen and paper."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.cases.case import Case, Observation
from diagnose.cases.events import Noted
from diagnose.knowledge.located import with_place
from diagnose.knowledge.observable import noted, observable
from diagnose.knowledge.records import Knowledge


def as_seen(knowledge: Knowledge, seen: Noted | Observation) -> str:
    """A finding with its value, its code, how sure it is and what was said of it."""
    words = with_place(observable(knowledge, seen.finding).in_words(seen.state), seen.place)
    value = "" if seen.value is None else f" ({seen.value:g} {seen.unit})"
    code = f" [{seen.code}]" if seen.code else ""
    text = f" - {seen.text}" if seen.text and seen.text != seen.code else ""
    sure = "" if seen.confidence == "sure" else f", {seen.confidence}"
    return f"{words}{sure}{value}{code}{text}"


def all_seen(knowledge: Knowledge, case: Case) -> Iterator[str]:
    """Everything known of a case, in order: what was done, what was seen, the codes that say nothing."""
    for epoch in case.epochs:
        for id in epoch.repairs:
            yield f"done: {knowledge.repairs[id].name if id in knowledge.repairs else id}"
        yield from (as_seen(knowledge, one) for one in epoch.observations if noted(knowledge, one.finding))
    yield from (f"code {other} (says nothing here)" for other in case.codes_not_used)
