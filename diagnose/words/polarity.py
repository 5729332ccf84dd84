"""The grammar of one clause: what is there, what is denied (-) and what is said to be sound (g).

A denial holds for what comes after it, up to the next preposition; at the end of a clause ("smoke gone", "leaks:
none") for what stands before it. A word such as "ok" makes its clause sound. Low pressure is pressure lacking.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from diagnose.words.grammar import (
    CIRCUMSTANCES,
    ENDS_DENIAL,
    FLUIDS,
    LAMP,
    NOISE,
    NOISES,
    NOT_SOUND_OF,
    PACKED,
    PREDICATE_ONLY,
    RISES,
    SIGNS,
    TROUBLES,
    WANTED,
)
from diagnose.words.opposites import SIDE_OF
from diagnose.words.pieces import Piece
from diagnose.words.stems import stem, words
from diagnose.words.vocabulary import NEGATIONS, STOP

THERE, DENIED, SOUND = "+", "-", "g"
REACH = 4  # words that one denial holds for
_PERFECT = frozenset(["hasnt", "havent", "didnt", "hadnt"])
_AFTERWARDS = frozenset(words("none no not neither never nor"))
_AUXILIARY = frozenset(["wont", "cant", "cannot", "doesnt", "dont", "didnt", "wouldnt", "couldnt"])
_BEING = frozenset(["not", "isnt", "arent", "wasnt", "aint", "never"])
UNABLE = "~"
"""Among the stems of a word: it is denied as what something does not do, and so may well be the fault."""
SOUND_MARK = "!"
"""Before the word by which something is said to be sound, among the stems of what is: it tells what it has not."""
SIDE_MARK = "^"
"""Before the side, among the stems of the word that it is said of: above the plate, left battery."""
MARKS = (UNABLE, SOUND_MARK, SIDE_MARK)
_COUNTS = frozenset(("many", "few"))
_THERE_WHEN = {stem("hot"): stem("cold"), stem("cold"): stem("hot")}
"""What goes away hot is there cold."""
_TO_ZERO = frozenset(words("to at on near reads read says shows"))
_ENDED = frozenset(["stopped", "quit", "stops", "quits"])
_WHEN = frozenset(["after", "when", "at", "until", "while", "once", "before", "even"])
_OPENS = frozenset(["ok", "okay", "well", "alright", "right", "good"])
_GOES_ON = frozenset(
    words("so i im we here heres guys yeah its it this the then basically um uh listen look he she")
)
_MEASURED = WANTED - set(map(stem, ["start", "crank", "prime", "communicate", "drive"]))
"""Of what should be there, what can be low: 8.9 volts cranking is not cranking that lacks."""
_DOING = frozenset(["cranking", "idling", "running"])


class Token(NamedTuple):
    """One plain word with its sign and its place in the text; `raw`: its stems as written."""

    word: str
    sign: str
    start: int
    end: int
    raw: tuple[str, ...] = ()


def signed(pieces: Sequence[Piece]) -> list[Token]:
    """The signed words of one clause."""
    return _Clause(pieces).read()


class _Clause:
    """One clause, read from left to right."""

    def __init__(self, pieces: Sequence[Piece]):
        self.pieces = pieces
        self.tokens: list[Token] = []
        self.denied = False
        self.reach = 0
        self.sound_after = False
        self.unable = False
        self.mark = ""
        self.gone_at: int | None = None
        self.side: tuple[str, ...] = ()

    def read(self) -> list[Token]:
        """All signed words."""
        rules: tuple[Callable[[Piece, int], bool], ...] = (
            self._denial, self._gone, self._sound, self._mark, self._preposition, self._direction, self._light,
        )  # fmt: skip
        for at, piece in enumerate(self.pieces):
            self._side(piece, at)
            if not any(rule(piece, at) for rule in rules):
                self._word(piece)
        if self.side and self.tokens:  # the dial reads below
            self.tokens[-1] = self.tokens[-1]._replace(raw=(*self.tokens[-1].raw, *self.side))
        if self.denied and not self.reach:  # the lamp is not
            self._turn(DENIED)
        if self.gone_at is not None:
            before, behind = self.tokens[: self.gone_at], self.tokens[self.gone_at :]
            self.tokens = [*before, *(t._replace(word=_THERE_WHEN.get(t.word, t.word)) for t in behind)]
        if any(token.word in NOISES for token in self.tokens):
            self.tokens = [token for token in self.tokens if token.word != NOISE]
        return _lacking(self.tokens)

    def _last(self, at: int) -> bool:
        return all(other.light for other in self.pieces[at + 1 :])

    def _turn(self, sign: str) -> None:
        """Everything so far gets this sign; what is denied stays denied where it is sound."""
        keep = DENIED if sign == SOUND else ""
        self.tokens = [token if token.sign == keep else token._replace(sign=sign) for token in self.tokens]

    def _add(self, word: str, sign: str, piece: Piece, stems: tuple[str, ...] = ()) -> None:
        self.tokens.append(Token(word, sign, piece.start, piece.end, (*stems, *self.side)))
        self.side = ()

    def _side(self, piece: Piece, at: int) -> None:
        """Above and below, left and right, too many and too few are kept with what comes behind them."""
        before = self.pieces[at - 1].raw if at else ""
        idle = before == "all" or (piece.raw in _COUNTS and before != "too")  # all over; a few
        if piece.plain and not idle and (side := SIDE_OF.get(piece.raw)):
            self.side = (SIDE_MARK + side,)

    def _deny(self, unable: bool = False) -> None:
        self.denied, self.reach, self.unable = True, 0, unable

    def _denial(self, piece: Piece, at: int) -> bool:
        if piece.raw == "zero" and at and self.pieces[at - 1].raw in _TO_ZERO:
            return True  # the needle drops to zero, which denies nothing
        if piece.word == "NOMORE":
            if not self._last(at):
                self._deny()
            elif all(token.sign != DENIED and token.word != "bad" for token in self.tokens):
                self._turn(DENIED)  # smokes no more, but not: does not work no more
        elif piece.word == "NONE" or (piece.raw in NEGATIONS and piece.plain):
            last = self._last(at)
            if last and piece.raw in _PERFECT:
                return True  # the smoke is gone, the knock has not
            if last and self.tokens and (piece.word == "NONE" or piece.raw in _AFTERWARDS):
                self._turn(DENIED)
            else:
                self._deny(piece.raw in _AUXILIARY or self._of_doing(piece, at))
        else:
            return False
        return True

    def _of_doing(self, piece: Piece, at: int) -> bool:
        """Not opening, not turning: what something does not do."""
        return piece.raw in _BEING and any(
            other.raw.endswith("ing") for other in self.pieces[at + 1 : at + 2]
        )

    def _gone(self, piece: Piece, at: int) -> bool:
        if piece.word != "GONE":
            return False
        last = self._last(at)
        if piece.raw in _ENDED and any(other.raw.endswith("ing") for other in self.pieces[at + 1 : at + 2]):
            self._deny()  # stopped smoking, quit charging
            return True
        if not last:
            self.gone_at = len(self.tokens)
        if piece.raw == "gone" and not last and not self._condition(at + 1):
            return True  # gone thin, gone soft
        if piece.raw == "gone" and self._of_a_part(at):
            self._add("bad", DENIED if self.denied else THERE, piece)
        elif last:  # it goes away when revved: it is there
            self._turn(THERE if self.denied else DENIED)
            self.denied = False
        return True

    def _condition(self, at: int) -> bool:
        return self.pieces[at].word in CIRCUMSTANCES or self.pieces[at].raw in ENDS_DENIAL

    def _of_a_part(self, at: int) -> bool:
        """What is gone is no sign but a part, which has failed."""
        before = self.pieces[at - 1].raw if at else ""
        return (
            bool(self.tokens)
            and before not in TROUBLES
            and SIGNS.isdisjoint(token.word for token in self.tokens)
        )

    def _sound(self, piece: Piece, at: int) -> bool:
        if not piece.word.startswith("OK"):
            return False
        if not at and piece.raw in _OPENS and any(other.raw in _GOES_ON for other in self.pieces[1:2]):
            return True  # okay so ...
        if self.denied:
            self._add("bad", THERE, piece)
            self.denied = False
            return True
        if not self._says_sound(piece, at):
            if piece.raw not in STOP:
                self._word(piece._replace(word=stem(piece.raw)))
            return True
        mark = SOUND_MARK + piece.word.partition(":")[2]
        if self.tokens:
            self._turn(SOUND)
            self.tokens = [token._replace(raw=(*token.raw, mark)) for token in self.tokens]
        else:
            self.sound_after, self.mark = True, mark
        self._add("OK", SOUND, piece)
        return True

    def _says_sound(self, piece: Piece, at: int) -> bool:
        """Whether a word such as "good", "tight" or "full" says here that something is sound."""
        word = piece.word.partition(":")[2]
        if word not in PREDICATE_ONLY:
            return True
        others = {token.word for token in self.tokens} | {
            other.word for other in self.pieces[at + 1 : at + 2]
        }
        if not self.tokens or others & NOT_SOUND_OF.get(word, set()):
            return False
        if any(token.word in PACKED and token.sign != DENIED for token in self.tokens):
            return False  # plugged solid
        if any(other.raw in _WHEN for other in self.pieces[at + 1 : at + 2]):
            return True
        rest = [other for other in self.pieces[at + 1 :] if not other.light]
        return not rest or rest[0].word in CIRCUMSTANCES or rest[0].raw in ENDS_DENIAL

    def _mark(self, piece: Piece, _: int) -> bool:
        if piece.word == "SAME":
            self._add("SAME", THERE, piece)
        return piece.word in ("SAME", "MAYBE")

    def _preposition(self, piece: Piece, at: int) -> bool:
        if piece.raw not in ENDS_DENIAL or not piece.plain:
            return False
        if self.denied and not self.reach and self._last(at):
            self._turn(DENIED)
        self.denied = False
        if piece.raw == "in":
            self._add("in", THERE, piece)
        elif piece.raw == "since" or (piece.raw == "after" and not self.tokens):
            self._add("since", THERE, piece)
        return True

    def _direction(self, piece: Piece, at: int) -> bool:
        """Level up, pressure down, lamp off."""
        if self.denied and self.reach and piece.raw in _DOING:
            self.denied = False
        before = self.tokens[-1].word if self.tokens else ""
        if piece.raw in ("up", "down") and piece.word == piece.raw and before in RISES:
            self._add("high" if piece.raw == "up" else "low", THERE, piece, piece.stems)
            return True
        if piece.raw in ("off", "out") and before == LAMP and self._last(at):
            self._turn(DENIED)
            return True
        return False

    def _light(self, piece: Piece, _: int) -> bool:
        """Words that say nothing, numbers and marks."""
        return (piece.raw in STOP and piece.plain) or not any(letter.isalpha() for letter in piece.word)

    def _heads(self, word: str) -> bool:
        """What stands before it only says which: no oil pressure, no oil leak."""
        return word in WANTED - FLUIDS or (word in SIGNS and self.tokens[-1].word not in SIGNS)

    def _word(self, piece: Piece) -> None:
        word, lacking = piece.word.removesuffix("-"), piece.word.endswith("-")
        sign = DENIED if self.denied != lacking else SOUND if self.sound_after or lacking else THERE
        if self.denied and self.reach and not lacking and self._heads(word):
            self.tokens[-1] = self.tokens[-1]._replace(sign=THERE)
        unable = (UNABLE,) if self.denied and self.unable else ()
        sound = (self.mark,) if self.mark and sign == SOUND else ()
        self._add(word, sign, piece, (*piece.stems, *unable, *sound))
        if self.denied:
            self.reach += 1
            self.denied = self.reach < REACH


def sides_of(tokens: Sequence[Token]) -> frozenset[str]:
    """The sides that are said in signed words: above, below, left, right."""
    marks = {
        raw.removeprefix(SIDE_MARK) for token in tokens for raw in token.raw if raw.startswith(SIDE_MARK)
    }
    return frozenset(marks | {_SIDE_OF_STEM[token.word] for token in tokens if token.word in _SIDE_OF_STEM})


_SIDE_OF_STEM = {stem(word): SIDE_OF[word] for word in ("above", "below")}
"""As expressions have them: overfilled is above the mark."""


def _lacking(tokens: list[Token]) -> list[Token]:
    """Low pressure is pressure lacking; circumstances are not denied; "ok" goes where something else is said."""
    kept = list(tokens)
    merged = set()
    for i, token in enumerate(tokens):
        at = _lacks(tokens, i) if token.word == "low" and token.sign != SOUND else None
        if at is not None:
            sign = SOUND if token.sign == DENIED else DENIED
            kept[at] = kept[at]._replace(sign=sign)
            beside = i + 1 if at > i else i - 1  # the word that is left says "low" as well
            start, end = min(token.start, kept[beside].start), max(token.end, kept[beside].end)
            kept[beside] = kept[beside]._replace(start=start, end=end)
            merged.add(i)
    found = [token for i, token in enumerate(kept) if i not in merged]
    if any(t.word != "OK" and t.word not in CIRCUMSTANCES for t in found):
        found = [t for t in found if t.word != "OK"]
    return [t._replace(sign=THERE) if t.word in CIRCUMSTANCES and t.sign == DENIED else t for t in found]


def _lacks(tokens: Sequence[Token], low: int) -> int | None:
    """The place of what is low: a quantity beside it, or a fluid right beside it with nothing behind."""
    near = [
        j
        for j in (low + 1, low + 2, low - 1, low - 2)
        if 0 <= j < len(tokens) and tokens[j].word in _MEASURED
    ]
    if not near:
        return None
    at = next((j for j in near if tokens[j].word not in FLUIDS), near[0])
    if tokens[at].word not in FLUIDS:
        return at
    closes = all(token.word in CIRCUMSTANCES for token in tokens[at + 1 :])
    return at if abs(at - low) == 1 and (at < low or closes) else None
