"""A text becomes parts: codes, what is told of the machine and its past, values, and findings with their states."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import diagnose.understanding.parts as kinds
from diagnose.knowledge.records import Knowledge
from diagnose.understanding.aside import asked_about, said_aside
from diagnose.understanding.beside import (
    at_the_joint,
    by_its_value,
    certain,
    over_a_joint,
    with_denial,
    with_neighbours,
)
from diagnose.understanding.carried import carried
from diagnose.understanding.codes_in_text import CodeSaid, codes_in
from diagnose.understanding.content_words import telling
from diagnose.understanding.disambiguation import decided
from diagnose.understanding.exclusive import compatible, not_both
from diagnose.understanding.history_in_text import HistoryItem, told_in
from diagnose.understanding.index import NameIndex, index_of
from diagnose.understanding.manner import manner_in
from diagnose.understanding.parts import Alternative, TextPart, Understanding
from diagnose.understanding.place import circumstances_in, places_in
from diagnose.understanding.readings_in_text import Value, values_in
from diagnose.understanding.segment import CANDIDATES, WordRun, segmented
from diagnose.understanding.signed_likeness import best_of
from diagnose.understanding.taken_away import taken_away
from diagnose.understanding.topic import fluid_of, leans, of_fluid, opened, spoken_of, topic_of, with_topic
from diagnose.understanding.verbatim import named_whole
from diagnose.words.certainty import confidence_in, supposes
from diagnose.words.grammar import CIRCUMSTANCES, FAULTS, LAMP, SIGNS
from diagnose.words.numerals import in_digits
from diagnose.words.polarity import DENIED, SOUND, Token
from diagnose.words.spans import Span, masked
from diagnose.words.stems import stem, words
from diagnose.words.stretches import clause_around, sentences_with
from diagnose.words.tokens import Clause

NO_OTHERS = re.compile(
    r"\b(?:no|zero|without)\s+(?:other|more|further|stored|active|fault|trouble|error|logged)?\s*"
    r"(?:fault |trouble |active |stored )?"
    r"(?:codes?|dtcs?|faults? (?:codes?|stored|logged|showing)?)\b(?!\s+(?:in|for|about))|\bcodes?"
    r"\s*[?:,-]?\s*(?:none|nil|no\b)|"
    r"\bnothing else (?:stored|logged|showing|in there)\b|\b(?:isn'?t|aren'?t|not|wasn'?t) (?:a|"
    r"any) (?:fault )?codes?\b|"
    r"\bno codes?\b|"
    r"\b(?:all )?(?:the )?codes (?:are |all |were )?(?:gone|cleared)\b|\bblank of any (?:faults|codes)\b|"
    r"\bnothing (?:stored|logged|in the (?:fault )?memory)\b",
    re.IGNORECASE,
)
_ELSE = re.compile(r"\bnothing else\b|\bno others?\b", re.IGNORECASE)


def understand(knowledge: Knowledge, text: str) -> Understanding:
    """What a text says, part by part."""
    places = [at for at, letter in enumerate(text) if not (letter == " " and text[at + 1 : at + 2] == " ")]
    if len(places) == len(text):
        return _understood(knowledge, text)
    found = _understood(knowledge, "".join(text[at] for at in places))  # of several blanks one is read
    places.append(len(text))
    parts = (replace(part, start=places[part.start], end=places[part.end]) for part in found.parts)
    return Understanding(text, tuple(parts), found.not_understood)


def _understood(knowledge: Knowledge, text: str) -> Understanding:
    index = index_of(knowledge)
    written, text = text, in_digits(text)
    codes = codes_in(text)
    rest = masked(text, [one.span for one in codes])
    closed = _no_codes(rest, codes)
    rest = masked(rest, [Span(part.start, part.end) for part in closed], ",")
    away = list(taken_away(knowledge, rest))
    rest = masked(rest, [Span(part.start, part.end) for part in away], ".")
    asked, aside = list(asked_about(rest)), list(said_aside(rest))
    rest = masked(rest, [*(Span(part.start, part.end) for part in asked), *aside], ".")
    told = told_in(knowledge, rest)
    values = values_in(knowledge, masked(rest, [one.span for one in told if one.kind == kinds.HOURS]))
    coded = [one.span for one in codes] + [Span(part.start, part.end) for part in closed]
    named = [] if coded else list(named_whole(index, rest, values))
    very = [Span(part.start, part.end) for part in named]
    told = [one for one in told if not (one.whole and _meets(one, very))]
    rest = masked(rest, very, ".")
    found, missed = _findings(index, rest, told, values, sentences_with(text, coded))
    found = _once([*named, *found])
    every = [
        *(_code(text, one) for one in codes if one.code.trouble or one.code.spn),
        *closed,
        *away,
        *asked,
        *(_told(text, one) for one in told),
        *(_value(text, one) for one in values),
        *found,
        *manner_in(knowledge, rest, found),
        *places_in(text),
        *circumstances_in(text, index.clauses(rest)),
    ]
    parts = (replace(part, text=_as_written(written, part)) for part in every)
    listed = sorted(parts, key=lambda part: (part.start, part.end))
    missed = sorted([*missed, *aside], key=lambda one: one.start)
    return Understanding(written, tuple(listed), tuple(written[one.start : one.end] for one in missed))


def _meets(told: HistoryItem, spans: Sequence[Span]) -> bool:
    return any(span.meets(told.span.start, told.span.end) for span in spans)


def _as_written(text: str, part: TextPart) -> str:
    """The words of a part, with its number as it was written."""
    return text[part.start : part.end].strip(" ,")


def findings_in(knowledge: Knowledge, text: str) -> dict[str, float]:
    """The findings that a text speaks of, with how likely each is meant."""
    found: dict[str, float] = {}
    for part in understand(knowledge, text).parts:
        if part.kind == kinds.FINDING:
            found |= {id: 1.0 for id in (part.id, *part.also) if id}
            found |= {one.id: one.likelihood for one in part.alternatives if one.id not in found}
    return found


# ---- codes, machine, values ----


def _code(text: str, said: CodeSaid) -> TextPart:
    start, end = said.span.start, said.span.end
    may_be = [one.text for one in (said.code, said.other) if one] if not said.certain else []
    return TextPart(
        kinds.CODE,
        start,
        end,
        text[start:end],
        "" if may_be else said.code.text,
        sure=said.certain,
        alternatives=tuple(Alternative(one, "", 0.5) for one in may_be),
    )


def _no_codes(text: str, codes: Sequence[CodeSaid]) -> list[TextPart]:
    found = NO_OTHERS.search(text) or (_ELSE.search(text) if codes else None)
    if found is None:
        return []
    return [TextPart(kinds.NO_CODES, *found.span(), found[0].strip())]


def _told(text: str, told: HistoryItem) -> TextPart:
    start, end = told.span.start, told.span.end
    return TextPart(
        told.kind, start, end, text[start:end], told.fact, told.value, told.hours, "h" if told.hours else ""
    )


def _value(text: str, value: Value) -> TextPart:
    start, end = value.words.start, value.words.end
    while start < end and not text[start].isalnum() and text[start] not in "-+.":
        start += 1
    best = value.quantities[0].id if value.sure and value.quantities else ""
    kind = kinds.HISTORY if value.bound else kinds.READING
    return TextPart(
        kind,
        start,
        end,
        text[start:end].strip(" ,"),
        best,
        "",
        value.value,
        value.unit or value.written,
        sure=value.sure or value.bound or not value.quantities,
        alternatives=() if value.sure or value.bound else value.quantities,
    )


# ---- findings ----


def _findings(
    index: NameIndex, text: str, told: Sequence[HistoryItem], values: Sequence[Value], coded: Sequence[Span]
) -> tuple[list[TextPart], list[Span]]:
    past = [one.span for one in told if one.whole]
    plain = masked(text, past, ".")
    plain = masked(plain, [_with_lead(text, value) for value in values])
    phrases = _without_values(index.clauses(plain), values)
    phrases = [
        clause._replace(
            tokens=tuple(
                token
                for token in clause.tokens
                if token.word not in _CODE_WORDS
                or not any(one.meets(token.start, token.end) for one in coded)
            )
        )
        for clause in phrases
    ]
    phrases = carried(index, phrases)
    found: list[TextPart] = []
    spoken: list[frozenset[tuple[str, str]]] = []
    missed: list[Span] = []
    topic: tuple[Token, ...] = ()
    fluid: tuple[Token, ...] = ()
    runs = [one for run in segmented(index, phrases) for one in _parted(index, text, run)]
    for number, run in enumerate(runs):
        in_hand = opened(index, text, past, run)
        before = in_hand or topic or spoken_of(index, values, text, run)
        smells = leans(run) and fluid and not {token.word for token in run.tokens} >= {fluid[0].word}
        part = _part(index, text, with_topic(index, run, fluid if smells else before, bool(in_hand)))
        if part and part.sure and smells:
            part = of_fluid(index, run, fluid, part)
        if part and part.sure and part.kind == kinds.FINDING:
            part = with_neighbours(index, text, runs, number, part)
            part = by_its_value(values, part, telling(index, run)) if part else part
        topic = topic_of(run) or topic
        fluid = fluid_of(run) or fluid
        if part is None:
            missed += _missed(text, run)
        else:
            found.append(part)
            spoken.append(frozenset((token.word, token.sign) for token in run.tokens))
    return _once(not_both(compatible(index, found, spoken))), missed


def _parted(index: NameIndex, text: str, run: WordRun) -> list[WordRun]:
    """A run over a comma or an "and" as two, where each side means something by itself and the whole is not
    certain: coolant going down, no leaks outside."""
    sides = at_the_joint(text, run) if run.candidates else None
    if sides is None:
        return [run]
    whole = decided(index, run, 0, 0, "")
    if whole is None or not whole.sure or certain(index, text, run, whole):
        return [run]
    parted = [WordRun(side, tuple(best_of(index, side, CANDIDATES))) for side in sides]
    clear = [
        one for one in parted if one.candidates and (part := decided(index, one, 0, 0, "")) and part.sure
    ]
    return parted if clear else [run]


def _without_values(clauses: Sequence[Clause], values: Sequence[Value]) -> list[Clause]:
    """Without the words that only name a value, unless they tell a fault as well."""
    return [
        clause._replace(
            tokens=tuple(token for token in clause.tokens if not _names_value(clause, token, values))
        )
        for clause in clauses
    ]


_LEAD = re.compile(
    r"\b(?:drop|fall|fell|rise|rose|climb|go|went|come|came|get|got|sit|sat|stay|hold|held|hover)\w* +"
    r"(?:back +|up +|down +|away +|off +)?(?:to|at|around|round|about) *$",
    re.IGNORECASE,
)


def _with_lead(text: str, value: Value) -> Span:
    """A value with the words that only lead to it: drops to 8.9 V."""
    lead = _LEAD.search(text[: value.span.start]) if value.quantities else None
    return Span(lead.start(), value.span.end) if lead else value.span


def _names_value(clause: Clause, token: Token, values: Sequence[Value]) -> bool:
    for value in values:
        if (value.quantities or value.named) and value.words.start <= token.start < value.words.end:
            inside = [other for other in clause.tokens if value.words.start <= other.start < value.words.end]
            names = value.core
            return not any(
                other.word not in names and (other.word in _TELLING or other.sign in (DENIED, SOUND))
                for other in inside
            )
    return False


_TELLING = FAULTS | SIGNS
_CODE_WORDS = frozenset(
    map(
        stem,
        words("code spn fmi flash blink active inactive stored logged log list count"),
    )
)


def _part(index: NameIndex, text: str, run: WordRun) -> TextPart | None:
    if not run.candidates:
        return None
    start, end = with_denial(text, run), max(token.end for token in run.tokens)
    clause = clause_around(text, start, end)
    part = decided(index, run, start, end, text[start:end])
    if part is not None and part.sure and over_a_joint(text, run) and not certain(index, text, run, part):
        part = replace(
            part, id="", state="", sure=False, also=(), alternatives=(Alternative(part.id, part.state, 0.5),)
        )
    if part is None or (
        run.whole and {(t.word, t.sign) for t in run.tokens} == {(LAMP, DENIED)} and _AT_THE_KEY.search(text)
    ):
        return None
    confidence = confidence_in(clause)
    if supposes(clause) and not _seen(index, part):
        return TextPart(kinds.GUESS, start, end, clause.strip(), confidence="unsure")
    return replace(part, confidence=confidence)


_AT_THE_KEY = re.compile(r"\bkey\b|\bdash\b|\bcrank|\bclick|\bdead\b|\bignition\b", re.IGNORECASE)
"""No lights when the key is turned are not the warning lamps."""


def _seen(index: NameIndex, part: TextPart) -> bool:
    """A thing that one sees or hears oneself; anything else that "might be" is a guess at the cause."""
    id = part.id or (part.alternatives[0].id if part.alternatives else "")
    return id in index.ids and index.kinds[index.ids.index(id)] == "symptom"


def _missed(text: str, run: WordRun) -> Iterator[Span]:
    """Where there are words that were not understood and say anything."""
    words = [
        token
        for token in run.tokens
        if token.word not in CIRCUMSTANCES and token.word not in ("OK", "SAME", "in")
    ]
    if words:
        start, end = min(token.start for token in run.tokens), max(token.end for token in run.tokens)
        if text[start:end].strip():
            yield Span(start, end)


def _once(found: Iterable[TextPart]) -> list[TextPart]:
    """Each finding once: what is said again, or asked again, adds nothing."""
    kept: list[TextPart] = []
    for part in found:
        ids = {one.id for one in part.alternatives}
        if part.id and any(other.id == part.id and other.state == part.state for other in kept):
            continue
        if ids and any(other.alternatives and ids & {one.id for one in other.alternatives} for other in kept):
            continue
        kept.append(part)
    known = {(part.id, part.state) for part in kept if part.sure}
    return [part for part in kept if not any((one.id, one.state) in known for one in part.alternatives[:2])]
