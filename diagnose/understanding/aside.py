"""What is said only by the way: what somebody asks about, a likeness, a comparison that is denied, a limit not met.

None of it says that something is there or that it is not, though its words name findings: "see if the exhaust
leaks", "surging like it's breathing", "doesn't smoke more when cold" (it may smoke all day), "never went over 88".
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import diagnose.understanding.parts as kinds
from diagnose.understanding.parts import TextPart
from diagnose.words.spans import Span

_ASKED = re.compile(
    r"\b(?:see|check|know|tell (?:me|us)|wonder\w*|find out|look|ask\w*) (?:if|whether)\b[^.;,!?\n]*",
    re.IGNORECASE,
)
_LIKENED = re.compile(
    r"(?<!sounds)(?<!sound)(?<!feels)(?<!looks)(?<!acts)(?<!runs)(?<!seems)(?<!smells)(?<!more)(?<!behaves)"
    r" like (?:it is|it'?s|she'?s|he'?s|they'?re|someone'?s?|somebody'?s?|something'?s?)(?: \w+){0,2}? \w+ing\b",
    re.IGNORECASE,
)
"""What only looks or sounds like something is told in these words, too: of that nothing is passed over."""
_COMPARED = re.compile(
    r"\b(?:(?:doesn'?t|didn'?t|isn'?t|wasn'?t|aren'?t|won'?t|don'?t|not|never)\s+(?:\w+\s+){0,3}?"
    r"(?:(?<!any )more|less|worse|better|different(?:ly)?|louder|quieter|harder|faster|slower)|"
    r"no (?:worse|different|louder|quieter|harder))\s+"
    r"(?:when|if|at|under|hot|cold|than|on|with|uphill|in|once)\b[^.;,!?\n]*",
    re.IGNORECASE,
)
_NO_MORE_THAN = re.compile(
    r"(?:(?<=^)|(?<=[.,;]))[^.,;]*\bno (?:more|worse|hotter|louder) than\b[^.;,!?\n]*", re.IGNORECASE
)
_NEVER_MET = re.compile(
    r"\bnever (?:went|goes|gets?|got|been|rose|climbed|came|dropped|fell) (?:over|above|past|below|under|up to)\s+"
    r"\d[\d.,]*(?!\d|\s*(?:mph|km|kph|rpm|revs?|gear))",
    re.IGNORECASE,
)


def asked_about(text: str) -> Iterator[TextPart]:
    """What somebody wants looked at: no observation, but a hint that is kept."""
    for found in _ASKED.finditer(text):
        yield TextPart(kinds.GUESS, *found.span(), found[0].strip(), confidence="unsure")


def said_aside(text: str) -> Iterator[Span]:
    """Likenesses, comparisons that are denied and limits never met: kept word for word, nothing made of them."""
    for pattern in (_LIKENED, _COMPARED, _NO_MORE_THAN, _NEVER_MET):
        for found in pattern.finditer(text):
            lead = len(found[0]) - len(found[0].lstrip())
            yield Span(found.start() + lead, found.end())
