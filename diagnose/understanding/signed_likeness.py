"""How like a run of signed words is to the names and aliases of findings, and what its signs then say.

A phrase scores by how much of what was said it explains and how much of it was said; rare words weigh more (inverse
document frequency, Spärck Jones 1972). The signs of the words that both share tell the state: the same signs, it is
there; the other sign, it is not; both at once, the two do not say the same, and the score falls.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from diagnose.understanding.index import NameIndex, SignedPhrase, weigh
from diagnose.words.grammar import CIRCUMSTANCES, FAULTS, SIGNS, WANTED
from diagnose.words.opposites import crossed, denied_by_praise, opposed, other_side
from diagnose.words.polarity import DENIED, MARKS, SOUND, SOUND_MARK, THERE, UNABLE, Token, sides_of
from diagnose.words.stems import stem
from diagnose.words.vocabulary import KIN, ORDINARY, STOP

PRESENT, ABSENT, UNCLEAR = "present", "absent", "unclear"
ALIKE = 0.7  # a word of the trade for another that means much the same
NARROWED = 0.15  # what each word takes off that narrows a name down
UNKNOWN = 1.5  # weight of a word that no phrase holds
EVERYDAY = 0.3  # ... and that everybody uses
ENOUGH = 0.3  # below this likeness nothing is looked at


@dataclass(frozen=True, slots=True)
class Candidate:
    """A finding that a run of words may mean: `state` is present, absent or unclear. `explained`: share of what was
    said that the phrase holds; `covered`: share of the phrase that was said, `words`: its own, `unsaid`: those
    that were not; `features` of it for the ranking."""

    finding: int
    state: str
    score: float
    explained: float
    covered: float
    phrase: str
    features: tuple[float, ...] = ()
    doubt: float = 0.0
    unsaid: frozenset[str] = frozenset()
    words: frozenset[str] = frozenset()


@lru_cache(maxsize=1)
def kin() -> Mapping[str, tuple[str, ...]]:
    """Plain word -> words that mean much the same."""
    near: dict[str, set[str]] = {}
    for line in KIN.strip().splitlines():
        group = [stem(word) for word in line.split()]
        for word in group:
            near.setdefault(word, set()).update(other for other in group if other != word)
    return {word: tuple(sorted(others)) for word, others in near.items()}


def weight_of(index: NameIndex, word: str) -> float:
    """How much a word that was said counts."""
    rarity = index.rarity.get(word)
    if rarity is None:
        return EVERYDAY if word in _everyday() else UNKNOWN
    return rarity * weigh(word) * (0.6 if word in CIRCUMSTANCES else 1.0)


@lru_cache(maxsize=1)
def _everyday() -> frozenset[str]:
    return frozenset(map(stem, ORDINARY))


class Reach:
    """All phrases that hold words of a run which grows to the right, with what they explain and cover."""

    def __init__(self, index: NameIndex, without: int = -1):
        self._index = index
        self._without = without
        self._tokens: list[Token] = []
        self._total = 0.0
        self._explained: dict[int, float] = {}
        self._covered: dict[int, float] = {}

    def add(self, token: Token) -> None:
        """One more word of the run."""
        index = self._index
        if any(other.word == token.word for other in self._tokens):
            self._tokens.append(token)
            return
        self._tokens.append(token)
        weight = weight_of(index, token.word)
        self._total += weight
        done: set[int] = set()
        for word, likeness in ((token.word, 1.0), *((other, ALIKE) for other in kin().get(token.word, ()))):
            part = weight * likeness
            gain = index.rarity.get(word, 0.0) * weigh(word) * likeness
            for i in index.holders.get(word, ()):
                if i not in done:
                    done.add(i)
                    self._explained[i] = self._explained.get(i, 0.0) + part
                    self._covered[i] = self._covered.get(i, 0.0) + gain

    def best(self, limit: int = 6) -> list[Candidate]:
        """The findings that the run may mean, best first."""
        if not self._total:
            return []
        index, total, covered = self._index, self._total, self._covered
        owners, weights = index.owners, index.weights
        rough = []
        for i, explained in self._explained.items():
            if i == self._without:
                continue
            share = explained / total
            if share >= ENOUGH:
                score = share * (0.4 + 0.6 * min(covered[i] / weights[i], 1.0))
                rough.append((score, i))
        rough.sort(reverse=True)
        support: dict[int, float] = {}
        for score, i in rough:
            number = owners[i]
            if number in support:
                support[number] += score * score
            elif len(support) < 24:
                support[number] = score * score
        found: dict[int, Candidate] = {}
        sides = sides_of(self._tokens)
        for _, i in rough[:60]:
            if owners[i] not in support or (sides and other_side(sides, index.sides.get(str(i), ()))):
                continue
            candidate = judged(index, self._tokens, index.phrase(i))
            known = found.get(candidate.finding)
            if known is None or candidate.score > known.score:
                found[candidate.finding] = candidate
        return sorted(
            (self._supported(one, support[one.finding]) for one in found.values()), key=lambda one: -one.score
        )[:limit]

    def _supported(self, one: Candidate, support: float) -> Candidate:
        """With what its other names add: a finding most of whose names say this is meant before one that has a
        single name like it."""
        count = self._index.counts[one.finding]
        share = support / count
        score = one.score * (0.88 + 0.12 * min(share * 2, 1.0))
        return replace(one, score=score, features=(*one.features, share, min(support, 4.0) / 4))


FEATURES = (
    "explained", "covered", "both", "sense", "opposed", "crossed", "code unsaid", "symptom", "bag", "matched",
    "left",
    "same words", "unclear", "absent", "weight", "lone", "written", "written whole", "complaint", "question",
    "name unsaid", "when unsaid", "share", "support",
)  # fmt: skip


def judged(index: NameIndex, tokens: Sequence[Token], phrase: SignedPhrase) -> Candidate:
    """A phrase beside the words said: its likeness, and the state that the signs tell."""
    pairs = _pairs(tokens, phrase)
    said = {token.word: token for token in tokens}
    total = sum(weight_of(index, word) for word in said)
    weight = sum(weight_of(index, token.word) * like for token, _, like in pairs)
    explained = weight / total
    matched = {word: like for _, word, like in pairs}
    state, sense = _state(pairs, tokens, phrase)
    covered = _covered(index, phrase, matched, state) * (1 - NARROWED * min(phrase.narrow, 2))
    against = opposed(said, phrase.words)
    turned = crossed([t.word for t in tokens], list(phrase.words))
    kind = index.kinds[phrase.finding]
    unsaid = kind == "code" and _CODE_WORDS.isdisjoint(said)
    bag = index.bags[phrase.finding]
    met = {token.word for token, _, _ in pairs}
    rest = sum(weight_of(index, word) for word in said if word in bag and word not in met) / total
    score = explained**0.8 * (0.4 + 0.6 * covered) * sense * against * turned
    score *= (0.72 if unsaid else 1.0) * (1.03 if kind == "symptom" else 1.0) * (1 + 0.25 * rest)
    written = {one for token in tokens for one in token.raw if one not in _IDLE and one[0] not in MARKS}
    common = len(written & phrase.raw)
    features = (
        explained, covered, explained * covered, sense, against, turned, float(unsaid), float(kind == "symptom"),
        rest,
        min(len(matched), 5) / 5, min(len(phrase.words) + phrase.narrow - len(matched), 5) / 5,
        float(phrase.words.keys() == said.keys() and not phrase.narrow), float(state == UNCLEAR),
        float(state == ABSENT),
        min(weight, 20.0) / 20, float(len(said) == 1), common / max(len(written), 1),
        common / max(len(phrase.raw), 1), float(phrase.finding in index.complaints), float(kind == "question"),
        _unsaid(index, index.name(phrase.finding), said), _when_unsaid(phrase.words, said),
    )  # fmt: skip
    doubt = _doubt(index, tokens, phrase, pairs, state)
    score *= 0.7 if doubt > 0 else 1.0
    left_out = frozenset(phrase.words.keys() - matched.keys())
    return Candidate(
        phrase.finding,
        state,
        min(score, 1.0),
        explained,
        covered,
        phrase.text,
        features,
        doubt,
        left_out,
        frozenset(phrase.words),
    )


def _unsaid(index: NameIndex, name: Iterable[str], said: Iterable[str]) -> float:
    """The share of a finding's name that was not said: what is particular about it must be said."""
    heard = {*said, *(near for word in said for near in kin().get(word, ()))}
    weights = [(word in heard, index.rarity[word] * weigh(word)) for word in name]
    total = sum(weight for _, weight in weights)
    return sum(weight for met, weight in weights if not met) / total if total else 0.0


