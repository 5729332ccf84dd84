"""What a text tells of tests by taking away: smoke stops with cylinder 2 cut out; cut out 1 2 3 4, 3 no change."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

import diagnose.understanding.parts as kinds
from diagnose.knowledge.away_words import said
from diagnose.knowledge.lookup import resolve
from diagnose.knowledge.records import Knowledge
from diagnose.understanding.history_in_text import clauses
from diagnose.understanding.parts import Alternative, TextPart
from diagnose.understanding.place import NO_VALUE
from diagnose.understanding.signed_likeness import PRESENT
from diagnose.words.spans import Span, masked


def taken_away(knowledge: Knowledge, text: str) -> Iterator[TextPart]:
    """What a finding did with a part out: smoke stops with cylinder 2 cut out; belt off, noise gone."""
    cut = [*_cut_out(knowledge, text), *_not_by_itself(text)]
    yield from cut
    text = masked(text, [Span(part.start, part.end) for part in cut if part.kind != kinds.PLACE], ".")
    listed = clauses(text)
    pairs = [pair for pair in pairwise(listed) if _of_one_test(text, *pair)]
    for first, second in pairs:
        start, end = first.start, second.end
        found = said(knowledge, f"{text[second.start : end]} with {text[start : first.end]}")
        if found and len(found.ids) == 1:
            yield TextPart(kinds.FINDING, start, end, text[start:end], found.ids[0], found.state)
        else:  # whatever it was of, it is no finding that went by itself
            yield TextPart(kinds.HISTORY, start, end, text[start:end])
    joined = {clause for pair in pairs for clause in pair}
    for clause in (one for one in listed if one not in joined):
        words = _WITH.sub("with", text[clause.start : clause.end])
        found = said(knowledge, re.sub(r"^(?:yes|answer\b[^:]*)[ :,]+", "", words))
        if found and len(found.ids) == 1:
            yield TextPart(
                kinds.FINDING,
                clause.start,
                clause.end,
                text[clause.start : clause.end],
                found.ids[0],
                found.state,
            )
        elif not found and (out := _LOOSENED.search(text, clause.start, clause.end)):
            yield TextPart(kinds.HISTORY, *out.span(), out[0])
        elif found and len(found.ids) <= MOST_TESTS:
            ways = tuple(Alternative(id, found.state, 1 / len(found.ids)) for id in found.ids)
            yield TextPart(
                kinds.FINDING,
                clause.start,
                clause.end,
                text[clause.start : clause.end],
                sure=False,
                alternatives=ways,
            )


_LOOSENED = re.compile(
    r"\b(?:gone|goes away|went away|stop(?:s|ped)|disappear\w*|clear(?:s|ed)(?: up)?)\b"
    r"[^.;,]*?\b(?:(?:when|with|while|once|if)\b[^.;,]*\b(?:cracked(?: open)?|loosened|loose|slackened(?: off)?|"
    r"undone|backed off|pinched(?: off)?|clamped(?: off)?|unplugged|disconnected|blanked(?: off)?|bypassed|cut out|"
    r"killed|shorted out|isolated))\b",
    re.IGNORECASE,
)
"""A part loosened for a test has not come loose: goes away when the line of number 3 is cracked."""
_CYLINDERS = r"#?\d{1,2}(?:(?:\s*[,&/]\s*|\s+(?:and\s+)?)#?\d{1,2})*"
_CUT_OUT = re.compile(
    r"\b(?:cut(?:ting|s)?(?:[ -]out)?|kill(?:ing|ed)?|short(?:ing|ed)(?: out)?|disabl(?:ing|ed)|cut-?out test:?,?)"
    r"\s+"
    rf"(?:cyl\w*\.?\s|no\.?\s|number\s|injectors?\s|inj\s)?{_CYLINDERS}\b{NO_VALUE}[^.;!?\n]*",
    re.IGNORECASE,
)
_CHANGED = re.compile(
    rf"({_CYLINDERS})\s*[:=]?\s*(?:\w+\s){{0,2}}?(no (?:\w+ )?(?:change|drop|difference|effect)|nothing|"
    r"the same|same|"
    r"drop\w*|change\w*|stumble\w*|dead)\b(?! (?:on|at|with|for) (?:no\.? |number )?#?\d)",
    re.IGNORECASE,
)
_CHANGED_ON = re.compile(
    rf"\b(?P<what>no (?:\w+ )?(?:change|drop|difference|effect)|nothing|same|drop\w*|change\w*) (?:on|at|with|for) "
    rf"(?:no\.? |number )?(?P<which>{_CYLINDERS})",
    re.IGNORECASE,
)


def _cut_out(knowledge: Knowledge, text: str) -> Iterator[TextPart]:
    """What the speed did with each cylinder cut out: 1 2 3 all drop, 4 no change. The one without is told."""
    for test in _CUT_OUT.finditer(text):
        results: list[tuple[re.Match[str], int | str, str]]
        results = [(one, 1, one[2]) for one in _CHANGED.finditer(text, *test.span())]
        results += [(one, "which", one["what"]) for one in _CHANGED_ON.finditer(text, *test.span())]
        yield TextPart(kinds.HISTORY, *test.span(), test[0].strip())
        known = resolve(knowledge, _NO_CHANGE).clear
        for found, which, what in results:
            numbers = [f"cylinder {int(one)}" for one in re.findall(r"\d+", found[which])]
            if not _DROPS.match(what) and known and len(numbers) <= MOST_TESTS:
                yield TextPart(kinds.FINDING, *found.span(), found[0], known.id, PRESENT)
                yield TextPart(
                    kinds.PLACE, *found.span(which), found[which], numbers[0], also=tuple(numbers[1:])
                )


_STOPPED_WITH = re.compile(
    r"\b(?:(?:#?\w+) ){1,5}(?:loosened|cracked(?: open)?|slackened(?: off)?|unplugged|disconnected|blanked(?: off)?"
    r"|bypassed|cut out|killed|shorted out)(?:,? (?:and|then)|,) (?:the )?"
    r"(?:knock|noise|miss|misfire|smoke|tick|rattle|vibration|shak|hunt|surg|whine|squeal|rough)\w*(?: \w+)?"
    r" (?:gone|goes away|went away|stop(?:s|ped)|clear(?:s|ed)|disappear(?:s|ed)|quiet)\b",
    re.IGNORECASE,
)
"""Line loosened and the knock stopped."""
_CLOSED_OFF = re.compile(
    r"\bwith (?:the |a |its )?(?:[\w-]+ ){1,4}(?:blocked off|blanked(?: off)?|capped(?: off)?|clamped(?: off)?|"
    r"pinched off|deadheaded|plugged off)\b",
    re.IGNORECASE,
)
"""With the return blocked off the rail comes up."""


def _not_by_itself(text: str) -> Iterator[TextPart]:
    """What was done for a test: a sign that went with it has not gone by itself, what is closed is not found so."""
    for pattern in (_STOPPED_WITH, _CLOSED_OFF):
        for found in pattern.finditer(text):
            yield TextPart(kinds.HISTORY, *found.span(), found[0])


_DROPS = re.compile(r"drop|change|stumble", re.IGNORECASE)
_NO_CHANGE = "cut one out no change"
"""What the knowledge calls a cylinder that does nothing when it is cut out."""
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
