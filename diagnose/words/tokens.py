"""A text as clauses of plain words with signs. Names and aliases of the knowledge are read by the same grammar, so
that the two sides meet."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from diagnose.words.expression import Slang
from diagnose.words.grammar import ANSWERS, DENIES_ANEW, HARD, SOFT, SUBJECTS, TURNS, VERBS
from diagnose.words.pieces import Piece, pieces_of, raw_words
from diagnose.words.polarity import Token, signed
from diagnose.words.shortened import Raw

Correct = Callable[[str], str]
_WHICH = re.compile(r"\b(?:no|nr|number|num)\.?\s?(?=#?\d)", re.IGNORECASE)  # number 5, which is no denial
_OF_ONE = re.compile(
    r"(?:\b(?:cyl(?:inder)?s?|no|nr|number|hole|pot)\.?\s?|#)(\d{1,2} )(?=(?:exhaust|inlet|intake)\b(?! (?:"
    r"valve|port|manifold|mani|temp|pipe|stack|runner|elbow|gasket|leak|gas|smoke|flange|stud|bolt)))",
    re.IGNORECASE,
)
"""Number 6 exhaust: its valve."""
_JOINTS = frozenset((",", "and", "/", "\n"))


class Clause(NamedTuple):
    """A clause: its tokens; `hard`: what comes before it cannot belong to the same thing."""

    tokens: tuple[Token, ...]
    hard: bool


def clauses_of(text: str, correct: Correct = str, slang: Slang = ()) -> list[Clause]:
    """The clauses of a text, with their signed words."""
    written, text = text, _WHICH.sub(lambda found: " " * len(found[0]), text)
    raws = [raw._replace(text=correct(raw.text)) for raw in _with_valves(written, raw_words(text))]
    return [clause for clause in _clauses(_answers(pieces_of(raws, slang))) if clause.tokens]


def _with_valves(text: str, raws: Sequence[Raw]) -> Iterator[Raw]:
    """The exhaust of one cylinder is its valve: ticking number 6 exhaust."""
    valves = {found.end() for found in _OF_ONE.finditer(text)}
    for raw in raws:
        yield raw
        if raw.start in valves:
            yield raw._replace(text="valve")


def _answers(pieces: Sequence[Piece]) -> list[Piece]:
    """Without the mark in "codes? none" and "leaks: nil", so that the answer stays with what it answers."""
    return [piece for i, piece in enumerate(pieces) if not (_boundary(piece) and _answered(pieces, i + 1))]


def _boundary(piece: Piece) -> bool:
    return piece.raw in HARD or piece.raw in SOFT


def _answered(pieces: Sequence[Piece], at: int) -> bool:
    """A lone "none" stands here, and then nothing or the next mark."""
    if at >= len(pieces) or pieces[at].raw not in ANSWERS:
        return False
    return at + 1 == len(pieces) or _boundary(pieces[at + 1])


def _clauses(pieces: Sequence[Piece]) -> Iterator[Clause]:
    """Clause by clause: at marks and conjunctions, and where a new subject or a new denial begins."""
    clause: list[Piece] = []
    hard = True
    for i, piece in enumerate([*pieces, Piece(".", 0, 0, ".")]):
        if _begins(pieces, i) and not all(one.light for one in clause):
            yield Clause(tuple(signed(clause)), hard)
            clause, hard = [], False
        elif not clause and (piece.raw in SUBJECTS or piece.word == "MAYBE"):
            hard = True  # ", and it ..." begins anew, and so does ", could be ..."
        if piece.raw in HARD or piece.raw in TURNS or piece.word in _JOINTS:
            if clause:
                yield Clause(tuple(signed(clause)), hard)
                hard = False
            hard = hard or piece.raw in HARD
            clause = []
        else:
            clause.append(piece)


def _lacks_anew(pieces: Sequence[Piece], at: int) -> bool:
    """Two expressions of something lacking, one after the other: won't crank won't start."""
    one, other = pieces[at - 1] if at else None, pieces[at]
    return (
        one is not None and one.word.endswith("-") and other.word.endswith("-") and one.start != other.start
    )


def _begins(pieces: Sequence[Piece], at: int) -> bool:
    """A clause begins here without a mark."""
    if at >= len(pieces):
        return False
    piece = pieces[at]
    follows = pieces[at + 1].raw if at + 1 < len(pieces) else ""
    return (
        piece.raw in SUBJECTS
        or (piece.raw == "it" and follows in VERBS)
        or (piece.raw == "i" and piece.word == "MAYBE")
        or (piece.raw in DENIES_ANEW and (piece.plain or piece.word.endswith("-")))
        or _lacks_anew(pieces, at)
    )
