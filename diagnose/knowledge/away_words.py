"""What technicians say of tests by taking away: "knock gone with cylinder 3 cut out", "starts with the sensor
unplugged", "still there with the belt off".

Such a text has three parts: what is looked at (or nothing), whether it is gone, and how what is out. The last is
searched among the removable parts, the first only among what is watched with that part out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

from diagnose.knowledge.away import GONE, STILL_THERE, away_id, watched
from diagnose.knowledge.lookup import CLEAR_MARGIN, find
from diagnose.knowledge.records import Knowledge
from diagnose.knowledge.removable import Removable
from diagnose.words.likeness import Phrase, PhraseIndex, build_index, search
from diagnose.words.normal import normalise

ENOUGH = 75.0
"""Score above which a part that is out is meant."""
LIKE = 40
"""How many findings that the first words may mean are looked through for one that is watched."""

_WELL = "(?: (?:well|fine|right|good|better|ok|okay|clean|smooth|normal|again|free|up))*"
_GONE_WORDS = (
    "gone|goes(?: away)?|went(?: away)?|disappear(?:s|ed)|stop(?:s|ped)|quits?|clear(?:s|ed)|cured|"
    "vanish(?:es|ed)|leaves|left"
)
_THERE_WORDS = (
    "still(?: there| on| the same)?|stay(?:s|ed)|remain(?:s|ed)|unchanged|(?:just )?the same|same|no change|"
    "no different|no better|not gone"
)
_WORKS_WORDS = {
    "start(?:s|ed)?|fire[sd]?": ("start",),
    "crank(?:s|ed)?|turn(?:s|ed)?": ("crank", "turn", "bar"),
    "quiet|calm": ("noise", "knock", "rattle", "squeal", "hum", "whine"),
    "runs?|ran|pull(?:s|ed)?|idle[sd]?|work(?:s|ed)?|comes? back|smooth|fine": (),
}
"""What the engine does, and words of which the name of a finding has one that is gone so; none: any finding."""
_BE = "(?:(?:is|are|was|were|has|had) )?"
_OUT = "(?:with|when|while|without|on|off|from|after|by|once) (?P<out>.+)"
_FORMS = (
    (
        re.compile(f"(?:(?P<what>.+?),? )?{_BE}(?:{_THERE_WORDS}),? (?:even )?{_OUT}", re.IGNORECASE),
        STILL_THERE,
    ),
    (re.compile(f"(?:(?P<what>.+?),? )?{_BE}(?:{_GONE_WORDS}){_WELL} {_OUT}", re.IGNORECASE), GONE),
    (re.compile(f"(?:it |engine )?(?P<works>{'|'.join(_WORKS_WORDS)}){_WELL},? {_OUT}", re.IGNORECASE), GONE),
)
_NOTHING = frozenset({"", "it", "that", "noise", "the noise", "fault", "the fault", "problem", "the problem"})


@dataclass(frozen=True, slots=True)
class Said:
    """A test by taking away: the ids that may be meant, the likeliest first, and what was told of it."""

    ids: tuple[str, ...]
    state: str


def said(
    knowledge: Knowledge,
    text: str,
    there: Collection[str] = (),
    fits: Callable[[Removable], bool] = lambda part: True,
) -> Said | None:
    """What a text says of a test by taking away; None where it says nothing of that kind. `there`: the findings
    that are there in the case, which "it" can mean; `fits`: whether the machine has the part."""
    if not knowledge.removable:
        return None
    for form, state in _FORMS:
        match = form.fullmatch(" ".join(text.split()))
        parts = [part for part in _parts(knowledge, match["out"]) if fits(part)] if match else []
        if match and parts:
            words = match.groupdict()
            ids = _tests(knowledge, parts, (words.get("what") or "").lower(), there, words.get("works") or "")
            return Said(ids, state) if ids else None
    return None


def _parts(knowledge: Knowledge, text: str) -> list[Removable]:
    """The parts that may be meant: one that is clear, or all that come close to the best."""
    found = search(_index(knowledge), text)
    close = [one for one in found if one.score >= max(ENOUGH, found[0].score - CLEAR_MARGIN)]
    return [knowledge.removable[one.id] for one in close]


def _tests(
    knowledge: Knowledge, parts: Sequence[Removable], what: str, there: Collection[str], works: str
) -> tuple[str, ...]:
    """The tests that may be meant: of what is there, where the words allow it, else of all that is watched."""
    named = {
        part.id: [id for id in _named(knowledge, part, what) if _works(knowledge, id, works)]
        for part in parts
    }
    seen = [away_id(id, part) for part, ids in named.items() for id in ids if id in there]
    return tuple(seen or (away_id(id, part) for part, ids in named.items() for id in ids))


def _works(knowledge: Knowledge, id: str, said: str) -> bool:
    """Whether a finding is gone where the engine does this."""
    names = next(
        (names for form, names in _WORKS_WORDS.items() if re.fullmatch(form, said, re.IGNORECASE)), ()
    )
    return not names or not set(normalise(knowledge.findings[id].name)).isdisjoint(
        w for n in names for w in normalise(n)
    )


def _named(knowledge: Knowledge, part: Removable, what: str) -> tuple[str, ...]:
    """What the words mean, of all that is watched with the part out."""
    known = watched(knowledge, part)
    if what in _NOTHING:
        return known
    alike = [match for match in find(knowledge, what, LIKE) if match.id in known]
    if len(alike) > 1 and alike[0].score - alike[1].score >= CLEAR_MARGIN:
        alike = alike[:1]
    return tuple(match.id for match in alike)


_latest: tuple[Knowledge, PhraseIndex] | None = None


def _index(knowledge: Knowledge) -> PhraseIndex:
    """The index of the removable parts, kept for the knowledge last used."""
    global _latest
    if _latest is None or _latest[0] is not knowledge:
        _latest = (knowledge, build_index(tuple(_phrases(knowledge))))
    return _latest[1]


def _phrases(knowledge: Knowledge) -> Iterator[Phrase]:
    for part in knowledge.removable.values():
        ways = (f"{part.name} {way}" for way in part.ways)
        for text in dict.fromkeys([*ways, *part.aliases]):
            yield Phrase(part.id, "removable", text, normalise(text))
