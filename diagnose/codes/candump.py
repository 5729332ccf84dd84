"""Logs of candump, both textual forms: `(time) can0 18FECA00#14FF...` and `(time)  can0  18FECA00  [8]  14 FF`.

Own parser: the everyday case shall need no further package, and be fast. Files are read in blocks, so that one
of any size, with lines of any length, takes constant memory.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from io import BufferedIOBase

from diagnose.codes.frames import (
    EMPTY,
    ERROR,
    FD,
    FOREIGN,
    LARGEST_ID,
    LONG,
    NO_TIME,
    REMOTE,
    STANDARD,
    Frame,
    FrameCounts,
    Wanted,
)

BLOCK = 1 << 20  # bytes read at a time: 1 MiB
LONGEST_LINE = 1024  # a CAN FD frame of 64 bytes takes less than 300
REMEMBERED_IDS = 1 << 16  # more than any bus has; bounds the memory that a log of noise can take
_COUNTED, _WANTED, _ERROR = range(3)

_HEAD = rb"\s*(?:\(([^)\n]{1,40})\)\s+)?([\w.:/-]{1,32})\s+(?:[RT]X\s+[-B]\s+[-E]\s+)?"
_DATA_FRAME = re.compile(
    _HEAD + rb"([0-9A-Fa-f]{8})(?:#((?:[0-9A-Fa-f]{2}){0,8})(?:\s+[RT])?"
    rb"|\s+\[([0-8])\]((?:\s+[0-9A-Fa-f]{2}){0,8})(?:\s+(?:'.*|ERRORFRAME))?)\s*"
)
_NUMBER = re.compile(rb"\d+\.?\d*")
_OTHER_FRAME = re.compile(
    _HEAD + rb"(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})"
    rb"(?:(?P<fd>##[0-9A-Fa-f]+|\s+\[\d\d\].*)|(?P<remote>#R\d?|\s+\[\d\]\s+remote request)"
    rb"|#(?:[0-9A-Fa-f]{2}){0,8}|\s+\[\d\](?:\s+[0-9A-Fa-f]{2}){0,8}(?:\s+'.*)?)(?:\s+[RT])?\s*"
)


def read_candump(
    file: BufferedIOBase, wanted: Wanted, tally: FrameCounts, told: Callable[[], None]
) -> Iterator[Frame]:
    """The wanted frames of a log in order; all else is counted in `tally`. `told` is called as bytes are read."""
    kinds: dict[bytes, int] = {}
    match, skipped = _DATA_FRAME.fullmatch, tally.skipped
    for line in _lines(file, tally, told):
        found = match(line) if len(line) <= LONGEST_LINE else None
        if found is None:
            skipped[_other(line)] += 1
            continue
        time, channel, name, data, length, spaced = found.groups()
        kind = kinds.get(name)
        if kind is None:
            kind = _kind(name, wanted, kinds)
        if kind == _ERROR:
            skipped[ERROR] += 1
        elif not data and not spaced:
            skipped[EMPTY] += 1
        elif kind == _COUNTED:
            tally.frames += 1
        elif frame := _frame(time, channel, name, data or spaced, length):
            tally.frames += 1
            yield frame
        else:
            skipped[FOREIGN] += 1


def _lines(file: BufferedIOBase, tally: FrameCounts, told: Callable[[], None]) -> Iterator[bytes]:
    """The lines of a file. What is longer than any frame is counted and dropped as it comes."""
    rest, dropping = b"", False
    while block := file.read1(BLOCK):  # what a broken packed file still gives is not lost
        told()
        *lines, rest = (rest + block).split(b"\n")
        if dropping and lines:
            dropping = False
            del lines[0]
        yield from lines
        if len(rest) > LONGEST_LINE:
            tally.skipped[LONG] += not dropping
            rest, dropping = b"", True
    if rest and not dropping:
        yield rest


def _kind(name: bytes, wanted: Wanted, kinds: dict[bytes, int]) -> int:
    """What frames of this identifier are to us; remembered, up to a bound."""
    id = int(name, 16)
    kind = _ERROR if id > LARGEST_ID else _WANTED if wanted(id) else _COUNTED
    if len(kinds) >= REMEMBERED_IDS:
        kinds.clear()
    kinds[name] = kind
    return kind


def _frame(
    time: bytes | None, channel: bytes, name: bytes, data: bytes, length: bytes | None
) -> Frame | None:
    """The frame, or None where its time or its length is not what it says."""
    values = bytes.fromhex(data.decode("ascii"))
    seconds = _seconds(time)
    if seconds is None or (length is not None and len(values) != int(length)):
        return None
    return Frame(seconds, channel.decode("ascii", "replace"), int(name, 16), values)


def _seconds(text: bytes | None) -> float | None:
    """Seconds of a time stamp, as a number or as a date (taken as UTC); None for what is neither."""
    if text is None:
        return NO_TIME
    try:
        if _NUMBER.fullmatch(text):
            seconds = float(text)
        else:
            seconds = datetime.fromisoformat(text.decode("ascii")).replace(tzinfo=UTC).timestamp()
    except ValueError:
        return None
    return seconds if 0 <= seconds < 1e11 else None


def _other(line: bytes) -> str:
    """What a line is that is no data frame with a 29-bit identifier."""
    if len(line) > LONGEST_LINE:
        return LONG
    found = _OTHER_FRAME.fullmatch(line)
    if found is None:
        return FOREIGN
    return FD if found["fd"] else REMOTE if found["remote"] else STANDARD
