"""Frames of a CAN bus, and what the 29-bit identifier of SAE J1939 says (J1939-21, from memory)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

NO_TIME = -1.0  # before every time of a log
GLOBAL = 255  # the destination that means everybody (SAE J1939-21)
PDU2 = 240  # from this PDU format on the second byte belongs to the PGN
LARGEST_ID = 0x1FFFFFFF  # 29 bits

STANDARD, ERROR, REMOTE, FD, EMPTY, FOREIGN, LONG = (
    "11-bit frames",
    "error frames",
    "remote frames",
    "CAN FD frames",
    "frames without data",
    "lines that are no frame",
    "lines too long to be a frame",
)


class Frame(NamedTuple):
    """One data frame with a 29-bit identifier. `time` in seconds, NO_TIME where the log has none."""

    time: float
    channel: str
    id: int
    data: bytes


class Address(NamedTuple):
    """What an identifier says: parameter group, who sent it, and to whom (255: to all)."""

    pgn: int
    source: int
    destination: int


@dataclass
class FrameCounts:
    """What was read: frames with a 29-bit identifier, and by kind what was passed over."""

    frames: int = 0
    skipped: Counter[str] = field(default_factory=Counter)
    broken: str = ""


Wanted = Callable[[int], bool]
"""Whether frames with this identifier are needed; the others are only counted."""


@lru_cache(maxsize=1 << 14)
def address(id: int) -> Address:
    """The parts of a 29-bit identifier; the priority is of no account."""
    page, format, specific, source = id >> 24 & 3, id >> 16 & 255, id >> 8 & 255, id & 255
    if format < PDU2:
        return Address(page << 16 | format << 8, source, specific)
    return Address(page << 16 | format << 8 | specific, source, GLOBAL)
