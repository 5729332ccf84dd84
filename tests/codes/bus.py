"""Traffic, made by hand from the layouts of J1939-21 and -73 (from memory), not by what is tested."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path

from diagnose.codes.dtc import Version
from diagnose.codes.frames import Frame
from diagnose.codes.log_survey import messages
from diagnose.codes.timeline import Ledger, ModuleCodes, Trouble

DM1, DM2, DM6, DM12, DM4, DM25 = 0xFECA, 0xFECB, 0xFECF, 0xFED4, 0xFECD, 0xFDB7
CODE = tuple[int, int, int]
"""SPN, FMI, count."""


def dtc(spn: int, fmi: int, count: int) -> bytes:
    """Version 4: SPN with its low byte first, its three high bits above the FMI."""
    return bytes([spn & 255, spn >> 8 & 255, (spn >> 16) << 5 | fmi, count])


def payload(codes: Iterable[CODE], lamps: bytes = b"\x04\xff") -> bytes:
    """A list of codes; empty: the form that says no code."""
    return lamps + (b"".join(dtc(*code) for code in codes) or bytes(4))


def alone(codes: Sequence[CODE], lamps: bytes = b"\x04\xff") -> bytes:
    """A list of no or one code, filled up to the eight bytes of a frame."""
    assert len(codes) < 2
    return payload(codes, lamps) + b"\xff\xff"


def single(source: int, data: bytes, at: float = 0.0, pgn: int = DM1, channel: str = "can0") -> Frame:
    return Frame(at, channel, 0x18000000 | pgn << 8 | source, data)


def bam(
    source: int, data: bytes, at: float = 0.0, pgn: int = DM1, step: float = 0.05, channel: str = "can0"
) -> list[Frame]:
    """The announcement to all and the packets, 50 ms apart."""
    return _transport(source, 255, 0x20, data, at, pgn, step, channel)


def rts(source: int, destination: int, data: bytes, at: float = 0.0, pgn: int = DM2) -> list[Frame]:
    """Request to send, clear to send for all packets, the packets, end of message."""
    first, *packets = _transport(source, destination, 0x10, data, at, pgn, 0.01, "can0")
    count, group = len(packets), first.data[5:8]
    cts = Frame(at + 0.005, "can0", _control(destination, source), bytes([17, count, 1, 255, 255]) + group)
    end = Frame(
        at + 1, "can0", _control(destination, source), bytes([19]) + first.data[1:4] + b"\xff" + group
    )
    return [first, cts, *packets, end]


def _control(source: int, destination: int) -> int:
    return 0x1CEC0000 | destination << 8 | source


def _transport(
    source: int, to: int, kind: int, data: bytes, at: float, pgn: int, step: float, channel: str
) -> list[Frame]:
    parts = [data[i : i + 7].ljust(7, b"\xff") for i in range(0, len(data), 7)]
    head = bytes([kind, *len(data).to_bytes(2, "little"), len(parts), 255, *pgn.to_bytes(3, "little")])
    frames = [Frame(at, channel, _control(source, to), head)]
    for number, part in enumerate(parts, 1):
        frames.append(
            Frame(at + number * step, channel, 0x1CEB0000 | to << 8 | source, bytes([number]) + part)
        )
    return frames


def told(
    frames: Iterable[Frame], version: Version | None = None
) -> tuple[dict[int, ModuleCodes], tuple[Trouble, ...]]:
    """What the frames say: the modules by address, and the trouble."""
    ledger = Ledger(version)
    for message in messages(frames):
        ledger.take(message)
    return {one.module.address: one for one in ledger.modules()}, ledger.troubles()


def codes(module: ModuleCodes | None) -> list[tuple[int | None, int, int | None]]:
    """SPN, FMI and largest count of the codes of a module."""
    if module is None:
        return []
    return [(seen.dtc.spn, seen.dtc.fmi, seen.sightings[0].count) for seen in module.codes]


def state(module: ModuleCodes, status: str = "active") -> str:
    """What the lists of one kind come to."""
    return next(one.state for one in module.lists if one.status == status)


def whats(troubles: Sequence[Trouble]) -> str:
    return "\n".join(f"{one.module.address}: {one.what}" for one in troubles)


def line(frame: Frame) -> str:
    """As `candump -l` writes it."""
    return f"({frame.time:.6f}) {frame.channel} {frame.id:08X}#{frame.data.hex().upper()}\n"


def write(path: Path, frames: Iterable[Frame]) -> Path:
    path.write_text("".join(map(line, frames)), encoding="ascii")
    return path


def in_order(frames: Sequence[Frame]) -> bool:
    return all(a.time <= b.time for a, b in pairwise(frames))
