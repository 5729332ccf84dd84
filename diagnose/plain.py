"""The gate of text: what came from outside is one line without control characters, on its way in and to a screen.

A terminal obeys control characters, and a line break lets a machine's name print lines that look like the
program's own. Both are shown as escapes or blanks instead; nothing else of a text is changed. Beside it the one way
to write a probability.
"""

from __future__ import annotations

import re

# Line breaks of any kind (those of str.splitlines) with the blanks around them, and tabs.
_BREAKS = re.compile("[ \t]*(?:\r\n|[\n\r\v\f\x1c-\x1e\x85\u2028\u2029])+[ \t]*|\t")
# Control characters (C0, DEL, C1), half surrogate pairs (bytes that are no UTF-8), and the letters that turn the
# reading direction around (Unicode Standard Annex 9, section 2).
_TURNING = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
_OBEYED = re.compile(f"[\x00-\x1f\x7f-\x9f\ud800-\udfff{_TURNING}]")
_OBEYED_ON_SCREEN = re.compile(f"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff{_TURNING}]")


def one_line(text: str) -> str:
    """The text on one line: line breaks and tabs are blanks, what a terminal would obey is shown as an escape."""
    if text.isprintable():  # most are
        return text
    return _OBEYED.sub(_escape, _BREAKS.sub(" ", text).strip(" "))


def typed(text: str) -> str:
    """The same for what was typed or pasted in several lines: each line ends what it says, as a semicolon does."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    ended = (line if line[-1] in ".,;:!?" else f"{line};" for line in lines[:-1])
    return one_line(" ".join([*ended, *lines[-1:]])) if len(lines) > 1 else one_line(text)


def on_screen(text: str) -> str:
    """The same for a text of several lines: its line breaks stay."""
    return _OBEYED_ON_SCREEN.sub(_escape, text)


def json_safe(text: str) -> str:
    """JSON text in which every control character left in it is written as JSON's own escape."""
    return _OBEYED_ON_SCREEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def shortened(text: str, most: int) -> str:
    """The text, its middle left out where it is longer than `most` characters."""
    if len(text) <= most:
        return text
    half = (most - 3) // 2
    return f"{text[:half]}...{text[-half:]}"


def small(words: str) -> str:
    """Words as they stand within a sentence; what begins with an abbreviation (EGR valve) keeps its capitals."""
    return words[:1].lower() + words[1:] if words[1:2].islower() else words


def _escape(found: re.Match[str]) -> str:
    """A byte that is no UTF-8 (surrogateescape: U+DC80 to U+DCFF) by its value, others by theirs."""
    code = ord(found[0])
    if 0xDC80 <= code <= 0xDCFF:
        code -= 0xDC00
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def percent(p: float) -> str:
    """A probability as a whole per cent, in words at the far ends: `under 1 %`, `35 %`, `over 99 %`."""
    if p < 0.005:
        return "under 1 %"
    return "over 99 %" if p >= 0.995 else f"{max(1, round(100 * p))} %"
