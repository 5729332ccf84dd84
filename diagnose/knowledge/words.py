"""From what a technician types to what the knowledge holds: slang, misspellings, fragments -> ids.

Phrases (names, aliases, ids) are cut into plain words (`slang`). Each typed word is compared with the words
of all phrases (rapidfuzz; trade words that mean the same: `KIN`), rare words weigh more (inverse document
frequency, Spärck Jones 1972), and a phrase scores by how much of the typed text it explains and how much of it
was typed. Word order does not matter, except around "in" and "smell": oil in coolant is not coolant in oil.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import log

from rapidfuzz import fuzz, process

from diagnose.knowledge.records import Cause, Finding, Knowledge
from diagnose.knowledge.slang import KIN, LACK, OPPOSITES, normalise, without_negation

EXACT_SCORE = 99.0  # the very words of a name or alias; 100 where even the writing is the same
CLEAR_SCORE = 90.0  # a clear winner that is not exact needs this score ...
CLEAR_MARGIN = 7.0  # ... and this lead over the next one;
CLEAR_SHARE = 0.75  # a finding, which becomes evidence, needs this share of its words as well
WEAK_SCORE = 45.0  # below this nothing is worth showing ...
FRAGMENT_SCORE = 42.0  # ... but of findings, which are shown to choose from, a little more is
CLOSE_RANGE = 20.0  # how far below the best a match is still worth asking about

BEST_SCORE = 98.0  # of what is not exact
EXPLAINED_POINTS = 70.0  # for a phrase that explains all the typed words ...
COVERED_POINTS = 28.0  # ... and all of whose words were typed
UNKNOWN_WEIGHT = 1.5  # of a typed word that no phrase holds (it may be "again" or "today")
LACK_LIKENESS = 0.6  # of "no" and "low", "weak" and "dead", ...
KIN_LIKENESS = 0.8  # of trade words that mean the same: stuck and seized
MISSPELT_CUTOFF = 78  # how like (0 to 100) a word must be to one that the knowledge does not hold ...
KNOWN_CUTOFF = 84  # ... and to one that it holds, which is hardly a misspelling: block is not black
BEGUN_LIKENESS = 0.85  # of a word and its beginning: therm and thermostat
NUMBER_WEIGHT = 0.7  # of a number: "10 psi at idle" is about pressure
SYMPTOM_POINTS = 2.0  # what is seen or heard is typed more often than what a check finds

SECTIONS = ("causes", "checks", "repairs", "access", "facts")


@dataclass(frozen=True, slots=True)
class Match:
    """One thing of the knowledge that the text may mean.

    `score` runs from 0 to 100 (100 = its very id, name or alias); `phrase` is the id, name or alias that
    matched; `kind` is the finding's kind, or the section (`causes`, `access`, ...) of other things.
    """

    id: str
    score: float
    phrase: str
    kind: str


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


# ---- the index: all phrases of some sections, and the words that they hold ----


@dataclass(frozen=True, slots=True)
class Phrase:
    """One way to name a thing; `words` is `normalise(text)`."""

    id: str
    kind: str
    text: str
    words: tuple[str, ...]
    whole: bool = False  # all names and aliases of the thing together: a fallback for fragments


@dataclass(frozen=True, slots=True)
class Index:
    """Phrases, and the words that they hold; made by `build_index`."""

    phrases: tuple[Phrase, ...]
    holders: Mapping[str, tuple[int, ...]]  # word -> the phrases that hold it
    rarity: Mapping[str, float]  # word -> weight; also the vocabulary
    weights: tuple[float, ...]  # of all words of each phrase


_latest: tuple[Knowledge, dict[tuple[str, ...], Index]] | None = None


def _index(knowledge: Knowledge, sections: tuple[str, ...]) -> Index:
    """The index, kept for the knowledge last used (by identity: records are frozen)."""
    global _latest
    if _latest is None or _latest[0] is not knowledge:
        _latest = (knowledge, {})
    indexes = _latest[1]
    if sections not in indexes:
        indexes[sections] = build_index(tuple(_phrases(knowledge, sections)))
    return indexes[sections]


def _phrases(knowledge: Knowledge, sections: tuple[str, ...]) -> Iterator[Phrase]:
    for section in sections:
        for thing in getattr(knowledge, section).values():
            kind = thing.kind if isinstance(thing, Finding) else section
            yield from _phrases_of(thing.id, kind, (thing.name, thing.id, *_other_names(thing)))


def _phrases_of(key: str, kind: str, texts: tuple[str, ...]) -> Iterator[Phrase]:
    phrases = [Phrase(key, kind, text, normalise(text)) for text in dict.fromkeys(texts)]
    yield from phrases
    every = tuple(dict.fromkeys(word for phrase in phrases for word in phrase.words))
    yield Phrase(key, kind, texts[0], every, whole=True)


def _other_names(thing: object) -> tuple[str, ...]:
    if isinstance(thing, Finding):
        return thing.aliases
    return (thing.part,) if isinstance(thing, Cause) and thing.part else ()


def build_index(phrases: tuple[Phrase, ...]) -> Index:
    """Phrases made ready for `search`."""
    holders: dict[str, list[int]] = {}
    for i, phrase in enumerate(phrases):
        for word in dict.fromkeys(phrase.words):
            holders.setdefault(word, []).append(i)
    things = len({phrase.id for phrase in phrases})
    rarity = {word: log(1 + things / len({phrases[i].id for i in where})) for word, where in holders.items()}
    weights = tuple(sum(rarity[word] for word in dict.fromkeys(phrase.words)) for phrase in phrases)
    return Index(phrases, {word: tuple(where) for word, where in holders.items()}, rarity, weights)


# ---- the search ----


@dataclass(frozen=True, slots=True)
class _Typed:
    """What was typed, as plain words (`all`) and each once; for each of these the weight and the words of the
    knowledge like it (0 to 1)."""

    text: str
    all: tuple[str, ...]
    words: tuple[str, ...]
    weights: tuple[float, ...]
    alike: tuple[Mapping[str, float], ...]


def search(index: Index, text: str, weak: float = WEAK_SCORE) -> tuple[Match, ...]:
    """All things above the weak score, best first, each with its best phrase."""
    best: dict[str, tuple[float, Phrase]] = {}
    for score, phrase in _scored(index, _typed(index, text), weak):
        if score > max(weak, best.get(phrase.id, (0.0, phrase))[0]):
            best[phrase.id] = (score, phrase)
    ranked = sorted(best.values(), key=lambda pair: -pair[0])
    return tuple(Match(phrase.id, round(score, 1), phrase.text, phrase.kind) for score, phrase in ranked)


def _typed(index: Index, text: str) -> _Typed:
    every = normalise(text)
    words = tuple(dict.fromkeys(every))
    alike = [_similar(index, word) for word in words]
    for i, pair in enumerate(pairwise(words)):
        if "".join(pair) in index.rarity:  # typed in two, written in one: over heat, overheat
            alike[i]["".join(pair)] = alike[i + 1]["".join(pair)] = 1.0
    weights = tuple(
        NUMBER_WEIGHT if word.isdigit() else index.rarity.get(word, UNKNOWN_WEIGHT) for word in words
    )
    return _Typed(" ".join(text.lower().split()), every, words, weights, tuple(alike))


def _scored(index: Index, typed: _Typed, weak: float) -> Iterator[tuple[float, Phrase]]:
    """Every phrase that holds a word like a typed one, with its score."""
    for i in _candidates(index, typed, weak):
        phrase = index.phrases[i]
        if typed.words == phrase.words and not phrase.whole:
            yield 100.0 if typed.text == phrase.text.lower() else EXACT_SCORE, phrase
        else:
            points = SYMPTOM_POINTS if phrase.kind == "symptom" else 0.0
            yield min(_score(index, typed, phrase, index.weights[i]) + points, BEST_SCORE), phrase


def _candidates(index: Index, typed: _Typed, weak: float) -> Iterator[int]:
    """Phrases that hold enough of the typed words to come above the weak score."""
    reach: dict[int, float] = {}
    for weight, alike in zip(typed.weights, typed.alike, strict=True):
        for i in set[int]().union(*(index.holders[word] for word in alike)):
            reach[i] = reach.get(i, 0.0) + weight
    enough = sum(typed.weights) * (weak - COVERED_POINTS - SYMPTOM_POINTS) / EXPLAINED_POINTS
    return (i for i, weight in reach.items() if weight >= enough)


def _similar(index: Index, word: str) -> dict[str, float]:
    """Words of the knowledge like this one. Short words must be the same or kin: an oil is not a coil."""
    if word in LACK:
        return {other: 1.0 if other == word else LACK_LIKENESS for other in LACK & index.rarity.keys()}
    kin = {other: KIN_LIKENESS for other in KIN.get(word, ()) if other in index.rarity}
    same = {word: 1.0} if word in index.rarity else {}
    if len(word) < 4:
        return {**kin, **same}
    cutoff = KNOWN_CUTOFF if same else MISSPELT_CUTOFF
    near = process.extract(word, index.rarity.keys(), scorer=fuzz.ratio, score_cutoff=cutoff, limit=8)
    found = {other: score / 100 for other, score, _ in near if len(other) > 3}
    begun = {other: BEGUN_LIKENESS for other in index.rarity if other.startswith(word)}
    return {**found, **begun, **kin, **same}


def _score(index: Index, typed: _Typed, phrase: Phrase, phrase_weight: float) -> float:
    """At most 98: how much the phrase explains of the typed text, and how much of the phrase was typed."""
    explained = 0.0
    covered: dict[str, float] = {}
    for weight, alike in zip(typed.weights, typed.alike, strict=True):
        near = [(likeness, word) for word, likeness in alike.items() if word in phrase.words]
        if near:
            likeness, word = max(near)
            explained += likeness * weight
            covered[word] = max(covered.get(word, 0.0), likeness)
    score = EXPLAINED_POINTS * explained / sum(typed.weights)
    if phrase.whole:
        return score
    cover = sum(index.rarity[word] * likeness for word, likeness in covered.items()) / phrase_weight
    damping = _damping(typed.words, phrase.words) * (0.75 if _denied(typed.all, phrase.words) else 1.0)
    return (score + COVERED_POINTS * cover) * damping


def _damping(words: tuple[str, ...], others: tuple[str, ...]) -> float:
    """Below 1 where the words are alike but the sense is not.

    "No" on one side only, "in" turned round, hot where cold was typed, or a stored code where only its condition
    was.
    """
    sense = 1.0 if ("no" in words) == ("no" in others) or _both_lack(words, others) else 0.75
    code = 0.9 if "code" in others and "code" not in words else 1.0
    reverse = 0.85 if _says_the_opposite(words, others) else 1.0
    return sense * code * reverse * (0.6 if _turned_round(words, others) else 1.0)


def _denied(words: tuple[str, ...], others: tuple[str, ...]) -> bool:
    """One side says "no" right before a word that the other says without: no crank and no click, clicks but no
    crank."""
    return any(
        word in plain and word not in _after_no(plain, 2)
        for said, plain in ((words, others), (others, words))
        for word in _after_no(said, 1)
    )


def _after_no(words: tuple[str, ...], reach: int) -> set[str]:
    return {word for i, no in enumerate(words) if no == "no" for word in words[i + 1 : i + 1 + reach]}


def _says_the_opposite(words: tuple[str, ...], others: tuple[str, ...]) -> bool:
    """A phrase about both ("good cold, low hot") is still about more than was typed."""
    return any(
        opposite in others and opposite not in words for word in words for opposite in OPPOSITES.get(word, ())
    )


def _both_lack(words: tuple[str, ...], others: tuple[str, ...]) -> bool:
    return not LACK.isdisjoint(words) and not LACK.isdisjoint(others)


def _turned_round(words: tuple[str, ...], others: tuple[str, ...]) -> bool:
    """Oil in coolant against coolant in oil; the exhaust smells of coolant against the reverse."""
    return any(
        _crossed(words, others, pivot) for pivot in ("in", "smell") if pivot in words and pivot in others
    )


def _crossed(words: tuple[str, ...], others: tuple[str, ...], pivot: str) -> bool:
    """More words stand on the other side of the pivot than on the same."""
    (left, right), (other_left, other_right) = _sides(words, pivot), _sides(others, pivot)
    return len(left & other_right) + len(right & other_left) > len(left & other_left) + len(
        right & other_right
    )


def _sides(words: tuple[str, ...], pivot: str) -> tuple[set[str], set[str]]:
    middle = words.index(pivot)
    return set(words[:middle]), set(words[middle + 1 :])
