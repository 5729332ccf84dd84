"""A text as plain words and marks: expressions replaced by what they stand for, other words by their stem."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from diagnose.words.expression import Slang
from diagnose.words.expressions import expressions
from diagnose.words.grammar import ENDS_DENIAL, HARD, SOFT, START, TURNS
from diagnose.words.shortened import Raw, spelt_out
from diagnose.words.stems import stem, words
from diagnose.words.vocabulary import (
    GONE,
    HEDGES,
    NEGATIONS,
    NO_MORE,
    NORMAL,
    ORDINARY,
    SAME,
    STOP,
    listed,
)


class Piece(NamedTuple):
    """A plain word, a mark of the grammar or a boundary, before signs are given."""

    word: str
    start: int
    end: int
    raw: str
    stems: tuple[str, ...] = ()

    @property
    def plain(self) -> bool:
        """It is the word as written, not what an expression stands for."""
        return self.word == stem(self.raw)

    @property
    def light(self) -> bool:
        """It says nothing of the machine."""
        return (
            (self.raw in STOP and self.plain)
            or self.word == "MAYBE"
            or not any(letter.isalpha() for letter in self.word)
        )


_RAW = re.compile(r"[a-z0-9%#]+(?:['’`.,][a-z0-9]+)*|[.,;:!?&@/()\n]| [-–—]+ |[-–—]", re.IGNORECASE)
_FLUIDS = frozenset(words("coolant oil water fuel"))
_OF_FLUIDS = frozenset(words("temperature temp temps pressure press psi flow pump filter cooler"))
_BREAKS = re.compile(r"[|=\-\s]+")
_HYPHEN = re.compile(r"(?<=[a-zA-Z])-(?=[a-zA-Z])")


def raw_words(text: str) -> list[Raw]:
    """The words and marks of a text. A hyphen within a word parts it into two."""
    found = []
    for match in _RAW.finditer(_HYPHEN.sub(" ", text)):
        word = match[0].strip().lower()
        if not word.isalnum():
            word = word.replace("'", "").replace("’", "").replace("`", "")
            if "." in word and len(word) > 1 and not word[0].isdigit():
                word = word.replace(".", "")
        found.append(Raw(word, match.start(), match.end()))
    return _contracted(spelt_out(found))


_NOT = {
    "will": "wont", "would": "wouldnt", "does": "doesnt", "do": "doesnt", "did": "didnt", "can": "cant",
    "could": "couldnt", "is": "isnt", "are": "arent", "was": "wasnt", "were": "werent", "has": "hasnt",
    "have": "havent", "had": "hadnt",
}  # fmt: skip
_REFUSES = {
    (first, "to"): "wont"
    for first in words("refuses refusing refuse refused fails fail failing failed unable")
}
_ONE_WORD = {"dont": "doesnt", "cannot": "cant"}


def _contracted(raws: Sequence[Raw]) -> list[Raw]:
    """Will not, refuses to and don't made one with won't and doesn't, on both sides."""
    found: list[Raw] = []
    for raw in raws:
        before = found[-1] if found else None
        one = None
        if before is not None:
            one = _NOT.get(before.text) if raw.text == "not" else _REFUSES.get((before.text, raw.text))
        if before is not None and one:
            found[-1] = Raw(one, before.start, raw.end)
        else:
            found.append(raw._replace(text=_ONE_WORD.get(raw.text, raw.text)))
    return found


@lru_cache(maxsize=4)
def _expressions(slang: Slang) -> dict[str, list[tuple[tuple[str, ...], tuple[str, ...]]]]:
    """First stem -> the expressions that begin with it, longest first, with the words that they stand for."""
    table: dict[tuple[str, ...], tuple[str, ...]] = {}
    for one, plain in (*slang, *expressions()):
        if not one.startswith("="):
            table.setdefault(_stems(one), tuple(map(_plain, plain)))
    for marker, text in (("GONE", GONE), ("NOMORE", NO_MORE), ("SAME", SAME), ("MAYBE", HEDGES)):
        for one in listed(text):
            if " " in one or marker == "MAYBE":
                table.setdefault(_stems(one), (marker,))
    for one in listed(NORMAL):
        if " " in one:
            table.setdefault(_stems(one), ("OK",))
    by_first: dict[str, list[tuple[tuple[str, ...], tuple[str, ...]]]] = {}
    for pattern, meaning in table.items():
        by_first.setdefault(pattern[0], []).append((pattern, meaning))
    for known in by_first.values():
        known.sort(key=lambda item: -len(item[0]))
    return by_first


@lru_cache(maxsize=4)
def _exact(slang: Slang) -> dict[str, tuple[str, ...]]:
    """Words that stand for something in this one form only: the stick, but it sticks."""
    marks = {one: ("GONE",) for one in listed(GONE) if " " not in one}
    marks |= {one: ("SAME",) for one in listed(SAME) if " " not in one}
    marks |= {one: (f"OK:{one}",) for one in listed(NORMAL) if " " not in one}
    return marks | {
        one.removeprefix("="): tuple(map(_plain, plain))
        for one, plain in (*expressions(), *slang)
        if one.startswith("=")
    }


def _plain(word: str) -> str:
    """A word that an expression stands for, as a stem; its minus and the words of the grammar stay."""
    return word if word.isupper() else stem(word.removesuffix("-")) + ("-" if word.endswith("-") else "")


