"""How sure the speaker was: "might be" is unsure, "I think" is likely."""

from __future__ import annotations

import re

_UNSURE = re.compile(
    r"\b(?:might|maybe|may (?:be|have|well|just)|could be|perhaps|possibl[ey]|not sure|no idea|wonder|guess|doubt|"
    r"suspect(?:ed|s)?|hard to say)\b|\?",
    re.IGNORECASE,
)
_LIKELY = re.compile(
    r"\b(?:i think|think its|i reckon|reckon|probabl[ey]|prob|seems?|looks like|sounds like|"
    r"feels like|apparently|as far as|"
    r"that i can see|pretty sure|i suppose|supposedly|a bit|a little|slight(?:ly)?|sort of|"
    r"kind of|kinda|wee bit|likely)\b",
    re.IGNORECASE,
)


def confidence_in(clause: str) -> str:
    """`sure`, `likely` or `unsure`, by the words of a clause."""
    if _UNSURE.search(clause):
        return "unsure"
    return "likely" if _LIKELY.search(clause) else "sure"


def supposes(clause: str) -> bool:
    """The clause supposes a cause ("could be the mounts", "turbo perhaps?") and tells nothing that was seen."""
    return bool(_UNSURE.search(clause))
