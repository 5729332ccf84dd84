"""Single typing errors put right: a word that nobody knows becomes the known word nearest to it."""

from __future__ import annotations

from collections.abc import Collection
from functools import lru_cache

from rapidfuzz import process
from rapidfuzz.distance import OSA

SHORT, LONG = 4, 8  # letters: shorter words are left as they are; from here on two errors are put right


class Spelling:
    """The words that are known, and what an unknown one most likely is."""

    def __init__(self, known: Collection[str]):
        self._known = frozenset(known)
        self._by_length: dict[int, list[str]] = {}
        for word in sorted(self._known):
            if len(word) >= SHORT and word.isalpha():
                self._by_length.setdefault(len(word), []).append(word)
        self.corrected = lru_cache(maxsize=4096)(self._corrected)

    def _corrected(self, word: str) -> str:
        if len(word) < SHORT or word in self._known or not word.isalpha():
            return word
        errors = 1 if len(word) < LONG else 2
        near = self._near(word, errors)
        if not near or (len(near) > 1 and near[0][:2] == near[1][:2]):
            return word  # none, or two that are as likely
        return near[0][2]

    def _near(self, word: str, errors: int) -> list[tuple[float, bool, str]]:
        """Known words within so many errors, the likeliest first: few errors, and the same first letter."""
        lengths = range(len(word) - errors, len(word) + errors + 1)
        choices = [other for length in lengths for other in self._by_length.get(length, ())]
        found = process.extract(word, choices, scorer=OSA.distance, score_cutoff=errors, limit=12)
        return sorted((distance, other[0] != word[0], other) for other, distance, _ in found)
