"""What is shown, as plain JSON values: the contract of `--json`. Fields may be added, never renamed."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from diagnose.cases.case import Case
from diagnose.cases.events import Event, to_json
from diagnose.cases.times import jumps
from diagnose.knowledge.records import Hazard, Knowledge
from diagnose.plain import json_safe

Json = dict[str, Any]


def dumps(command: str, values: Json) -> str:
    """The JSON text of what a command shows, with its schema's name first."""
    return json_safe(json.dumps({"schema": f"diagnose.{command}/1"} | values, indent=1, ensure_ascii=False))


def case(one: Case) -> Json:
    """One case with its whole history."""
    return {
        "case": one.number,
        "machine": one.machine.number,
        "complaint": one.complaint,
        "closed": one.closed is not None,
        "withdrawn": sorted(one.withdrawn),
        "events": [event(item) for item in one.history],
        "clock": [{"event": number, "words": words} for number, words in jumps(one.history).items()],
    }


def event(item: Event) -> Json:
    """One event as it is stored."""
    values: Json = json.loads(to_json(item))
    return values


def recorded(number: int, sequences: Sequence[int], events: Iterable[Event], words: Iterable[str]) -> Json:
    """What a command that records has recorded: the events with their numbers, and words on them."""
    numbered = [event(item) | {"sequence": n} for n, item in zip(sequences, events, strict=True)]
    return {"case": number, "events": numbered, "words": list(words)}


def hazards(found: Iterable[Hazard]) -> list[Json]:
    """Cautions, those that stop everything first."""
    return [{"id": h.id, "name": h.name, "caution": h.caution, "stop": h.stop} for h in found]


def knowledge_counts(knowledge: Knowledge) -> Json:
    """How much of everything the knowledge holds."""
    sections = (
        "systems causes conditions findings checks repairs removable access hazards facts families sources"
    )
    return {name: len(getattr(knowledge, name)) for name in sections.split()}
