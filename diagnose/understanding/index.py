"""The names and aliases of the knowledge as signed words, kept beside the checked knowledge for the next call."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import Any, NamedTuple

from diagnose.caching import kept
from diagnose.knowledge.kinds import all_generals
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.understanding.numbers_in_text import without_values
from diagnose.understanding.slang import of_shop, reader
from diagnose.words.expression import Slang
from diagnose.words.pieces import bare, raw_stems, raw_words, vocabulary
from diagnose.words.polarity import THERE, sides_of
from diagnose.words.spelling import Spelling
from diagnose.words.stems import stem
from diagnose.words.tokens import Clause, clauses_of
from diagnose.words.vocabulary import EMPTY, STOP, rightly_spelt


class SignedPhrase(NamedTuple):
    """One way to name a finding: its words with their signs, their weight, the text, its stems as written, and how
    many of its words narrow it down though they are no plain words: one, first, after two hours."""

    finding: int
    words: dict[str, str]
    weight: float
    text: str
    raw: frozenset[str]
    narrow: int


@dataclass(frozen=True)
class NameIndex:
    """Everything that findings are called by. `complaints`: the findings with which a machine comes in;
    `owners` and `weights`: finding and weight of each phrase; `alone`: words that are the whole of a symptom's
    name; `generals`: the general findings that one says more closely; `denied_with` and `sound_with`: the words, in
    alphabetical order, that deny findings at large, with those findings; `sides`: above, below, left or right, by
    the number of the phrase that says so; `verbatim`: whose very words these are, a
    line each."""

    ids: tuple[str, ...]
    kinds: tuple[str, ...]
    complaints: frozenset[int]
    rows: Sequence[tuple[int, dict[str, str], float, str, list[str], int]]
    owners: Sequence[int]
    weights: Sequence[float]
    holders: Mapping[str, Sequence[int]]
    rarity: Mapping[str, float]
    bags: Sequence[Collection[str]]
    counts: Sequence[int]
    firsts: Sequence[int]
    alone: frozenset[str]
    generals: Mapping[str, Sequence[str]]
    denied_with: Mapping[str, Sequence[str]]
    sound_with: Mapping[str, Sequence[str]]
    sides: Mapping[str, Sequence[str]]
    verbatim: str
    spelling: Spelling
    slang: Slang = ()

    def clauses(self, text: str) -> list[Clause]:
        """The clauses of a text, typing errors put right, with the expressions of the shop."""
        return clauses_of(text, self.spelling.corrected, self.slang)

    def called(self, words: Sequence[str]) -> int | None:
        """The finding that alone has these bare words as its name or alias."""
        key = f"\n{' '.join(words)}\t"
        at = self.verbatim.find(key)
        number = at + len(key)
        return int(self.verbatim[number : self.verbatim.index("\n", number)]) if at >= 0 else None

    def name(self, finding: int) -> dict[str, str]:
        """The signed words of a finding's name."""
        return self.rows[self.firsts[finding]][1]

    def texts(self, finding: int) -> list[str]:
        """All that a finding is called."""
        first = self.firsts[finding]
        last = next(
            (i for i in range(first, len(self.owners)) if self.owners[i] != finding), len(self.owners)
        )
        return [self.rows[i][3] for i in range(first, last)]

    def bag(self, finding: int) -> frozenset[str]:
        """All words that a finding is called by."""
        return frozenset(self.bags[finding])

    def phrase(self, number: int) -> SignedPhrase:
        """One of the phrases."""
        finding, words, weight, text, raw, narrow = self.rows[number]
        return SignedPhrase(finding, words, weight, text, frozenset(raw), narrow)


def build(knowledge: Knowledge) -> NameIndex:
    """The index of the findings; from the cache where it was made before."""
    return _thawed(kept("words", _key(knowledge), lambda: _made_anew(knowledge)), of_shop(knowledge))


