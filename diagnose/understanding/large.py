"""What is said at large: no smoke, no leaks; temperature normal, oil pressure good.

Which findings are so denied stands in the knowledge (`denied_with`, `sound_with`)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.understanding.index import NameIndex
from diagnose.words.grammar import CIRCUMSTANCES
from diagnose.words.polarity import DENIED, SOUND, Token


def key_of(words: Iterable[str]) -> str:
    """Words in any order as one key, without praise."""
    return " ".join(sorted({*words} - {"OK"}))


def sound_at_large(index: NameIndex, tokens: Sequence[Token]) -> Sequence[str]:
    """The findings denied where something common is said to be in order: temperature normal, oil pressure good."""
    words = {token.word for token in tokens} - {"OK"}
    if words <= CIRCUMSTANCES and tokens[0].word == "OK":
        return ()  # ok at idle says nothing of the idle
    return index.sound_with.get(key_of(words), ()) if all(one.sign == SOUND for one in tokens) else ()


def at_large(index: NameIndex, tokens: Sequence[Token]) -> Sequence[str]:
    """The findings denied where something is denied of every kind: no smoke, no leaks."""
    words = key_of(token.word for token in tokens)
    return index.denied_with.get(words, ()) if all(one.sign == DENIED for one in tokens) else ()


def said_at_large(index: NameIndex, tokens: Sequence[Token]) -> Sequence[str]:
    """Either of the two."""
    return sound_at_large(index, tokens) or at_large(index, tokens)