def _when_unsaid(phrase: Iterable[str], said: Iterable[str]) -> float:
    """How much of its circumstances a phrase names that were not said."""
    return min(len(CIRCUMSTANCES.intersection(phrase).difference(said)), 2) / 2


TWO_WAYS, LACKING, AGAINST_NAME, UNABLE_DOUBT, SOUND_UNSAID = 2.5, 2.0, 4.0, 4.0, 4.0
"""What is taken off a candidate's strength: some of its words are denied and some not (clicks, but no crank, and no
click, no crank); something that should be there lacks, which is no denial of its being too high; a word of its name
is denied (cranks but does not start, and no crank, no start); what it does not do is itself the fault (does not
hold its speed, which is no denial of a falling speed); the name says that something is sound, and nobody did."""


def _doubt(
    index: NameIndex,
    tokens: Sequence[Token],
    phrase: SignedPhrase,
    pairs: Sequence[tuple[Token, str, float]],
    state: str,
) -> float:
    doubt = TWO_WAYS if state == UNCLEAR else 0.0
    if state == ABSENT and any(
        token.sign == DENIED and token.word in WANTED and phrase.words.get(word) == THERE
        for token, word, _ in pairs
    ):
        doubt += LACKING
    differing = [
        token for token, word, _ in pairs if token.sign == DENIED and phrase.words.get(word) == THERE
    ]
    unable = any(UNABLE in token.raw for token in differing)
    if state == ABSENT and unable and SIGNS.isdisjoint(token.word for token in differing):
        doubt += UNABLE_DOUBT
    if state == ABSENT:
        doubt += _sound_of(tokens, phrase)
    if SOUND in phrase.words.values() and all(token.sign != SOUND for token in tokens):
        doubt += SOUND_UNSAID
    name = index.name(phrase.finding)
    denied = {token.word for token in tokens if token.sign == DENIED} - phrase.words.keys()
    if any(name.get(word) == THERE for word in denied):
        doubt += AGAINST_NAME
    return doubt


