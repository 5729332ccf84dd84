"""A text as plain words with a sign: what is there, what is denied (-) and what is said to be sound (g).

The grammar of clauses is small. A denial holds for what comes after it, up to the next preposition, conjunction or
comma; at the end of a clause ("smoke gone", "leaks: none") for what stands before it. A word such as "ok" makes its
clause sound. Names and aliases of the knowledge are read by the same grammar, so that the two sides meet.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from diagnose.understanding.vocabulary import (
    EXPRESSIONS,
    GONE,
    HEDGES,
    NEGATIONS,
    NORMAL,
    ORDINARY,
    SAME,
    STOP,
)

THERE, DENIED, SOUND = "+", "-", "g"


class Token(NamedTuple):
    """One plain word with its sign and its place in the text."""

    word: str
    sign: str
    start: int
    end: int
    raw: tuple[str, ...] = ()


class Raw(NamedTuple):
    """One word (or mark) as written, in lower case and without apostrophes."""

    text: str
    start: int
    end: int


class Chunk(NamedTuple):
    """A clause: its tokens; `hard`: what comes before it cannot belong to the same thing."""

    tokens: tuple[Token, ...]
    hard: bool


_RAW = re.compile(r"[a-z0-9%#]+(?:['’`.,][a-z0-9]+)*|[.,;:!?&@/()\n]| [-–—]+ |[-–—]", re.IGNORECASE)
_BREAKS = re.compile(r"[|=\-\s]+")
_HYPHEN = re.compile(r"(?<=[a-zA-Z])-(?=[a-zA-Z])")
_HARD = frozenset(". ; : ! ? ( ) \n".split(" ")) | {"-", "–", "—"}
_TURNS = frozenset("but except however although though whereas yet then otherwise".split())
_SOFT = frozenset(", and plus & so because cos also with / while whilst when".split())
_ENDS_DENIAL = frozenset(
    """at in on from to under over when while with after before if until because since for of by during where as than
    out into through though once without and above below around between across unless whenever till cos that which""".split()
)
_KEEPS_DENIAL = frozenset("or nor".split())
PREDICATE_ONLY = frozenset(
    """strong steady full clear clean bright tight dry free solid sweet smooth firm well works working great works
    held holds holding correct intact smoothly""".split()
)
"""Sound only behind what they speak of: the bearing is tight, but a tight bearing is another thing."""
_NOT_SOUND_OF = {
    "tight": {"lash", "valve", "piston", "stem", "bearing", "turn", "engine", "crank"},
    "dry": {"bearing", "rocker", "tank", "run", "liner"},
    "full": {"dpf", "filter", "separator", "breather", "water", "soot", "ash", "on"},
    "clear": {"hose", "then"},
    "clean": {"runs"},
    "works": {"harder", "hard"},
    "working": {"hard", "harder"},
    "free": {"play"},
    "steady": {"misfire", "knock"},
    "strong": {"smell"},
}
_IRREGULAR = {
    "ran": "run", "blew": "blow", "broke": "break", "broken": "break", "lost": "lose", "went": "go", "gone": "go",
    "came": "come", "stuck": "stuck", "froze": "freeze", "began": "begin", "took": "take", "drew": "draw",
    "fell": "fall", "fallen": "fall", "got": "get", "felt": "feel", "heard": "hear", "left": "left", "wore": "worn",
    "dying": "die", "died": "die", "dies": "die", "losing": "lose", "loosing": "lose", "loses": "lose",
    "using": "use", "uses": "use", "used": "use", "leaves": "leave", "valves": "valve", "hoses": "hose",
    "gauges": "gauge", "noises": "noise", "gases": "gas", "busses": "bus", "fuses": "fuse", "bogs": "bog",
}  # fmt: skip
_ENDINGS = ("ings", "ing", "edly", "ed", "es", "s", "ly")
_DOUBLED = re.compile(r"([bdgmnprt])\1$")


@lru_cache(maxsize=1 << 14)
def stem(word: str) -> str:
    """The word without its ending."""
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    if word.endswith("eed") or word.endswith("eeds"):
        return word.removesuffix("s")
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3 and not word.endswith("ss"):
            rest = word[: -len(ending)]
            return (_DOUBLED.sub(r"\1", rest) if ending[-1] in "gd" else rest).removesuffix("e")
    return word.removesuffix("e") if len(word) > 4 else word


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
    return found


@lru_cache(maxsize=1)
def _expressions() -> dict[str, list[tuple[tuple[str, ...], tuple[str, ...]]]]:
    """First stem -> the expressions that begin with it, longest first, with the words that they stand for."""
    table: dict[tuple[str, ...], tuple[str, ...]] = {}
    lines = [line.rpartition(" = ") for line in EXPRESSIONS.strip().splitlines()]
    for left, _, right in lines:
        for one in left.split("|"):
            if one.startswith("="):
                continue
            table.setdefault(_stems(one), tuple(map(_plain, right.split())))
    for marker, text in (("GONE", GONE), ("NOMORE", "no longer|no more|no sign of|no signs of|no trace of|no traces of|no evidence of|not a sign of|no hint of|free of|cant see any|cant find any|couldnt find any|havent seen any|didnt see any"), ("SAME", SAME), ("MAYBE", HEDGES)):
        for one in text.strip().split("|"):
            if " " in one or marker == "MAYBE":
                table.setdefault(_stems(one), (marker,))
    for one in NORMAL.strip().split("|"):
        if " " in one:
            table.setdefault(_stems(one), ("OK",))
    by_first: dict[str, list[tuple[tuple[str, ...], tuple[str, ...]]]] = {}
    for pattern, meaning in table.items():
        by_first.setdefault(pattern[0], []).append((pattern, meaning))
    for known in by_first.values():
        known.sort(key=lambda item: -len(item[0]))
    return by_first


@lru_cache(maxsize=1)
def _exact() -> dict[str, tuple[str, ...]]:
    """Words that stand for something in this one form only: the stick, but it sticks."""
    marks = {one: ("GONE",) for one in GONE.strip().split("|") if " " not in one}
    marks |= {one: ("SAME",) for one in SAME.strip().split("|") if " " not in one}
    marks |= {one: (f"OK:{one}",) for one in NORMAL.strip().split("|") if " " not in one}
    return marks | {
        one.removeprefix("="): tuple(map(_plain, right.split()))
        for left, _, right in (line.rpartition(" = ") for line in EXPRESSIONS.strip().splitlines())
        for one in left.split("|")
        if one.startswith("=")
    }


def _plain(word: str) -> str:
    """A word that an expression stands for, as a stem; its minus and the words of the grammar stay."""
    return word if word.isupper() else stem(word.removesuffix("-")) + ("-" if word.endswith("-") else "")


def _stems(text: str) -> tuple[str, ...]:
    return tuple(stem(word) for word in text.replace("'", "").replace("-", " ").replace(".", "").split())


@lru_cache(maxsize=1)
def vocabulary() -> frozenset[str]:
    """Every word that the expressions and the grammar hold, as written."""
    words = set(STOP) | ORDINARY | NEGATIONS | _HARD | _TURNS | _SOFT | _ENDS_DENIAL
    for text in (EXPRESSIONS, NORMAL, GONE, SAME, HEDGES):
        words.update(_BREAKS.sub(" ", text.replace("'", "")).split())
    return frozenset(words)


Correct = Callable[[str], str]


class _Piece(NamedTuple):
    """A plain word, a mark of the grammar or a boundary, before signs are given."""

    word: str
    start: int
    end: int
    raw: str
    stems: tuple[str, ...] = ()


def _pieces(raws: Sequence[Raw]) -> list[_Piece]:
    """Expressions replaced by what they stand for; single words by their stem."""
    stems = [stem(raw.text) for raw in raws]
    found, i = [], 0
    while i < len(raws):
        raw = raws[i]
        if stems[i] == _START and i + 1 < len(raws) and _begins(raws[i + 1].text):
            i += 1
            continue
        for pattern, meaning in _expressions().get(stems[i], ()):
            if len(pattern) == 1 and raw.text in _exact():
                continue
            if tuple(stems[i : i + len(pattern)]) == pattern and not _bound_to_more(raws, i, len(pattern)):
                end = raws[i + len(pattern) - 1].end
                found += [_Piece(word, raw.start, end, raw.text, pattern) for word in meaning]
                i += len(pattern)
                break
        else:
            plain = _exact().get(raw.text, (stems[i],))
            found += [_Piece(word, raw.start, raw.end, raw.text, (stems[i],)) for word in plain]
            i += 1
    return found


_START = stem("start")


def _begins(following: str) -> bool:
    """It starts bucking, started to knock: no start of the engine."""
    return following == "to" or (following.endswith("ing") and len(following) > 5)


def _bound_to_more(raws: Sequence[Raw], at: int, length: int) -> bool:
    """A lone word of the grammar or a number that only looks like an expression."""
    return length == 1 and raws[at].text in _HARD


def chunks(text: str, correct: Correct = str) -> list[Chunk]:
    """The clauses of a text, with their signed words."""
    text = _WHICH.sub(lambda found: " " * len(found[0]), text)
    raws = [raw._replace(text=correct(raw.text)) for raw in raw_words(text)]
    return [chunk for chunk in _signed(_pieces(raws)) if chunk.tokens]


_WHICH = re.compile(r"\b(?:no|nr|number|num)\.?\s?(?=#?\d)", re.IGNORECASE)  # number 5, which is no denial


def signed_words(text: str) -> tuple[tuple[str, str], ...]:
    """The words of a name or alias with their signs, all clauses together."""
    return tuple(dict.fromkeys((token.word, token.sign) for chunk in chunks(text) for token in chunk.tokens))


_DENIES_ANEW = frozenset("no without neither nor".split())
_SUBJECTS = frozenset("its she shes he hes they theyre theres".split())
_VERBS = frozenset(
    """is was will wont has had does doesnt did didnt started starts start dies died runs ran just cranks turns still
    keeps only never always smokes leaks makes made quits stalls cuts loses lost overheats idles revs isnt wasnt cant""".split()
)
_ANSWERS = frozenset("none nil nothing zero negative".split())


def _answers(pieces: Sequence[_Piece]) -> list[_Piece]:
    """Without the mark in "codes? none" and "leaks: nil", so that the answer stays with what it answers."""
    return [
        piece
        for i, piece in enumerate(pieces)
        if not (
            piece.raw in _HARD | _SOFT
            and i + 1 < len(pieces)
            and pieces[i + 1].raw in _ANSWERS
            and (i + 2 == len(pieces) or pieces[i + 2].raw in _HARD | _SOFT)
        )
    ]


def _signed(pieces: Sequence[_Piece]) -> Iterator[Chunk]:
    """Clause by clause: where each ends, and what is denied in it or said to be sound."""
    pieces = _answers(pieces)
    clause: list[_Piece] = []
    hard = True
    for i, piece in enumerate([*pieces, _Piece(".", 0, 0, ".")]):
        follows = pieces[i + 1].raw if i + 1 < len(pieces) else ""
        anew = (
            piece.raw in _SUBJECTS
            or (piece.raw == "it" and follows in _VERBS)
            or (piece.raw == "i" and piece.word == "MAYBE")
            or (piece.raw in _DENIES_ANEW and piece.word == stem(piece.raw))
        )
        if anew and any(not _light(one) for one in clause):
            yield Chunk(tuple(_clause(clause)), hard)
            clause, hard = [], False
        elif piece.raw in _SUBJECTS and not clause:
            hard = True  # ", and it ..." begins anew
        if piece.raw in _HARD | _TURNS or piece.word in (",", "and", "/", "\n"):
            if clause:
                yield Chunk(tuple(_clause(clause)), hard)
                hard = False
            hard = hard or piece.raw in _HARD
            clause = []
        else:
            clause.append(piece)


def _clause(pieces: Sequence[_Piece]) -> list[Token]:
    """The signed words of one clause."""
    tokens: list[Token] = []
    denied, reach = False, 0
    sound_after = False
    for i, piece in enumerate(pieces):
        last = all(_light(other) for other in pieces[i + 1 :])
        if piece.word == "NOMORE":
            denied, reach = True, 0
            continue
        if piece.raw in NEGATIONS and piece.word == stem(piece.raw):
            if last and piece.raw in ("hasnt", "havent", "didnt", "hadnt"):
                continue
            if last and tokens and piece.raw in ("none", "no", "not", "neither", "never", "nor"):
                tokens = [token._replace(sign=DENIED) for token in tokens]
            else:
                denied, reach = True, 0
            continue
        if piece.word == "NONE":
            if tokens and last:
                tokens = [token._replace(sign=DENIED) for token in tokens]
            else:
                denied, reach = True, 0
            continue
        if piece.word == "GONE":
            if (
                piece.raw == "gone"
                and not last
                and pieces[i + 1].word not in CIRCUMSTANCES
                and pieces[i + 1].raw not in _ENDS_DENIAL
            ):
                continue  # gone thin, gone soft
            before = pieces[i - 1].raw if i else ""
            if (
                piece.raw == "gone"
                and tokens
                and before not in _TROUBLES
                and SIGNS.isdisjoint(token.word for token in tokens)
            ):
                tokens.append(Token("bad", DENIED if denied else THERE, piece.start, piece.end))
                continue
            if not last:
                continue  # it goes away when revved: it is there
            turn = THERE if denied else DENIED
            tokens = [token._replace(sign=turn) for token in tokens]
            denied = False
            continue
        if piece.word.startswith("OK"):
            if denied:
                tokens.append(Token("bad", THERE, piece.start, piece.end))
                denied = False
                continue
            if _is_sound(piece, tokens, pieces, i):
                if tokens:
                    tokens = [
                        token if token.sign == DENIED else token._replace(sign=SOUND) for token in tokens
                    ]
                else:
                    sound_after = True
                tokens.append(Token("OK", SOUND, piece.start, piece.end))
                continue
            piece = piece._replace(word=stem(piece.raw))
        if piece.word in ("MAYBE", "SAME"):
            if piece.word == "SAME":
                tokens.append(Token("SAME", THERE, piece.start, piece.end))
            continue
        if piece.raw in _ENDS_DENIAL and piece.word == stem(piece.raw):
            if denied and not reach and tokens and last:
                tokens = [token._replace(sign=DENIED) for token in tokens]
            denied = False
            if piece.raw == "in":
                tokens.append(Token("in", THERE, piece.start, piece.end))
            continue
        if denied and reach and piece.raw in _SUBJECTS:
            denied = False
        if denied and reach and piece.raw in ("cranking", "idling", "running"):
            denied = False
        if piece.raw in ("up", "down") and piece.word == piece.raw and tokens and tokens[-1].word in _RISES:
            tokens.append(
                Token("high" if piece.raw == "up" else "low", THERE, piece.start, piece.end, piece.stems)
            )
            continue
        if piece.raw in ("off", "out") and last and tokens and tokens[-1].word == _LAMP:
            tokens = [token._replace(sign=DENIED) for token in tokens]
            continue
        if piece.raw in STOP and piece.word == stem(piece.raw):
            continue
        if re.fullmatch(r"[\d.,%#/]+|\W+", piece.word):
            if piece.word in _SIMPLE_NUMBERS:
                tokens.append(Token(piece.word.lstrip("#"), THERE, piece.start, piece.end))
            continue
        word, lacking = piece.word.removesuffix("-"), piece.word.endswith("-")
        sign = DENIED if denied != lacking else SOUND if sound_after else THERE
        tokens.append(Token(word, sign, piece.start, piece.end, piece.stems))
        if denied:
            reach += 1
            denied = reach < 4
    if denied and not reach and tokens:  # the lamp is not; with "has not" after what is gone it is there
        tokens = [token._replace(sign=DENIED) for token in tokens]
    if any(token.word in NOISES for token in tokens):
        tokens = [token for token in tokens if token.word != _NOISE]
    return _lacking(tokens)


_TROUBLES = frozenset(
    "stuff problem problems trouble issue issues fault faults symptom symptoms it that".split()
)
_SIMPLE_NUMBERS = frozenset()  # numbers say which cylinder, which is the place and not the thing


def _light(piece: _Piece) -> bool:
    return (
        (piece.raw in STOP and piece.word == stem(piece.raw))
        or piece.word == "MAYBE"
        or not piece.word[0].isalnum()
    )


def _is_sound(piece: _Piece, before: Sequence[Token], pieces: Sequence[_Piece], at: int) -> bool:
    """Whether a word such as "good", "tight" or "full" says here that something is sound."""
    word = piece.word.partition(":")[2]
    if not word:
        return True
    if word in PREDICATE_ONLY:
        others = {token.word for token in before} | {other.word for other in pieces[at + 1 : at + 2]}
        if not before or others & _NOT_SOUND_OF.get(word, set()):
            return False
        rest = [other for other in pieces[at + 1 :] if not _light(other)]
        return not rest or rest[0].word in CIRCUMSTANCES or rest[0].raw in _ENDS_DENIAL
    return True


_RISES = frozenset(
    map(stem, "level pressure temperature voltage speed consumption boost compression".split())
)
_FLUIDS = frozenset(map(stem, "oil fuel coolant".split()))
_NOISE, _LAMP = stem("noise"), stem("lamp")
NOISES = frozenset(map(stem, "knock tick rattle whine squeal grind hiss click growl hum howl".split()))
"""A knocking noise is a knock."""
CIRCUMSTANCES = frozenset(
    map(
        stem,
        "hot cold idle load hill unloaded wet standing bumps road key intermittent sudden gradual front rear".split(),
    )
)
"""When and where it shows. They are never denied by themselves."""
WANTED = frozenset(
    map(
        stem,
        """power start crank pressure boost fuel charge heat flow voltage signal communicate compression prime spark
        throttle response vacuum supply delivery oil coolant drive current""".split(),
    )
)
"""What should be there: low, weak or lost says that it lacks."""
SIGNS = frozenset(
    map(
        stem,
        """smoke noise knock tick rattle whine squeal grind hiss vibration leak smell code misfire hunt rough overheat lamp
        stutter bubble hesitate stall fault click""".split(),
    )
)
"""What should not be there: gone says that it is not there any more, where a part that is gone has failed."""


def _lacking(tokens: list[Token]) -> list[Token]:
    """Low pressure is pressure lacking; circumstances carry no sign but "sound"."""
    found: list[Token] = []
    for i, token in enumerate(tokens):
        if token.word == "low" and token.sign != SOUND:
            near = [*tokens[i + 1 : i + 3], *tokens[max(i - 2, 0) : i]]
            if any(other.word in WANTED for other in near):
                continue
        found.append(token)
    lows = [(i, token) for i, token in enumerate(tokens) if token.word == "low" and token.sign != SOUND]
    for i, low in lows:
        near = [j for j in (i + 1, i + 2, i - 1, i - 2) if 0 <= j < len(tokens) and tokens[j].word in WANTED]
        if near:
            best = next((j for j in near if tokens[j].word not in _FLUIDS), near[0])
            if tokens[best].word in _FLUIDS and not (
                abs(best - i) == 1 and (best < i or _ends(tokens, best))
            ):
                found.insert(min(i, len(found)), low)
                continue
            sign = SOUND if low.sign == DENIED else DENIED
            found = [t._replace(sign=sign) if t == tokens[best] else t for t in found]
    if any(t.word != "OK" and t.word not in CIRCUMSTANCES for t in found):
        found = [t for t in found if t.word != "OK"]
    return [t._replace(sign=THERE) if t.word in CIRCUMSTANCES and t.sign == DENIED else t for t in found]


def raw_stems(text: str) -> frozenset[str]:
    """The stems of a text as written, without words that say nothing."""
    return frozenset(
        stem(raw.text) for raw in raw_words(text) if raw.text not in STOP and raw.text[0].isalnum()
    )


def _ends(tokens: Sequence[Token], at: int) -> bool:
    """Nothing but circumstances stands behind this word."""
    return all(token.word in CIRCUMSTANCES for token in tokens[at + 1 :])


def words_of(tokens: Iterable[Token]) -> list[str]:
    """Just the words."""
    return [token.word for token in tokens]
