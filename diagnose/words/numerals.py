"""Numbers in words made digits, place for place: two hundred thirty degrees, eleven thousand hours, sixty psi.

Only where a value is said: a lone small number stays a word ("running on five", "one injector") unless a unit
follows it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from diagnose.words.spans import Span
from diagnose.words.stems import words

UNITS = {
    word: number for number, word in enumerate(words("zero one two three four five six seven eight nine"))
}
TEENS = {
    word: number
    for number, word in enumerate(
        words("ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen"), 10
    )
}
"""What each word below twenty stands for."""
_TENS = {
    word: 10 * number
    for number, word in enumerate(words("twenty thirty forty fifty sixty seventy eighty ninety"), 2)
}
_SMALL = UNITS | TEENS | _TENS
_SCALES = {"hundred": 100, "thousand": 1000}  # what the words before them are multiplied by
_NUMBER = "|".join((*_SMALL, *_SCALES, "fourty"))
_RUN = re.compile(
    rf"\b(?:a (?=hundred|thousand))?(?:{_NUMBER})\b(?:(?:[\s-]+(?:and\s+)?|\s+(?=point\b))(?:{_NUMBER}|point)\b)*",
    re.IGNORECASE,
)
_OF_UNIT = re.compile(
    r"[\s-]*(?:psi|pounds|bar|kpa|degrees?|deg|volts?|amps?|milliamps?|millivolts?|ohms?|percent|per cent|hours?|"
    r"hrs|hertz|rpm|revs|inches of (?:water|mercury|vacuum)|parts per million|kilopascals?)\b(?!\s*(?:ref|supply|"
    r"later|ago|after|since|old))",
    re.IGNORECASE,
)
_FROST = re.compile(r"\b(?:minus|below)\s+$", re.IGNORECASE)
LEAST = 20  # what is less is a count, unless a unit follows


def in_digits(text: str) -> str:
    """The text with its spelt-out values as digits and blanks, so that every place stays the same."""
    letters = list(text)
    for span, number in spelt(text):
        digits = f"{number:g}".ljust(span.end - span.start)
        if len(digits) == span.end - span.start:
            letters[span.start : span.end] = digits
    return "".join(letters)


def spelt(text: str) -> Iterator[tuple[Span, float]]:
    """The values that are spelt out, with their places."""
    for run in _RUN.finditer(text):
        heard = [word for word in re.split(r"[\s-]+", run[0].lower()) if word not in ("and", "a")]
        number = _value(heard)
        told = (
            _OF_UNIT.match(text, run.end())
            or _FROST.search(text[: run.start()])
            or (len(heard) > 1 and (number or 0) >= LEAST)
        )
        if number is not None and told:
            yield Span(*run.span()), number


def _value(heard: Sequence[str]) -> float | None:
    """The number that the words say; None where they say none."""
    if "point" in heard:
        at = heard.index("point")
        whole, behind = _whole(heard[:at]), [UNITS.get(word) for word in heard[at + 1 :]]
        if whole is None or not behind or None in behind:
            return None
        return float(f"{whole}.{''.join(map(str, behind))}")
    return _whole(heard)


def _whole(heard: Sequence[str]) -> int | None:
    """Two hundred thirty, eleven thousand five hundred, fifteen hundred; two thirty is 230."""
    total = current = 0
    last = ""
    for word in heard:
        if word in _SCALES:
            current = max(current, 1) * _SCALES[word]
            if word == "thousand":
                total, current = total + current, 0
        elif word not in _SMALL:
            return None
        elif last in UNITS and last != "zero" and word not in UNITS:
            current = current * 100 + _SMALL[word]
        elif last in _SMALL and not (last in _TENS and word in UNITS):
            return None
        else:
            current += _SMALL[word]
        last = word
    return total + current if heard else None
