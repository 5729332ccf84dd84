"""A clause that says only how and when takes what it is of from the one before: black cold, blue hot."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.understanding.index import NameIndex
from diagnose.understanding.large import key_of
from diagnose.words.grammar import CIRCUMSTANCES
from diagnose.words.polarity import DENIED, SOUND, Token
from diagnose.words.stems import stem, words
from diagnose.words.tokens import Clause


def carried(index: NameIndex, clauses: Sequence[Clause]) -> list[Clause]:
    """A clause that says only how and when takes what it is of from the one before: black cold, blue hot."""
    found: list[Clause] = []
    heads: tuple[Token, ...] = ()
    for clause in clauses:
        own = [token for token in clause.tokens if token.word not in _MODIFIERS]
        lean = frozenset(token.word for token in clause.tokens) - {"OK"}
        if lean and key_of(lean) not in index.sound_with and not clause.hard and not own and heads and found:
            sign = (
                DENIED
                if any(token.sign == DENIED for token in clause.tokens)
                else SOUND
                if any(token.sign == SOUND for token in clause.tokens)
                else None
            )
            at, to = clause.tokens[0].start, clause.tokens[-1].end
            colours = {token.word for token in clause.tokens} & _COLOURS
            lent = [
                Token(head.word, sign or head.sign, at, to)
                for head in heads
                if not (head.word in _COLOURS and colours) and head.word not in CIRCUMSTANCES
            ]
            kept = [token for token in clause.tokens if token.word != "OK"]
            if sign != DENIED or colours:
                clause = clause._replace(tokens=(*lent, *kept), hard=True)
        elif own:
            heads = clause.tokens
        found.append(clause)
    return found


_COLOURS = frozenset(map(stem, words("black white blue grey amber red")))
_MODIFIERS = CIRCUMSTANCES | _COLOURS | {"OK"}
