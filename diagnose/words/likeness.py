"""How like a typed text is to each of many phrases: the index of their words, and the search.

Each typed word is compared with the words of all phrases (rapidfuzz; trade words that mean the same: `KIN`), rare
words weigh more (inverse document frequency, Spärck Jones 1972), and a phrase scores by how much of the typed text
it explains and how much of it was typed. Word order counts only for the sense (`sense`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log
from typing import Any, overload

from rapidfuzz import fuzz, process

from diagnose.words.normal import KIN, LACK, normalise
from diagnose.words.sense import damping

EXACT_SCORE = 99.0  # the very words of a name or alias; 100 where even the writing is the same
WEAK_SCORE = 45.0  # below this nothing is worth showing ...
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
class Phrase:
    """One way to name a thing; `words` is `normalise(text)`."""

    id: str
    kind: str
    text: str
    words: tuple[str, ...]
    whole: bool = False  # all names and aliases of the thing together: a fallback for fragments


@dataclass(frozen=True, slots=True)
class PhraseIndex:
    """Phrases, and the words that they hold; made by `build_index`."""

    phrases: Sequence[Phrase]
    holders: Mapping[str, Sequence[int]]  # word -> the phrases that hold it
    rarity: Mapping[str, float]  # word -> weight; also the vocabulary
    weights: tuple[float, ...]  # of all words of each phrase


def build_index(phrases: tuple[Phrase, ...]) -> PhraseIndex:
    """Phrases made ready for `search`."""
    holders: dict[str, list[int]] = {}
    for i, phrase in enumerate(phrases):
        for word in dict.fromkeys(phrase.words):
            holders.setdefault(word, []).append(i)
    things = len({phrase.id for phrase in phrases})
    rarity = {word: log(1 + things / len({phrases[i].id for i in where})) for word, where in holders.items()}
    weights = tuple(sum(rarity[word] for word in dict.fromkeys(phrase.words)) for phrase in phrases)
    return PhraseIndex(phrases, {word: tuple(where) for word, where in holders.items()}, rarity, weights)


def frozen(index: PhraseIndex) -> dict[str, Any]:
    """The index as plain data."""
    rows = [[one.id, one.kind, one.text, " ".join(one.words), one.whole] for one in index.phrases]
    return {
        "phrases": rows,
        "holders": dict(index.holders),
        "rarity": dict(index.rarity),
        "weights": index.weights,
    }


def thawed(kept: Mapping[str, Any]) -> PhraseIndex:
    """The index from plain data."""
    return PhraseIndex(_Kept(kept["phrases"]), kept["holders"], kept["rarity"], tuple(kept["weights"]))


class _Kept(Sequence[Phrase]):
    """Phrases kept as plain rows: a search looks at few of them."""

    def __init__(self, rows: Sequence[tuple[str, str, str, str, bool]]):
        self._rows = rows

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, at: int) -> Phrase: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Phrase]: ...
    def __getitem__(self, at: int | slice) -> Phrase | Sequence[Phrase]:
        if isinstance(at, slice):
            return _Kept(self._rows[at])
        id, kind, text, words, whole = self._rows[at]
        return Phrase(id, kind, text, tuple(words.split()), whole)


@dataclass(frozen=True, slots=True)
class _Typed:
    """What was typed, as plain words (`all`) and each once; for each of these the weight and the words of the
    knowledge like it (0 to 1)."""

    text: str
    all: tuple[str, ...]
    words: tuple[str, ...]
    weights: tuple[float, ...]
    alike: tuple[Mapping[str, float], ...]


def search(index: PhraseIndex, text: str, weak: float = WEAK_SCORE) -> tuple[Match, ...]:
    """All things above the weak score, best first, each with its best phrase."""
    best: dict[str, tuple[float, Phrase]] = {}
    for score, phrase in _scored(index, _typed(index, text), weak):
        if score > max(weak, best.get(phrase.id, (0.0, phrase))[0]):
            best[phrase.id] = (score, phrase)
    ranked = sorted(best.values(), key=lambda pair: -pair[0])
    return tuple(Match(phrase.id, round(score, 1), phrase.text, phrase.kind) for score, phrase in ranked)


def _typed(index: PhraseIndex, text: str) -> _Typed:
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


def _scored(index: PhraseIndex, typed: _Typed, weak: float) -> Iterator[tuple[float, Phrase]]:
    """Every phrase that holds a word like a typed one, with its score."""
    for i in _candidates(index, typed, weak):
        phrase = index.phrases[i]
        if typed.words == phrase.words and not phrase.whole:
            yield 100.0 if typed.text == phrase.text.lower() else EXACT_SCORE, phrase
        else:
            points = SYMPTOM_POINTS if phrase.kind == "symptom" else 0.0
            yield min(_score(index, typed, phrase, index.weights[i]) + points, BEST_SCORE), phrase


def _candidates(index: PhraseIndex, typed: _Typed, weak: float) -> Iterator[int]:
    """Phrases that hold enough of the typed words to come above the weak score."""
    reach: dict[int, float] = {}
    for weight, alike in zip(typed.weights, typed.alike, strict=True):
        for i in set[int]().union(*(index.holders[word] for word in alike)):
            reach[i] = reach.get(i, 0.0) + weight
    enough = sum(typed.weights) * (weak - COVERED_POINTS - SYMPTOM_POINTS) / EXPLAINED_POINTS
    return (i for i, weight in reach.items() if weight >= enough)


def _similar(index: PhraseIndex, word: str) -> dict[str, float]:
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


def _score(index: PhraseIndex, typed: _Typed, phrase: Phrase, phrase_weight: float) -> float:
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
    return (score + COVERED_POINTS * cover) * damping(typed.all, phrase.words)
