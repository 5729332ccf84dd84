"""How the trouble comes: now and then, all at once, slowly worse, only hot, only under load, since the frost.

These are findings by themselves where they are said outright ("only when hot", "comes and goes"). A circumstance
that is merely named goes with what shows in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import diagnose.understanding.parts as kinds
from diagnose.knowledge.records import Knowledge
from diagnose.understanding.likeness import PRESENT
from diagnose.understanding.parts import Part

_FILLED = (
    r"(?:\s+(?:when|once|while|after|if|its|it's|it|is|she|she's|gets|the|a|engine|fully|really|on|in|"
    r"at|to))*\s+"
)
_PLACES = {
    "only_when_hot": r"(?:hot|warm(?:ed)?(?: up)?|up to temp\w*)",
    "only_when_cold": r"(?:cold|from cold|stone cold)",
    "only_under_load": r"(?:under (?:a )?load|loaded|pulling|under power|working hard|full load|put to work)",
    "only_at_idle": r"(?:idle|idling|tickover)",
    "only_uphill": r"(?:uphill|hills?|climb\w*|grades?|inclines?)",
    "worse_when_wet": r"(?:wet|rain\w*|damp|washed|wet (?:days|weather))",
    "only_after_night": r"(?:overnight|(?:sat|sitting|stood|standing|sits) (?:overnight|all night|the night)|"
    r"first thing|morning)",
}
_OUTRIGHT = {
    "comes_and_goes": r"intermittent(?:ly)?|comes and goes|off and on|now and (?:then|again)|every so often|"
    r"once in a while|sporadic(?:ally)?|at random|randomly|occasionally|when it feels like it|some days fine",
    "came_on_suddenly": r"all of a sudden|suddenly|out of nowhere|out of the blue|without (?:any )?warning",
    "came_on_slowly": r"gradual(?:ly)?|little by little|worse and worse|"
    r"(?:slowly |steadily |been )*(?:getting|gets|got|gotten) (?:slowly |steadily |gradually )?worse"
    r"(?! (?:when|under|with|at|on|in|if|as|the|hot|cold|uphill|after|once|while))|"
    r"worse (?:every|each) (?:day|week|shift|trip|run)",
    "since_cold_snap": r"since (?:the )?(?:cold snap|frost|it (?:got|turned|went) (?:so )?cold|cold weather)",
    "since_refuelling": r"(?:since|after) (?:(?:we|i|they|he|she|it was|was) )?(?:last |just )?(?:the last )?"
    r"(?:refuel\w*|fuel+ing|fuel+ed|filled (?:it )?up|filling up|fill of fuel|fill[- ]?up|tank of fuel)",
}  # fmt: skip
_PATTERNS = tuple(
    (
        id,
        re.compile(
            rf"\b(?:only|worse|worst|just)\b{_FILLED}{place}\b|\b{place}(?: days| mornings| weather)? only\b",
            re.IGNORECASE,
        ),
    )
    for id, place in _PLACES.items()
) + tuple((id, re.compile(rf"\b(?:{words})\b", re.IGNORECASE)) for id, words in _OUTRIGHT.items())
_DENIED = re.compile(
    r"\b(?:turn\w*|switch\w*|key\w*|flick\w*)(?: \w+){0,2}\s+$|"
    r"\b(?:not|never|isn'?t|no|wasn'?t)\s+(?:\w+\s+)?$|\b(?:at )?first,?\s+$|\binitially\s+$",
    re.IGNORECASE,
)


def manner_in(knowledge: Knowledge, text: str, found: Sequence[Part]) -> Iterator[Part]:
    """How the trouble comes, where no finding of the same words says it already."""
    known = {id for part in found if part.sure for id in (part.id, *part.also)}
    for id, pattern in _PATTERNS:
        said = pattern.search(text)
        if said is None or id not in knowledge.findings or id in known:
            continue
        if not _DENIED.search(text[: said.start()]) and not any(
            _holds(knowledge, part, pattern, said) for part in found
        ):
            yield Part(kinds.FINDING, *said.span(), said[0], id, PRESENT)


def _holds(knowledge: Knowledge, part: Part, pattern: re.Pattern[str], said: re.Match[str]) -> bool:
    """The words belong to a finding already, which is called so."""
    if part.kind != kinds.FINDING or not part.sure or part.start >= said.end() or said.start() >= part.end:
        return False
    finding = knowledge.findings.get(part.id)
    return finding is None or any(pattern.search(name) for name in (finding.name, *finding.aliases))