DENIES, DENIES_OTHER = -1.2, 0.8
"""What is added to the doubt where the word of praise denies the very fault of the name, and where another one."""


def praise_of(tokens: Iterable[Token]) -> frozenset[str]:
    """The faults that what is praised in a run has not."""
    return denied_by_praise(
        raw.removeprefix(SOUND_MARK) for token in tokens for raw in token.raw if raw.startswith(SOUND_MARK)
    )


def _sound_of(tokens: Sequence[Token], phrase: SignedPhrase) -> float:
    against = praise_of(tokens)
    if not against:
        return 0.0
    if not against.isdisjoint(phrase.words):
        return DENIES
    return DENIES_OTHER if not FAULTS.isdisjoint(phrase.words) else 0.0


_IDLE = frozenset(map(stem, STOP))
_CODE_WORDS = frozenset(map(stem, ["code", "fault", "logged", "stored"]))


def _pairs(tokens: Sequence[Token], phrase: SignedPhrase) -> list[tuple[Token, str, float]]:
    """Each word said with the phrase's word that it meets, the same before a kin."""
    found = []
    seen: set[str] = set()
    for token in tokens:
        if token.word in seen:
            continue
        seen.add(token.word)
        if token.word in phrase.words:
            found.append((token, token.word, 1.0))
        else:
            near = next((other for other in kin().get(token.word, ()) if other in phrase.words), None)
            if near:
                found.append((token, near, ALIKE))
    return found


def _state(
    pairs: Sequence[tuple[Token, str, float]], tokens: Sequence[Token], phrase: SignedPhrase
) -> tuple[str, float]:
    """What the signs say, and how well the two sides agree (1: fully)."""
    core = [
        (token.sign, phrase.words[word])
        for token, word, _ in pairs
        if word not in CIRCUMSTANCES and word != "in" and word != "OK"
    ]
    sound = any(token.sign == SOUND for token in tokens)
    sound_phrase = SOUND in phrase.words.values()
    if sound:
        if sound_phrase:
            return PRESENT, 1.0
        if any(token.sign in (THERE,) and token.word in FAULTS for token in tokens):
            return UNCLEAR, 0.6
        return ABSENT, 0.97
    agree = [a for a, b in core if a == b == DENIED]
    differ = [(a, b) for a, b in core if (a == DENIED) != (b == DENIED)]
    if sound_phrase and not any(b == SOUND for _, b in core):
        pass
    elif sound_phrase:
        return (UNCLEAR, 0.6) if any(a == DENIED for a, _ in core) else (PRESENT, 0.8)
    if not differ:
        return PRESENT, 1.0
    if agree:
        return UNCLEAR, 0.6
    if any(b == DENIED for _, b in differ):
        return UNCLEAR, 0.55
    plain = [word for token, word, _ in pairs if token.sign == THERE and word in FAULTS]
    return (UNCLEAR, 0.7) if plain else (ABSENT, 0.95)


def _covered(index: NameIndex, phrase: SignedPhrase, matched: Mapping[str, float], state: str) -> float:
    """How much of the phrase was said; of a thing said to be sound its fault need not be named."""
    total = weight = 0.0
    for word in phrase.words:
        own = index.rarity[word] * weigh(word) * (0.7 if word in CIRCUMSTANCES else 1.0)
        if state == ABSENT and word in FAULTS and word not in matched:
            own *= 0.3
        total += own
        weight += own * matched.get(word, 0.0)
    return weight / total if total else 0.0


def best_of(index: NameIndex, tokens: Iterable[Token], limit: int = 6, without: int = -1) -> list[Candidate]:
    """What one run of words may mean; `without`: the phrase that is left out, to learn from it."""
    reach = Reach(index, without)
    for token in tokens:
        reach.add(token)
    return reach.best(limit)
