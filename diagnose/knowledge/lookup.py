"""From what a technician types to what the knowledge holds: slang, misspellings, fragments -> ids.

Phrases (names, aliases, ids) are cut into plain words (`normal`) and searched (`likeness`). Word order does not
matter, except around "in", "smell" and "no" (`sense`): oil in coolant is not coolant in oil.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.caching import kept, stamp
from diagnose.knowledge.records import Cause, Finding, Knowledge
from diagnose.words.likeness import (
    EXACT_SCORE,
    Match,
    Phrase,
    PhraseIndex,
    build_index,
    frozen,
    search,
    thawed,
)
from diagnose.words.normal import LACK, normalise, without_negation

CLEAR_SCORE = 90.0  # a clear winner that is not exact needs this score ...
CLEAR_MARGIN = 7.0  # ... and this lead over the next one;
CLEAR_SHARE = 0.75  # a finding, which becomes evidence, needs this share of its words as well
FRAGMENT_SCORE = 42.0  # ... but of findings, which are shown to choose from, a little more is
CLOSE_RANGE = 20.0  # how far below the best a match is still worth asking about

SECTIONS = ("causes", "checks", "repairs", "access", "facts")


@dataclass(frozen=True, slots=True)
class Resolution:
    """What a text means: `clear` is the one thing meant; else `close` holds those to ask about (or nothing).

    `negated`: the text began with "no", "not" or the like, and seems to say that the thing was *not* found;
    `text` is then the text without that word. It is a hint, to be confirmed.
    """

    text: str
    clear: Match | None
    close: tuple[Match, ...]
    negated: bool = False


def find(knowledge: Knowledge, text: str, limit: int = 5) -> tuple[Match, ...]:
    """The findings that a text may mean, best first, at most `limit`; empty when nothing comes near."""
    return search(_index(knowledge, ("findings",)), text, FRAGMENT_SCORE)[:limit]


def find_any(
    knowledge: Knowledge, text: str, sections: Iterable[str] = SECTIONS, limit: int = 5
) -> tuple[Match, ...]:
    """Causes, checks, repairs, access states or machine facts (choose by `sections`) that a text may mean."""
    return search(_index(knowledge, tuple(sections)), text)[:limit]


def resolve(knowledge: Knowledge, text: str) -> Resolution:
    """The one finding that a text means, or those to ask about; never a silent guess.

    Text that starts with a negation is first tried as it stands ("no start" is a finding of its own); only
    when no negative name or alias fits is the negation taken off, and `negated` set.
    """
    if text in knowledge.findings:
        own = Match(text, 100.0, text, knowledge.findings[text].kind)
        return Resolution(text, own, (own,))
    index = _index(knowledge, ("findings",))
    as_typed = search(index, text, FRAGMENT_SCORE)
    rest = without_negation(text)
    stripped = search(index, rest, FRAGMENT_SCORE) if rest else ()
    if rest is None or not stripped or not _can_be_absent(stripped[0], rest) or _own(as_typed, stripped):
        return _resolution(text, as_typed, CLEAR_SHARE)
    possible = tuple(match for match in stripped if _can_be_absent(match, rest))
    return _resolution(rest, possible, CLEAR_SHARE, negated=True)


def resolve_any(knowledge: Knowledge, text: str, sections: Iterable[str] = SECTIONS) -> Resolution:
    """As `resolve`, for causes, checks, repairs, access states or machine facts; without negation."""
    return _resolution(text, search(_index(knowledge, tuple(sections)), text))


def _own(as_typed: tuple[Match, ...], stripped: tuple[Match, ...]) -> bool:
    """The negative text fits a name or alias that itself says "no" or "low" at least as well."""
    return bool(as_typed) and _names_lack(as_typed[0].phrase) and as_typed[0].score >= stripped[0].score


def _can_be_absent(match: Match, text: str) -> bool:
    """Whether "no ..." can say that this was not found: "no pressure" must not become "low pressure: no"."""
    return match.kind != "reading" and (not _names_lack(match.phrase) or _names_lack(text))


def _names_lack(text: str) -> bool:
    return not LACK.isdisjoint(normalise(text))


def _resolution(
    text: str, matches: tuple[Match, ...], share: float = 0.0, negated: bool = False
) -> Resolution:
    if matches and is_clear(matches) and _share(text, matches[0]) >= share:
        return Resolution(text, matches[0], matches[:1], negated)
    close = tuple(match for match in matches[:5] if match.score >= matches[0].score - CLOSE_RANGE)
    return Resolution(text, None, close, negated)


def _share(text: str, match: Match) -> float:
    """How long the text is, in words, against the phrase that it matched: what was not typed is not meant."""
    if match.score >= EXACT_SCORE:
        return 1.0
    return len(set(normalise(text))) / len(set(normalise(match.phrase)))


def is_clear(matches: tuple[Match, ...], enough: float = CLEAR_SCORE) -> bool:
    """The best of some matches stands out: exact and alone, or a high score (`enough`) with a margin."""
    best = matches[0].score
    lead = best - matches[1].score if len(matches) > 1 else best
    return lead > 0 if best >= EXACT_SCORE else best >= enough and lead >= CLEAR_MARGIN


_latest: tuple[Knowledge, dict[tuple[str, ...], PhraseIndex]] | None = None


def _index(knowledge: Knowledge, sections: tuple[str, ...]) -> PhraseIndex:
    """The index, kept for the knowledge last used (by identity: records are frozen)."""
    global _latest
    if _latest is None or _latest[0] is not knowledge:
        _latest = (knowledge, {})
    indexes = _latest[1]
    if sections not in indexes:
        key = _key(knowledge, sections)
        indexes[sections] = thawed(kept("find", key, lambda: _frozen(knowledge, sections)))
    return indexes[sections]


def _frozen(knowledge: Knowledge, sections: tuple[str, ...]) -> dict[str, Any]:
    return frozen(build_index(tuple(_phrases(knowledge, sections))))


def _key(knowledge: Knowledge, sections: tuple[str, ...]) -> str:
    """Changes with every name and alias, and with the program that cuts them into words."""
    here = Path(__file__).parent
    names = hashlib.sha256(f"{sections} {stamp(here, here.parent / 'words')}".encode())
    for section in sections:
        for thing in getattr(knowledge, section).values():
            names.update(f"{thing.id}|{thing.name}|{'|'.join(_other_names(thing))}\n".encode())
    if "findings" in sections:
        for part in knowledge.removable.values():
            names.update("".join(f"{own.id}|{own.name}|{own.aliases}\n" for own in part.told).encode())
    return names.hexdigest()[:32]


def _phrases(knowledge: Knowledge, sections: tuple[str, ...]) -> Iterator[Phrase]:
    for section in sections:
        for thing in getattr(knowledge, section).values():
            kind = thing.kind if isinstance(thing, Finding) else section
            yield from _phrases_of(thing.id, kind, (thing.name, thing.id, *_other_names(thing)))
    if "findings" in sections:
        for part in knowledge.removable.values():
            for own in part.told:
                yield from _phrases_of(own.id, "inspection", (own.name, own.id, *own.aliases))


def _phrases_of(key: str, kind: str, texts: tuple[str, ...]) -> Iterator[Phrase]:
    phrases = [Phrase(key, kind, text, normalise(text)) for text in dict.fromkeys(texts)]
    yield from phrases
    every = tuple(dict.fromkeys(word for phrase in phrases for word in phrase.words))
    yield Phrase(key, kind, texts[0], every, whole=True)


def _other_names(thing: object) -> tuple[str, ...]:
    formerly: tuple[str, ...] = getattr(thing, "formerly", ())
    if isinstance(thing, Finding):
        return *thing.aliases, *formerly
    return (thing.part, *formerly) if isinstance(thing, Cause) and thing.part else formerly
