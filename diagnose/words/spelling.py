"""Single typing errors put right: a word that nobody knows becomes the known word nearest to it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from rapidfuzz import process
from rapidfuzz.distance import OSA

from diagnose.words.stems import stem

OFTENER = 3.0  # how much oftener the likeliest word must be used than the next
VOWELS = frozenset("aeiou")
SHORT, LONG = 4, 8  # letters: shorter words are left as they are; from here on two errors are put right


class Spelling:
    """The words that are known, and what an unknown one most likely is; `right`: others that are rightly spelt."""

    def __init__(self, known: Mapping[str, int], right: frozenset[str] = frozenset()):
        self._known = known
        self._right = right
        self._by_length: dict[int, list[str]] = {}
        for word in self._known:
            if len(word) >= SHORT and word.isalpha():
                self._by_length.setdefault(len(word), []).append(word)
        self.corrected = lru_cache(maxsize=4096)(self._corrected)

    def _corrected(self, word: str) -> str:
        if len(word) < SHORT or word in self._known or word in self._right or not word.isalpha():
            return word
        if word.endswith("in") and self._knows(f"{word}g"):
            return f"{word}g"  # goin, climbin
        errors = 1 if len(word) < LONG else 2
        near = self._near(word, errors)
        nearest = [other for distance, _, other in near if distance == near[0][0]]
        nearest = [other for other in nearest if other[0] in word[:2]]  # the first letter is seldom wrong
        if len(word) == SHORT and not VOWELS.isdisjoint(
            word
        ):  # a letter was left out, of a word that begins so
            nearest = [other for other in nearest if len(other) > SHORT and other[0] == word[0]]
        nearest.sort(key=lambda other: -self._weight(word, other))
        if not nearest or (
            len(nearest) > 1 and self._weight(word, nearest[0]) < OFTENER * self._weight(word, nearest[1])
        ):
            return word  # none, or two that are as likely
        return nearest[0]

    def _knows(self, word: str) -> bool:
        """The word, or another form of it."""
        root = stem(word)
        forms = (word, root, f"{root}e", f"{root}s", f"{root}ed", f"{root}es", f"{root}{root[-1]}ed")
        return any(form in self._known for form in forms)

    def _weight(self, word: str, other: str) -> float:
        """How often the other word is used; errors in the first letter, or of one letter for another, are rarer."""
        return (
            self._known[other]
            * (1.0 if other[0] == word[0] else 0.2)
            * (1.0 if len(other) > len(word) else 0.6)
        )

    def _near(self, word: str, errors: int) -> list[tuple[float, bool, str]]:
        """Known words within so many errors, the likeliest first: few errors, and the same first letter."""
        lengths = range(len(word) - errors, len(word) + errors + 1)
        choices = [other for length in lengths for other in self._by_length.get(length, ())]
        found = process.extract(word, choices, scorer=OSA.distance, score_cutoff=errors, limit=12)
        return sorted((distance, other[0] != word[0], other) for other, distance, _ in found)
