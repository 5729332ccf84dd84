"""Findings that cannot both be meant: what one name says, another denies.

"Does not crank" and "Cranks but does not start" are never both recorded of one text. Which pairs exclude each other
is no list; it stands in the signed words of the names.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import diagnose.understanding.parts as kinds
from diagnose.understanding.index import NameIndex
from diagnose.understanding.parts import TextPart
from diagnose.understanding.signed_likeness import PRESENT
from diagnose.words.grammar import CIRCUMSTANCES, WANTED
from diagnose.words.polarity import DENIED, THERE


def exclude(index: NameIndex, one: int, other: int) -> bool:
    """Whether two findings' names say the opposite of each other."""
    return bool(_affirmed(index, one) & _denied(index, other)) or bool(
        _denied(index, one) & _affirmed(index, other)
    )


def _affirmed(index: NameIndex, finding: int) -> set[str]:
    return {word for word, sign in index.name(finding).items() if sign == THERE} & WANTED - CIRCUMSTANCES


def _denied(index: NameIndex, finding: int) -> set[str]:
    return {word for word, sign in index.name(finding).items() if sign == DENIED} & WANTED - CIRCUMSTANCES


def compatible(
    index: NameIndex, parts: Iterable[TextPart], said: Sequence[frozenset[tuple[str, str]]]
) -> list[TextPart]:
    """The parts without those whose finding says the opposite of another's, in words that nobody used; `said`:
    the signed words of each part."""
    listed = list(parts)
    return [
        part
        for number, part in enumerate(listed)
        if not any(
            _against(index, part, said[number], other, said[i])
            for i, other in enumerate(listed)
            if i != number
        )
    ]


def _against(
    index: NameIndex,
    part: TextPart,
    own: frozenset[tuple[str, str]],
    other: TextPart,
    others: frozenset[tuple[str, str]],
) -> bool:
    """The finding's name takes for granted what the other part denies in so many words."""
    if not (_sure(part) and _sure(other)) or part.id == other.id:
        return False
    one, two = index.ids.index(part.id), index.ids.index(other.id)
    granted = _affirmed(index, one) & _denied(index, two)
    denied = {word for word, sign in others if sign == DENIED}
    spoken = {word for word, _ in own}
    return bool(granted & denied - spoken)


def not_both(found: Sequence[TextPart]) -> list[TextPart]:
    """What is denied at large is not denied of what the text says is there: belt good, but squeals when wet."""
    there = {part.id for part in found if part.sure and part.state == PRESENT}
    kept = []
    for part in found:
        denied = [id for id in (part.id, *part.also) if id not in there]
        if part.sure and part.also and part.state != PRESENT:
            if denied:
                kept.append(replace(part, id=denied[0], also=tuple(denied[1:])))
        else:
            kept.append(part)
    return kept


def _sure(part: TextPart) -> bool:
    return part.kind == kinds.FINDING and part.sure and part.state == PRESENT
