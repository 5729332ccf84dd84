"""How the trouble comes: now and then, all at once, slowly worse, only hot, only under load, since the frost.

These are findings by themselves where they are said outright ("only when hot", "comes and goes"). A circumstance
that is merely named goes with what shows in it. The words stand in the knowledge (`only_when`, `outright`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache

import diagnose.understanding.parts as kinds
from diagnose.knowledge.records import Knowledge
from diagnose.understanding.parts import TextPart
from diagnose.understanding.signed_likeness import PRESENT

_FILLERS = (
    "when once while after if its it's it is she she's gets the a engine fully really on in at to we i they he was "
    "been last just so slowly steadily gradually"
)
_FILLED = rf"(?:\s+(?:{'|'.join(_FILLERS.split())}))*\s+"
_ONLY = rf"\b(?:only|worse|worst|just)\b{_FILLED}%s\b|\b%s(?: days| mornings| weather)? only\b"
_COURSE = r"(?! (?:when|under|with|at|on|in|if|as|the|hot|cold|uphill|after|once|while))"
"""Behind "worse": it is then said when it is worse, and not how it went on."""


def _word(word: str) -> str:
    return re.escape(word.removesuffix("*")) + (r"\w*" if word.endswith("*") else r"\b")


def _told(phrase: str) -> str:
    """A phrase with what may stand between its words."""
    pattern = _FILLED.join(map(_word, phrase.split()))
    return pattern + (_COURSE if phrase.endswith("worse") else "")


@lru_cache(maxsize=64)
def _pattern(only_when: tuple[str, ...], outright: tuple[str, ...]) -> re.Pattern[str]:
    ways = []
    if only_when:
        place = f"(?:{'|'.join(map(_told, only_when))})"
        ways.append(_ONLY % (place, place))
    if outright:
        ways.append(rf"\b(?:{'|'.join(map(_told, outright))})")
    return re.compile("|".join(ways), re.IGNORECASE)


_DENIED = re.compile(
    r"\b(?:turn\w*|switch\w*|key\w*|flick\w*)(?: \w+){0,2}\s+$|"
    r"\b(?:not|never|isn'?t|no|wasn'?t)\s+(?:\w+\s+)?$|\b(?:at )?first,?\s+$|\binitially\s+$",
    re.IGNORECASE,
)


def manner_in(knowledge: Knowledge, text: str, found: Sequence[TextPart]) -> Iterator[TextPart]:
    """How the trouble comes, where no finding of the same words says it already."""
    lowered = text.lower()
    known = {id for part in found if part.sure for id in (part.id, *part.also)}
    for id, finding in knowledge.findings.items():
        if id in known or not (finding.only_when or finding.outright):
            continue
        phrases = _heard(finding.only_when, lowered), _heard(finding.outright, lowered)
        said = _pattern(*phrases).search(text) if any(phrases) else None
        if said is None:
            continue
        pattern = _pattern(finding.only_when, finding.outright)
        if not _DENIED.search(text[: said.start()]) and not any(
            _holds(knowledge, part, pattern, said) for part in found
        ):
            yield TextPart(kinds.FINDING, *said.span(), said[0], id, PRESENT)


def _heard(phrases: tuple[str, ...], lowered: str) -> tuple[str, ...]:
    """The phrases whose words all stand in a text: no others are worth a pattern."""
    return tuple(one for one in phrases if all(word.removesuffix("*") in lowered for word in one.split()))


def _holds(knowledge: Knowledge, part: TextPart, pattern: re.Pattern[str], said: re.Match[str]) -> bool:
    """The words belong to a finding already, which is called so."""
    if part.kind != kinds.FINDING or not part.sure or part.start >= said.end() or said.start() >= part.end:
        return False
    finding = knowledge.findings.get(part.id)
    return finding is None or any(pattern.search(name) for name in (finding.name, *finding.aliases))
