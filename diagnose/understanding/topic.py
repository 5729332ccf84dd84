"""What a clause is of where it does not say so: "EGR cooler out 198 C, sooted up inside"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from diagnose.understanding.candidate_ranking import ranked
from diagnose.understanding.disambiguation import CLEAR, LIKELY
from diagnose.understanding.index import NameIndex
from diagnose.understanding.inspection_results import opened_before
from diagnose.understanding.parts import Alternative, TextPart
from diagnose.understanding.readings_in_text import Value
from diagnose.understanding.segment import WordRun
from diagnose.understanding.signed_likeness import best_of
from diagnose.words.grammar import CIRCUMSTANCES, FAULTS, FLUIDS, SIGNS, SMELL
from diagnose.words.polarity import DENIED, SOUND, THERE, Token
from diagnose.words.spans import Span
from diagnose.words.stems import stem

LONGEST = 3  # words that are lent
ENOUGH = 0.85  # share of the words, with those lent, that the meaning must explain


def topic_of(run: WordRun) -> tuple[Token, ...]:
    """The part or the fluid that a run speaks of."""
    return tuple(
        token._replace(sign=THERE)
        for token in run.tokens
        if token.sign != DENIED
        and token.word not in CIRCUMSTANCES | FAULTS | SIGNS
        and token.word not in ("in", "OK", "SAME")
    )[:LONGEST]


def fluid_of(run: WordRun) -> tuple[Token, ...]:
    """The fluid that a run speaks of; the dipstick is the oil's."""
    for token in run.tokens:
        if token.word in FLUIDS:
            return (token._replace(sign=THERE),)
        if token.word == _DIPSTICK:
            return (token._replace(word=_OIL, sign=THERE, raw=(_OIL,)),)
    return ()


_DIPSTICK, _OIL = stem("dipstick"), stem("oil")


def leans(run: WordRun) -> bool:
    """It begins with a smell, and does not say of what: "and smells of diesel"."""
    return run.tokens[0].word == SMELL and run.tokens[0].sign != DENIED


def of_fluid(index: NameIndex, run: WordRun, fluid: tuple[Token, ...], part: TextPart) -> TextPart:
    """A smell is a question where a fluid was spoken of before, of which it may be."""
    if fluid[0].word in index.bag(index.ids.index(part.id)):
        return part
    at = min(token.start for token in run.tokens)
    lent = (fluid[0]._replace(start=at, end=at), *run.tokens)
    found = ranked(index, best_of(index, lent, 8))
    others = [
        one for one in found if fluid[0].word in index.bag(index.ids.index(one.id)) and one.id != part.id
    ]
    ways = (*others[:2], Alternative(part.id, part.state, ALL_ABOUT))
    return replace(part, id="", state="", sure=False, also=(), alternatives=ways) if others else part


ALL_ABOUT = 0.3  # that it smells all about, where a fluid was named before


def with_topic(index: NameIndex, run: WordRun, topic: tuple[Token, ...], held: bool = False) -> WordRun:
    """The run with the words of the one before, where only so it means something clearly; `held`: they are its own,
    as of the part that somebody has in his hand."""
    words = {token.word for token in run.tokens}
    lent = [token for token in topic if token.word not in words]
    if any(token.sign == DENIED for token in run.tokens):
        return run
    if not lent or not 0 < len(words - CIRCUMSTANCES - {"OK"}) <= LONGEST:
        return run
    own = ranked(index, run.candidates)[0].likelihood if run.candidates else 0.0
    if own >= LIKELY and not _leans(run):
        return run
    at = min(token.start for token in run.tokens)
    sign = SOUND if any(token.sign == SOUND for token in run.tokens) else THERE
    for some in (lent[:1], lent[-1:], lent):
        tokens = (*(Token(token.word, sign, at, at, token.raw) for token in some), *run.tokens)
        candidates = tuple(best_of(index, tokens, 8))
        if not candidates:
            continue
        best = ranked(index, candidates)[0]
        explained = max(one.explained for one in candidates if index.ids[one.finding] == best.id)
        least = CLEAR if _leans(run) else max(CLEAR, own)
        if best.likelihood >= least and explained >= ENOUGH:
            return WordRun(tokens if held else tuple(run.tokens), candidates)
    return run


def _leans(run: WordRun) -> bool:
    """It begins with what something does, and so leans on what was named before: "and stinks of diesel"."""
    first = run.tokens[0]
    return first.word in SIGNS and first.sign != DENIED


def spoken_of(index: NameIndex, values: Sequence[Value], text: str, run: WordRun) -> tuple[Token, ...]:
    """What the last value before a run was of."""
    at = min((token.start for token in run.tokens), default=0)
    before = [value for value in values if value.span.start < at]
    if not before:
        return ()
    words = index.clauses(text[before[-1].words.start : before[-1].span.start])
    return tuple(token for clause in words for token in clause.tokens if token.word not in CIRCUMSTANCES)[
        :LONGEST
    ]


def opened(index: NameIndex, text: str, past: Sequence[Span], run: WordRun) -> tuple[Token, ...]:
    """The part that one got at right before a run."""
    words = opened_before(text, past, min((token.start for token in run.tokens), default=0))
    return (
        tuple(token for clause in index.clauses(words) for token in clause.tokens)[:LONGEST] if words else ()
    )