def _made_anew(knowledge: Knowledge) -> dict[str, Any]:
    generals = {
        finding.id: sorted(all_generals(knowledge, finding))
        for finding in knowledge.findings.values()
        if finding.kind_of
    }
    general_first = sorted(knowledge.findings.values(), key=lambda one: not one.general)
    return _assembled(*_made(knowledge)) | {
        "complaints": list(_complaints(knowledge)),
        "generals": generals,
        "denied_with": _at_large((one, one.denied_with) for one in general_first),
        "sound_with": _at_large((one, one.sound_with) for one in general_first),
    }


def _at_large(said: Iterable[tuple[Finding, Sequence[str]]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for finding, phrases in said:
        for phrase in phrases:
            found.setdefault(" ".join(sorted(map(stem, phrase.split()))), []).append(finding.id)
    return found


def _thawed(made: dict[str, Any], slang: Slang) -> NameIndex:
    return NameIndex(
        tuple(made["ids"]),
        tuple(made["kinds"]),
        frozenset(made["complaints"]),
        made["rows"],
        made["owners"],
        made["weights"],
        made["holders"],
        made["rarity"],
        made["bags"],
        made["counts"],
        made["firsts"],
        frozenset(made["alone"]),
        made["generals"],
        made["denied_with"],
        made["sound_with"],
        made["sides"],
        made["verbatim"],
        Spelling(made["spelling"], rightly_spelt()),
        slang,
    )


Told = tuple[str, list[list[str]], list[str], int, list[str]]
Row = tuple[str, str, list[Told]]
"""A finding: id, kind, and its texts with their signed words, their stems as written, how many of their words only
narrow it down, and the sides that they name."""


def _told(text: str, slang: Slang) -> Told:
    plain = without_values(text)
    narrow = sum(raw.text in STOP - EMPTY or raw.text[0].isdigit() for raw in raw_words(plain))
    tokens = [token for clause in clauses_of(plain, slang=slang) for token in clause.tokens]
    pairs = dict.fromkeys((token.word, token.sign) for token in tokens)
    return text, list(map(list, pairs)), sorted(raw_stems(plain)), narrow, sorted(sides_of(tokens))


def _key(knowledge: Knowledge) -> str:
    texts = hashlib.sha256()
    for key, _, names in _named(knowledge):
        texts.update(f"{key}|{'|'.join(names)}\n".encode())
    for one in knowledge.findings.values():
        if one.kind_of or one.denied_with or one.sound_with:
            texts.update(f"{one.id}<{one.kind_of}{one.general}{one.denied_with}{one.sound_with}\n".encode())
    return hashlib.sha256(f"{texts.hexdigest()} {of_shop(knowledge)} {reader()}".encode()).hexdigest()[:32]


_UNTOLD = re.compile(r"\s*\([^)]*not told\)")
"""Hard to start (cold or hot not told): neither cold nor hot is part of the name."""


def _named(knowledge: Knowledge) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    for finding in knowledge.findings.values():
        yield finding.id, finding.kind, (_UNTOLD.sub("", finding.name), *finding.aliases)
    for part in knowledge.removable.values():
        for own in part.told:
            yield own.id, "inspection", (own.name, *own.aliases)


def _complaints(knowledge: Knowledge) -> Iterator[int]:
    """The places of the findings that a machine is brought in with."""
    for number, finding in enumerate(knowledge.findings.values()):
        if finding.other is not None:
            yield number


def _made(knowledge: Knowledge) -> tuple[list[Row], Mapping[str, int]]:
    rows: list[Row] = []
    slang = of_shop(knowledge)
    words: dict[str, int] = dict.fromkeys(vocabulary(), 1) | dict.fromkeys(STOP, EVERYDAY)
    for key, kind, names in _named(knowledge):
        texts = dict.fromkeys((*names, key.replace("_", " ")))
        rows.append((key, kind, [_told(text, slang) for text in texts]))
        for text in names:
            for raw in raw_words(text):
                words[raw.text] = words.get(raw.text, 0) + 1
    return rows, words


def _assembled(rows: Sequence[Row], words: Mapping[str, int]) -> dict[str, Any]:
    """Everything that a search needs, as plain data for the cache."""
    bags = [{word for _, pairs, *_ in row[2] for word, _ in pairs} for row in rows]
    counts: dict[str, int] = {}
    for bag in bags:
        for word in bag:
            counts[word] = counts.get(word, 0) + 1
    rarity = {word: log(1 + len(rows) / count) for word, count in counts.items()}
    phrases: list[tuple[int, dict[str, str], float, str, list[str], int]] = []
    holders: dict[str, list[int]] = {}
    sides: dict[str, list[str]] = {}
    for number, (_, _, texts) in enumerate(rows):
        for text, pairs, raw, narrow, own in texts:
            signed = _signs(pairs)
            if not signed or (len(signed) == 1 and len(raw_words(text)) >= MOST_LOST):
                continue
            if own:
                sides[str(len(phrases))] = own
            for word in signed:
                holders.setdefault(word, []).append(len(phrases))
            weight = sum(rarity[word] * weigh(word) for word in signed)
            phrases.append((number, signed, weight, text, raw, narrow))
    alone = {next(iter(p[1])) for p in phrases if len(p[1]) == 1 and rows[p[0]][1] in ("symptom", "question")}
    return {
        "ids": [row[0] for row in rows],
        "kinds": [row[1] for row in rows],
        "rows": phrases,
        "owners": [phrase[0] for phrase in phrases],
        "weights": [phrase[2] for phrase in phrases],
        "holders": holders,
        "rarity": rarity,
        "bags": [sorted(bag) for bag in bags],
        "counts": [len(row[2]) for row in rows],
        "firsts": _firsts(phrases, len(rows)),
        "alone": sorted(alone),
        "sides": sides,
        "verbatim": _by_words(rows),
        "spelling": words,
    }


def _by_words(rows: Sequence[Row]) -> str:
    """The bare words of each name and alias, and of each id where they are no other's name, with the finding that
    alone has them, a line each. One text, because it is read by every call and looked into once a sentence."""
    found: dict[str, int] = {}
    shared: set[str] = set()
    texts = [
        (text == row[0].replace("_", " "), number, text)
        for number, row in enumerate(rows)
        for text, *_ in row[2]
    ]
    for of_id, number, text in sorted(texts, key=lambda one: one[0]):
        said = " ".join(bare(text))
        if said.count(" ") + 1 >= LEAST and found.setdefault(said, number) != number and not of_id:
            shared.add(said)
    return "".join(f"\n{said}\t{number}\n" for said, number in found.items() if said not in shared)


def _signs(pairs: Iterable[Sequence[str]]) -> dict[str, str]:
    """The sign of each word; of one that is said twice the denial: no fuel to the fuel doser."""
    signs: dict[str, str] = {}
    for word, sign in pairs:
        signs[word] = sign if signs.get(word, THERE) == THERE else signs[word]
    return signs


def _firsts(
    phrases: Sequence[tuple[int, dict[str, str], float, str, list[str], int]], count: int
) -> list[int]:
    """The first phrase of each finding, which is its name."""
    firsts = [0] * count
    for place in range(len(phrases) - 1, -1, -1):
        firsts[phrases[place][0]] = place
    return firsts


LEAST = 2  # words: what is said in one word is weighed like everything else
EVERYDAY = 20  # how often a word that says nothing is taken to be used
MOST_LOST = 4  # words: of a longer phrase a single plain word does not say what it says
LIGHT = {"OK": 0.3, "in": 0.5, "SAME": 0.3, "since": 0.5, "engin": 0.3}
"""Words that stand in most sentences and tell least (judgement)."""


def weigh(word: str) -> float:
    """How much a word counts beside its rarity."""
    return LIGHT.get(word, 1.0)


_latest: tuple[Knowledge, NameIndex] | None = None


def index_of(knowledge: Knowledge) -> NameIndex:
    """The index, kept for the knowledge last used (by identity: records are frozen)."""
    global _latest
    if _latest is None or _latest[0] is not knowledge:
        _latest = (knowledge, build(knowledge))
    return _latest[1]
