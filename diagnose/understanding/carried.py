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
    for chunk in clauses:
        own = [token for token in chunk.tokens if token.word not in _MODIFIERS]
        lean = frozenset(token.word for token in chunk.tokens) - {"OK"}
        if lean and key_of(lean) not in index.sound_with and not chunk.hard and not own and heads and found:
            sign = (
                DENIED
                if any(token.sign == DENIED for token in chunk.tokens)
                else SOUND
                if any(token.sign == SOUND for token in chunk.tokens)
                else None
            )
            at, to = chunk.tokens[0].start, chunk.tokens[-1].end
            colours = {token.word for token in chunk.tokens} & _COLOURS
            lent = [
                Token(head.word, sign or head.sign, at, to)
                for head in heads
                if not (head.word in _COLOURS and colours) and head.word not in CIRCUMSTANCES
            ]
            kept = [token for token in chunk.tokens if token.word != "OK"]
            if sign != DENIED or colours:
                chunk = chunk._replace(tokens=(*lent, *kept), hard=True)
        elif own:
            heads = chunk.tokens
        found.append(chunk)
    return found


_COLOURS = frozenset(map(stem, words("black white blue grey amber red")))
_MODIFIERS = CIRCUMSTANCES | _COLOURS | {"OK"}
