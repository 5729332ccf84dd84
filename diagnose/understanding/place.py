"""Where it is and under which circumstances it shows, as a text says it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

import diagnose.understanding.parts as kinds
from diagnose.knowledge.located import LOCATED, kind_of, place_of
from diagnose.understanding.parts import TextPart
from diagnose.words.grammar import CIRCUMSTANCES
from diagnose.words.numerals import TEENS, UNITS
from diagnose.words.spans import Span, masked
from diagnose.words.stems import stem, words
from diagnose.words.tokens import Clause

NO_VALUE = (
    r"(?![\d.,:/%]*\d)(?!\s?(?:%|(?:psi|bar|kpa|mpa|v|volts?|amps?|ohms?|degrees?|deg|c|f|mm|ml|l|times|x|hours?|hrs?|h|"
    r"minutes?|min|seconds?|sec|s|days?|weeks?|months?|years?|km|miles?|rpm|revs|cylinders?|injectors?|of)\b))"
)
"""What a number that is no place has behind it."""
_ONE = rf"#?(\d{{1,2}})\b{NO_VALUE}"
_MORE = rf"((?:(?:\s?[,&+]\s?|\s(?:and|or)\s)(?:and\s)?#?\d{{1,2}}\b{NO_VALUE})*)"
_ROW = rf"((?:(?:\s?[,&+/]\s?|\s(?:and\s|or\s)?)#?\d{{1,2}}\b{NO_VALUE})+)"
_CYLINDERS = re.compile(
    rf"\b(?:cyl(?:inder)?s|holes|pots|injectors|nos\.?|numbers)\.?\s#?{_ONE}{_ROW}", re.IGNORECASE
)
"""Several in a row, with nothing but blanks between: cylinders 4 5 6."""
_CYLINDER = re.compile(
    rf"(?:#|\b(?:cyl(?:inder)?s?|holes?|pots?|number|num|no)\.?\s?#?|\b(?:misfir\w*|miss(?:es|ing)?|injectors?|inj)"
    rf"(?:\s(?:on|in|at))?\s(?:number\s|no\.?\s)?)\s?{_ONE}{_MORE}",
    re.IGNORECASE,
)
_TOLD_ON = re.compile(
    rf"\b(?:compression|comp|leak[ -]?(?:off|back|down)|return(?: flow)?|inj\w*|miss\w*|cut ?-?out|dead|rings?|"
    rf"liner|piston|valve|lash|spray|drop|contribution|balance|egt|glow)\b[^.;,\d]{{0,30}}?\bon\s(?:no\.?\s?|number\s)?"
    rf"{_ONE}{_MORE}",
    re.IGNORECASE,
)
"""Compression low on 3: what is told of a cylinder, with nothing but its number."""
_ORDINAL = re.compile(
    r"\b(first|second|third|fourth|fifth|sixth|1st|2nd|3rd|[4-9]th|1[0-9]th) (?:cyl(?:inder)?|hole|pot)\b",
    re.IGNORECASE,
)
_ORDINALS = {word: n for n, word in enumerate(words("first second third fourth fifth sixth"), 1)}
_WORDS = {**UNITS, **TEENS}
_WORDED = re.compile(
    rf"\b(?:(?:cyl(?:inder)?|hole|pot|injector) (?:number )?|number )({'|'.join(_WORDS)})\b"
    r"(?! (?:of|cylinders|injectors))",
    re.IGNORECASE,
)
_BANK = re.compile(
    r"\b(?:bank (a|b|1|2|left|right)|(a|b|1|2|left|right|port|starboard)(?:[ -]hand)?[ -](?:side )?bank)\b",
    re.IGNORECASE,
)
_SIDE = re.compile(
    r"\b(left|right|port|starboard|near|off)[ -]?(?:hand )?(?:side|bank|engine|motor)\b|\b(front|"
    r"rear|back|top|bottom)(?: of the)? (?:end|side|engine)\b",
    re.IGNORECASE,
)
_NAMES = {
    stem(word): word
    for word in words(
        """hot cold idle load hill unloaded wet standing bumps road intermittent sudden gradual front rear"""
    )
}
_PLACES = frozenset(map(stem, ["front", "rear"]))


def places_in(text: str) -> Iterator[TextPart]:
    """Cylinders, banks and ends. Several cylinders in a row are one part."""
    rows = list(_CYLINDERS.finditer(text))
    named = rows + [
        one
        for one in _CYLINDER.finditer(text)
        if not any(row.start() <= one.start() < row.end() for row in rows)
    ]
    yield from (_numbered(found, found.start()) for found in named)
    for found in _TOLD_ON.finditer(text):
        if not any(one.start() < found.end() and found.start(1) < one.end() for one in named):
            yield _numbered(found, found.start(1))
    for found in _ORDINAL.finditer(text):
        number = _ORDINALS.get(found[1].lower()) or int(re.sub(r"\D", "", found[1]))
        yield TextPart(kinds.PLACE, *found.span(), found[0], f"cylinder {number}")
    for found in _WORDED.finditer(text):
        yield TextPart(kinds.PLACE, *found.span(), found[0], f"cylinder {_WORDS[found[1].lower()]}")
    for found in _BANK.finditer(text):
        yield TextPart(kinds.PLACE, *found.span(), found[0], place_of(f"bank {found[1] or found[2]}"))
    for found in _SIDE.finditer(masked(text, [Span(*one.span()) for one in _BANK.finditer(text)])):
        yield TextPart(kinds.PLACE, *found.span(), found[0], " ".join(found[0].lower().split()))


def _numbered(found: re.Match[str], start: int) -> TextPart:
    """One number, or several in a row."""
    first, *also = (f"cylinder {int(n)}" for n in (found[1], *re.findall(r"\d+", found[2])))
    return TextPart(kinds.PLACE, start, found.end(), found[0], first, also=tuple(also))


def circumstances_in(text: str, clauses: Iterable[Clause]) -> Iterator[TextPart]:
    """When it shows: hot, cold, at idle, under load, uphill, in the wet, after standing, now and then."""
    for clause in clauses:
        for token in clause.tokens:
            if token.word in CIRCUMSTANCES and token.end > token.start and token.word in _NAMES:
                kind = kinds.PLACE if token.word in _PLACES else kinds.CIRCUMSTANCE
                yield TextPart(
                    kind, token.start, token.end, text[token.start : token.end], _NAMES[token.word]
                )


_BREAK = re.compile(r"[.;!?](?=\s|$)|\n")
"""Where a sentence ends: what is behind it is said of something else."""


def places_of(text: str, part: TextPart, places: Sequence[TextPart]) -> tuple[str, ...]:
    """The cylinders or banks at which a text says what the part is: of each kind those that stand nearest to it in
    its sentence."""
    return tuple(place for kind in LOCATED for place in _nearest(text, part, kind, places))


def _nearest(text: str, part: TextPart, kind: str, places: Sequence[TextPart]) -> tuple[str, ...]:
    near = [
        (_between(part, one), one)
        for one in places
        if place_of(one.id) and kind_of(one.id) == kind and not _BREAK.search(_gap(text, part, one))
    ]
    if not near:
        return ()
    _, nearest = min(near, key=lambda pair: pair[0])
    return tuple(dict.fromkeys(place_of(one) for one in (nearest.id, *nearest.also) if place_of(one)))


def _between(one: TextPart, other: TextPart) -> int:
    """How many letters lie between the two."""
    return max(other.start - one.end, one.start - other.end, 0)


def _gap(text: str, one: TextPart, other: TextPart) -> str:
    first, last = sorted((one, other), key=lambda part: part.start)
    return text[first.end : last.start]
