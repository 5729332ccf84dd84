"""Rules on the sentences that are read at the machine: whole, and in an order that can be done."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from diagnose.errors import Place
from diagnose.forms.fields import place_of
from diagnose.knowledge.records import Check, Knowledge, Repair
from diagnose.knowledge.removable import Removable
from diagnose.knowledge.rules.base import Survey, Violation, rule
from diagnose.plain import shortened

_TORN = re.compile(r"[a-z](?![A-Z])")  # mV and pH may lead
_WHOLE = re.compile(r'[.?!:)"]$')
SHOWN = 40  # letters of a text that a problem quotes
_COMMA = "put a sentence with a comma in quotes: a list is parted at commas"


@rule("K056", "torn sentence")
def torn_sentence(survey: Survey) -> Iterator[Violation]:
    """A step, or a proof of a repair, is a whole sentence: it does not begin with a small letter, as what a comma
    has torn off does, and has its full stop. Brackets that open in a name, alias or sentence close in it.
    """
    for text, place in _sentences(survey.knowledge):
        if _TORN.match(text):
            yield Violation(place, f"`{shortened(text, SHOWN)}` begins in the middle of a sentence", _COMMA)
        elif not _WHOLE.search(text):
            yield Violation(
                place, f"`{shortened(text, SHOWN)}` does not end", f"write its full stop; or {_COMMA}"
            )
        elif text.count("(") != text.count(")"):
            yield Violation(place, f"a bracket of `{shortened(text, SHOWN)}` is open", _COMMA)
    for text, place in _names(survey.knowledge):
        if text.count("(") != text.count(")"):
            yield Violation(place, f"a bracket of `{shortened(text, SHOWN)}` is open", _COMMA)


def _sentences(knowledge: Knowledge) -> Iterator[tuple[str, Place]]:
    jobs: list[Check | Repair | Removable] = [*knowledge.checks.values(), *knowledge.removable.values()]
    for job in (*jobs, *knowledge.repairs.values()):
        for text in job.verify if isinstance(job, Repair) else job.steps:
            yield text, place_of(text, job.place)


def _names(knowledge: Knowledge) -> Iterator[tuple[str, Place]]:
    records: list[Mapping[str, Any]] = [knowledge.causes, knowledge.conditions, knowledge.checks]
    for record in (one for section in (*records, knowledge.repairs) for one in section.values()):
        yield record.name, place_of(record.name, record.place)
    for finding in knowledge.findings.values():
        texts = (finding.name, *finding.aliases, finding.observe)
        yield from ((text, place_of(text, finding.place)) for text in texts)


_ORDER: Mapping[str, tuple[str, str, str]] = {
    "the engine running": (
        r"engine (?:is )?(?:off|stopped)\b|\bstop (?:it|the engine)\b|shut (?:it|the engine) (?:off|down)",
        r"\b(?:re)?start|\brun|\bcrank|\bidl|\bdriv|\bwork",
        r"until (?:it|the engine|all) is (?:warm|hot)|thermostat (?:opens|is open)|\bat full load\b|as it warms",
    ),
    "the coolant in": (
        r"drain the coolant|coolant drained",
        r"\b(?:re)?fill|hoses? (?:back )?on\b|level right",
        r"thermostat (?:opens|is open)|until (?:it|the engine) is (?:warm|hot)|\brun it\b|(?:run|start) the engine",
    ),
    "the batteries on": (
        r"disconnect the batter|batter(?:y|ies) (?:off|isolated|disconnected)|isolator off",
        r"\b(?:re)?connect|batter(?:y|ies) (?:back )?on\b|isolator on",
        r"(?<!no )(?<!not )(?<!to )\bcrank|\bkey on\b|start (?:it|the engine)\b",
    ),
}
"""What a step can need, the words that take it away, those that give it back, and those that need it."""


@rule("K064", "step that an earlier step prevents")
def prevented_step(survey: Survey) -> Iterator[Violation]:
    """The steps of a check can be done in their order: none waits for what an earlier one took away and none gave
    back - warmth from an engine that was stopped, a thermostat that opens with the coolant out, cranking with the
    batteries off.
    """
    jobs: list[Check | Removable] = [*survey.knowledge.checks.values(), *survey.knowledge.removable.values()]
    for check in jobs:
        for needed, (away, back, wants) in _ORDER.items():
            if text := _prevented(check.steps, away, back, wants):
                message = (
                    f"the step `{shortened(text, SHOWN)}` needs {needed}, which an earlier step took away"
                )
                yield Violation(
                    place_of(text, check.place), message, "say how it is had again, or change the order"
                )


def _prevented(steps: tuple[str, ...], away: str, back: str, wants: str) -> str:
    words = re.compile(f"(?P<away>{away})|(?P<wants>{wants})|(?P<back>{back})", re.IGNORECASE)
    gone = False
    for text in steps:
        for hit in words.finditer(text):
            if gone and hit.lastgroup == "wants":
                return text
            gone = {"away": True, "back": False}.get(hit.lastgroup or "", gone)
    return ""
