"""Messages longer than a frame (SAE J1939-21 transport: BAM to all, RTS/CTS to one), put together by number.

Nothing is ever put together by order of arrival: what is not the next packet ends the message. Timers, sizes and
control bytes are those of an open protocol stack and from memory; the standard was not read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from diagnose.codes.frames import GLOBAL, NO_TIME, Address, Frame, address

CONTROL, DATA = 60416, 60160  # TP.CM and TP.DT
RTS, CTS, BAM, ABORT = 16, 17, 32, 255  # control bytes of TP.CM (SAE J1939-21, 5.10.3)
SMALLEST, LARGEST, PACKET = 9, 1785, 7
"""Bytes of a message that needs packets, at most, and of a packet: 255 x 7."""
GAP_TO_ALL = 0.75  # T1, seconds
GAP_TO_ONE = 1.25  # T2 and T3


class Message(NamedTuple):
    """A parameter group with its data, of one frame or of several; `lost` says why it has none."""

    time: float
    channel: str
    pgn: int
    source: int
    data: bytes
    single: bool = False
    lost: str = ""


class _Key(NamedTuple):
    channel: str
    source: int
    destination: int


@dataclass(slots=True)
class _Session:
    pgn: int
    size: int
    packets: int
    time: float
    gap: float
    parts: list[bytes] = field(default_factory=list)


class Transport:
    """Frames in, whole messages out; one open message for each pair of sender and receiver."""

    def __init__(self) -> None:
        self._open: dict[_Key, _Session] = {}

    def take(self, frame: Frame) -> Iterable[Message]:
        """What this frame completes, or ends."""
        to = address(frame.id)
        if to.pgn == CONTROL:
            return self._control(frame, to)
        if to.pgn == DATA:
            return self._data(frame, to)
        whole = Message(frame.time, frame.channel, to.pgn, to.source, frame.data, True)
        if not self._open:
            return (whole,)
        return (*self._overdue(_Key(frame.channel, to.source, GLOBAL), frame.time), whole)

    def end(self) -> Iterator[Message]:
        """What is still open when the log ends."""
        for key in list(self._open):
            yield from self._drop(key, self._open[key].time, "the log ends before its last packet")

    def _control(self, frame: Frame, to: Address) -> Iterator[Message]:
        if len(frame.data) < 8:
            return  # says nothing for certain
        kind, pgn = frame.data[0], int.from_bytes(frame.data[5:8], "little")
        here = _Key(frame.channel, to.source, to.destination)
        back = _Key(frame.channel, to.destination, to.source)
        if kind == (BAM if to.destination == GLOBAL else RTS):
            yield from self._begin(here, frame, pgn)
        elif kind == CTS:
            yield from self._cleared(back, frame)
        elif kind == ABORT:
            for key in (here, back):
                yield from self._drop(key, frame.time, "it was aborted", pgn)

    def _begin(self, key: _Key, frame: Frame, pgn: int) -> Iterator[Message]:
        yield from self._drop(key, frame.time, "the next one began before its last packet")
        size, packets = int.from_bytes(frame.data[1:3], "little"), frame.data[3]
        if SMALLEST <= size <= LARGEST and packets == -(-size // PACKET):
            gap = GAP_TO_ALL if key.destination == GLOBAL else GAP_TO_ONE
            self._open[key] = _Session(pgn, size, packets, frame.time, gap)
        else:
            why = f"announced with {size} bytes in {packets} packets, which cannot be"
            yield _lost(key, pgn, frame.time, why)

    def _cleared(self, key: _Key, frame: Frame) -> Iterator[Message]:
        """The receiver asks for packets, perhaps for some once more; none: it asks to wait."""
        session = self._open.get(key)
        if session is None:
            return
        count, following = frame.data[1], frame.data[2]
        if _too_long(session, frame.time):
            yield from self._drop(key, frame.time, "the pause was too long")
        elif count and not 1 <= following <= len(session.parts) + 1:
            yield from self._drop(key, frame.time, "a packet is missing")
        else:
            session.time = frame.time
            if count:
                del session.parts[following - 1 :]

    def _data(self, frame: Frame, to: Address) -> Iterator[Message]:
        key = _Key(frame.channel, to.source, to.destination)
        session = self._open.get(key)
        if session is None:
            return  # its beginning is not in the log, or was refused
        number, part = frame.data[0], frame.data[1:]
        if why := _wrong(session, frame, number, part):
            yield from self._drop(key, frame.time, why)
        elif number == len(session.parts) + 1:
            yield from self._add(key, session, frame, part)

    def _add(self, key: _Key, session: _Session, frame: Frame, part: bytes) -> Iterator[Message]:
        session.time = frame.time
        session.parts.append(part)
        if len(session.parts) == session.packets:
            del self._open[key]
            data = b"".join(session.parts)[: session.size]
            yield Message(frame.time, key.channel, session.pgn, key.source, data)

    def _overdue(self, key: _Key, time: float) -> Iterator[Message]:
        """A message that can no longer be completed is lost before what its sender says next, not after it."""
        session = self._open.get(key)
        if session is not None and _too_long(session, time):
            yield from self._drop(key, session.time, "its last packets never came")

    def _drop(self, key: _Key, time: float, why: str, pgn: int | None = None) -> Iterator[Message]:
        session = self._open.get(key)
        if session is not None and pgn in (None, session.pgn):
            del self._open[key]
            yield _lost(key, session.pgn, time, why)


def _lost(key: _Key, pgn: int, time: float, why: str) -> Message:
    return Message(time, key.channel, pgn, key.source, b"", lost=why)


def _wrong(session: _Session, frame: Frame, number: int, part: bytes) -> str:
    """Why this packet ends the message; empty where it is the next one, or the last one once more."""
    done = len(session.parts)
    if _too_long(session, frame.time):
        return "the pause was too long"
    if number == done and done and part == session.parts[-1]:
        return ""
    if number != done + 1:
        return "a packet is missing or out of order"
    needed = min(PACKET, session.size - PACKET * done)
    return "a packet is cut short" if len(part) < needed else ""


def _too_long(session: _Session, time: float) -> bool:
    """The pause since the last packet; backwards by as much is no time either."""
    return NO_TIME not in (time, session.time) and abs(time - session.time) > session.gap