def _stems(text: str) -> tuple[str, ...]:
    ends = text.endswith(ENDS)
    keys = _keys([raw.text for raw in raw_words(text.removesuffix(ENDS).replace("'", "").replace(".", ""))])
    return (*keys, ENDS) if ends else tuple(keys)


_UNABLE = frozenset(words("wont doesnt didnt cant couldnt wouldnt never"))


_MANY_THINGS = frozenset(words("run go get"))
"""Won't run is an engine that does not start; didn't run it, doesn't go soft are other things."""


def _keys(texts: Sequence[str]) -> list[str]:
    """By what words are looked for among the expressions: won't charge, doesn't charge, never charges are one."""
    return [
        "wont" if word in _UNABLE and after not in _MANY_THINGS else stem(word)
        for word, after in zip(texts, [*texts, ""][1:], strict=True)
    ]


@lru_cache(maxsize=1)
def vocabulary() -> frozenset[str]:
    """Every word that the expressions and the grammar hold, as written."""
    words = set(STOP) | ORDINARY | NEGATIONS | HARD | TURNS | SOFT | ENDS_DENIAL
    for text in (NORMAL, GONE, SAME, HEDGES, *(one for one, _ in expressions())):
        words.update(_BREAKS.sub(" ", text.replace("'", "")).split())
    return frozenset(words)


def pieces_of(raws: Sequence[Raw], slang: Slang = ()) -> list[Piece]:
    """Expressions replaced by what they stand for, first those of the shop; single words by their stem."""
    several, exact = _expressions(slang), _exact(slang)
    stems = [stem(raw.text) for raw in raws]
    keys = _keys([raw.text for raw in raws])
    found, i = [], 0
    while i < len(raws):
        raw = raws[i]
        if stems[i] == START and i + 1 < len(raws) and _begins(raws[i + 1].text):
            i += 1
            continue
        for pattern, meaning in several.get(keys[i], ()):
            if len(pattern) == 1 and raw.text in exact:
                continue
            length = _length(raws, keys, i, pattern)
            if length and not _bound_to_more(raws, i, length) and not _by_hand(raws, i, meaning):
                end = raws[i + length - 1].end
                found += [Piece(word, raw.start, end, raw.text, pattern) for word in meaning]
                i += length
                break
        else:
            plain = exact.get(raw.text, (stems[i],))
            found += [Piece(word, raw.start, raw.end, raw.text, (stems[i],)) for word in plain]
            i += 1
    return found


ENDS = "END"
"""Last in an expression: it stands so only where nothing but when it does so follows in its clause."""
_AT_THE_END = HARD | TURNS | SOFT | frozenset(words("after when since at"))
_BETWEEN = frozenset(
    words("has have had is are was been being the a an my our his her just really very quite then")
)
"""Words that may stand within an expression: the oil level has gone up."""


def _length(raws: Sequence[Raw], stems: Sequence[str], at: int, pattern: Sequence[str]) -> int:
    """How many words an expression takes here; 0 where it does not stand here."""
    i = at
    for number, word in enumerate(pattern):
        if word == ENDS:
            return i - at if i >= len(raws) or raws[i].text in _AT_THE_END else 0
        while number and i < len(stems) and stems[i] != word and _between(raws[i].text):
            i += 1
        if i >= len(stems) or stems[i] != word:
            return 0
        i += 1
    return i - at


def _between(word: str) -> bool:
    """It may stand within an expression: cylinder 4 is dead, the oil level has gone up."""
    return word in _BETWEEN or (word.lstrip("#").isdigit() and len(word) <= LONGEST_PLACE)


LONGEST_PLACE = 3  # letters of a cylinder's number: 4, 12, #12


def _begins(following: str) -> bool:
    """It starts bucking, started to knock: no start of the engine."""
    return following == "to" or (following.endswith("ing") and len(following) > 5)


_BY_HAND = frozenset(
    words("i we he they you operator driver guy skipper to after before on at upon until by must")
)
_STALL = (stem("stall"),)


def _by_hand(raws: Sequence[Raw], at: int, meaning: Sequence[str]) -> bool:
    """Somebody shut it down, which is no stalling: he shut it off, after shut down."""
    if tuple(meaning) != _STALL or stem(raws[at].text) not in ("shut", "stop", "cut", "kill", "switch"):
        return False
    before = raws[at - 1].text if at else ""
    return before in _BY_HAND


def _bound_to_more(raws: Sequence[Raw], at: int, length: int) -> bool:
    """A lone word of the grammar that only looks like an expression; or a fluid whose temperature or pressure is
    spoken of: low coolant temperature is not low coolant."""
    behind = raws[at + length].text if at + length < len(raws) else ""
    fluid = raws[at + length - 1].text in _FLUIDS and length > 1 and behind in _OF_FLUIDS
    return fluid or (length == 1 and raws[at].text in HARD)


def raw_stems(text: str) -> frozenset[str]:
    """The stems of a text as written, without words that say nothing."""
    return frozenset(
        stem(raw.text) for raw in raw_words(text) if raw.text not in STOP and raw.text[0].isalnum()
    )


_ARTICLES = frozenset(words("a an the is are was were it its my this that has have had been and"))


def bare(text: str) -> list[str]:
    """The words as written, but for their endings, without marks, articles and the like."""
    return [stem(raw.text) for raw in raw_words(text) if raw.text not in _ARTICLES and raw.text[0].isalnum()]
