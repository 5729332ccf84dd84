"""What was seen behind the work: pulled the metering valve, sticky; head off chamber caked black.

Inspections are told so. Getting at a part is history, what is then said of the part is a finding. What was cured by
the work is none: "replaced the leaking injector" says nothing of today.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from diagnose.words.grammar import CIRCUMSTANCES, PACKED, SIGNS, WANTED
from diagnose.words.polarity import DENIED, THERE, Token
from diagnose.words.spans import Span
from diagnose.words.tokens import clauses_of

_PART = r"(?:[\w-]+ ){1,3}?"
_GOT_AT = re.compile(
    r"\s*(?:and |then |we |i |they |he |so )*(?:had |have |got )?"
    rf"(?:pulled|took|taken|drained|opened|stripped|removed|dropped|lifted|split|cut open|(?={_PART}off ))"
    r"(?: (?:the|a|it|its|both|all|out|off|apart|down|up|open|that|number|no\.?|\d+))*\s+",
    re.IGNORECASE,
)
"""The head of a clause that tells how one got at a part."""
_NEW = re.compile(
    r"\s*(?:the |a |its |my |our )?(?:brand )?(?:new|fresh|another|third|second)\s+", re.IGNORECASE
)
"""What is put in is no fault, but it may have one."""
_WHY = re.compile(
    r"\b(?:because|cos|due to|for|that|which|as (?:it|they)|to (?:see|check|find|fix|cure|clear|stop|free)|after|"
    r"with|fixed|cured|sorted|replaced|renewed|changed|cleaned|fitted|refitted|installed|put|machined|repaired|"
    r"welded|same|still|gone|was done)\b",
    re.IGNORECASE,
)
"""Why it was done, or that it was cured: nothing of today."""
_FOUND = re.compile(r"\b(?:got|found|had|full of|showed|shows)\s", re.IGNORECASE)
"""What was found in it needs to be no fault in itself: the air tank got antifreeze."""
_FAULTY = PACKED | SIGNS


def seen_from(words: str) -> int | None:
    """Where in a clause of work what was seen begins, the part with it; None where nothing was seen."""
    for head in (_GOT_AT, _NEW):
        if (lead := head.match(words)) and not _WHY.search(words, lead.end()) and _tells(words[lead.end() :]):
            return lead.end()
    return None


def _tells(rest: str) -> bool:
    """A part is named, and behind it a fault, or something that was found in it."""
    tokens = [
        token for clause in clauses_of(rest) for token in clause.tokens if token.word not in CIRCUMSTANCES
    ]
    found = _FOUND.search(rest)
    faulty = any(map(_fault, tokens[1:])) and not any(map(_fault, tokens[:1]))
    return faulty or any(map(_lacks, tokens)) or bool(found and _both_sides(tokens, found))


def _fault(token: Token) -> bool:
    return token.word in _FAULTY and token.sign == THERE


def _lacks(token: Token) -> bool:
    """What the part should do, and does not: new starter won't crank."""
    return token.word in WANTED and token.sign == DENIED


def _both_sides(tokens: Sequence[Token], found: re.Match[str]) -> bool:
    return bool(tokens) and tokens[0].end <= found.start() and tokens[-1].start >= found.end()


def opened_before(text: str, past: Sequence[Span], at: int) -> str:
    """The part that one got at right before, with nothing but a comma between: pulled the valve, sticky."""
    for span in past:
        lead = _GOT_AT.match(text[span.start : span.end])
        if lead and span.end <= at and text[span.end : at].strip() == ",":
            return text[span.start + lead.end() : span.end]
    return ""
