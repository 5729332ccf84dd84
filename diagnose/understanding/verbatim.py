"""What is said word for word as the knowledge has it: a whole sentence that is a name or an alias.

Such words mean what the knowledge says they mean, whatever they look like: "head off chamber caked black" is no
work done, and "over months", all of whose words are everyday words, is no gap.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import diagnose.understanding.parts as kinds
from diagnose.understanding.index import NameIndex
from diagnose.understanding.large import said_at_large
from diagnose.understanding.parts import TextPart
from diagnose.understanding.readings_in_text import Value
from diagnose.understanding.signed_likeness import PRESENT
from diagnose.words.pieces import bare
from diagnose.words.polarity import Token

_SENTENCE = re.compile(r"[^.;!?\n]+(?:[.;!?](?!\s|$)[^.;!?\n]*)*")


def named_whole(index: NameIndex, text: str, values: Sequence[Value]) -> Iterator[TextPart]:
    """The sentences that are a finding's name or alias; none that holds a value of a known quantity, or denies at
    large."""
    for sentence in _SENTENCE.finditer(text):
        said = sentence[0].strip(" ,")
        number = index.called(bare(said))
        if number is None or text[sentence.end() :].startswith("?"):
            continue
        start = sentence.start() + sentence[0].index(said)
        end = start + len(said)
        measured = any(value.named and value.span.start < end and start < value.span.end for value in values)
        tokens = [token for clause in index.clauses(said) for token in clause.tokens]
        if not measured and not said_at_large(index, tokens) and not _general(index, number, tokens):
            yield TextPart(kinds.FINDING, start, end, said, index.ids[number], PRESENT)


def _general(index: NameIndex, number: int, tokens: Sequence[Token]) -> bool:
    """The plain words are the name of the general finding: no start is any engine that does not start."""
    said = {token.word: token.sign for token in tokens}
    generals = index.generals.get(index.ids[number], ())
    return any(index.name(index.ids.index(id)) == said for id in generals)
