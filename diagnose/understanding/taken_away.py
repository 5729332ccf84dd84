"""What a text tells of tests by taking away: smoke stops with cylinder 2 cut out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

import diagnose.understanding.parts as kinds
from diagnose.knowledge.away_words import said
from diagnose.knowledge.records import Knowledge
from diagnose.understanding.history import clauses
from diagnose.understanding.parts import Alternative, Part, Span


def taken_away(knowledge: Knowledge, text: str) -> Iterator[Part]:
    """What a finding did with a part out: smoke stops with cylinder 2 cut out; belt off, noise gone."""
    listed = clauses(text)
    pairs = [pair for pair in pairwise(listed) if _of_one_test(text, *pair)]
    for first, second in pairs:
        start, end = first.start, second.end
        found = said(knowledge, f"{text[second.start : end]} with {text[start : first.end]}")
        if found and len(found.ids) == 1:
            yield Part(kinds.FINDING, start, end, text[start:end], found.ids[0], found.state)
        else:  # whatever it was of, it is no finding that went by itself
            yield Part(kinds.HISTORY, start, end, text[start:end])
    joined = {clause for pair in pairs for clause in pair}
    for clause in (one for one in listed if one not in joined):
        words = _WITH.sub("with", text[clause.start : clause.end])
        found = said(knowledge, re.sub(r"^(?:yes|answer\b[^:]*)[ :,]+", "", words))
        if found and len(found.ids) == 1:
            yield Part(
                kinds.FINDING,
                clause.start,
                clause.end,
                text[clause.start : clause.end],
                found.ids[0],
                found.state,
            )
        elif found and len(found.ids) <= MOST_TESTS:
            ways = tuple(Alternative(id, found.state, 1 / len(found.ids)) for id in found.ids)
            yield Part(
                kinds.FINDING,
                clause.start,
                clause.end,
                text[clause.start : clause.end],
                sure=False,
                alternatives=ways,
            )


_OUT = re.compile(
    r"(?:with )?(?:the )?(?:[\w-]+ ){1,3}(?:is |was |are )?(?:off|out|unplugged|disconnected|removed|"
    r"bypassed|blanked|cut out)$",
    re.IGNORECASE,
)
_WENT = re.compile(
    r"(?:[\w']+ ){1,3}(?:gone|stops|stopped|goes away|went away|is quiet|still there|the same|no change|cleared)$",
    re.IGNORECASE,
)


def _of_one_test(text: str, first: Span, second: Span) -> bool:
    """A part out, and behind the comma what went with it."""
    told = _OUT.fullmatch(text[first.start : first.end]) and _WENT.fullmatch(text[second.start : second.end])
    return bool(told) and text[first.end : second.start].strip() == ","


_WITH = re.compile(r"\bw(?:/|(?= ))", re.IGNORECASE)
MOST_TESTS = 3  # findings that a part taken out may be told of; of more it says nothing
