"""The bytes of a list of fault codes (DM1, DM2, DM6, DM12 of SAE J1939-73): lamps, and four bytes a code.

The layouts are from an open protocol stack, public headers and memory; the standard was not read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from diagnose.codes.typed import LARGEST_COUNT, LARGEST_SPN, RESERVED_FMIS

Version = Literal[1, 2, 3]
"""Which of the three older packings of the SPN a module uses; the bits do not tell."""

LAMPS = ("malfunction lamp", "red stop lamp", "amber lamp", "protect lamp")  # from the highest bits down
LIT = ("off", "on", "error", "not available")
FLASH = ("slow flash", "fast flash", "flash reserved", "")
NO_CODE = (bytes(4), b"\xff" * 4)
HEAD, SIZE = 2, 4  # bytes of the lamps, and of each code
SHORTEST = HEAD + SIZE
SINGLE = 8  # bytes of a whole frame; the two after the code are padding


@dataclass(frozen=True, slots=True)
class Dtc:
    """Four bytes read. `spns`: all that the SPN can be, one in the packing of today, three in the older ones.

    `count` is None where the module does not count. `doubts` say why it is not to be taken at its word.
    """

    raw: bytes
    spns: tuple[int, ...]
    fmi: int
    count: int | None
    doubts: tuple[str, ...] = ()

    @property
    def spn(self) -> int | None:
        """The SPN, where it can only be one."""
        return self.spns[0] if len(self.spns) == 1 else None

    @property
    def sound(self) -> bool:
        """Whether it can be used as a code: one SPN, and nothing that speaks against it."""
        return self.spn is not None and not self.doubts


@dataclass(frozen=True, slots=True)
class Lamp:
    """A lamp's state and, while it is on, how it flashes (empty: steadily or not told)."""

    name: str
    state: str
    flash: str = ""

    def __str__(self) -> str:
        return " ".join(part for part in (self.name, self.state, self.flash and f"({self.flash})") if part)


@dataclass(frozen=True, slots=True)
class CodeList:
    """One list as sent. `doubts`: why it is not the whole truth; without any it says all that the module has."""

    lamps: tuple[Lamp, ...]
    codes: tuple[Dtc, ...]
    doubts: tuple[str, ...] = ()


def read_list(data: bytes, single: bool, version: Version | None = None) -> CodeList | str:
    """The list in these bytes (`single`: of one frame), or the reason why there is none."""
    if len(data) < SHORTEST:
        return f"list of {len(data)} bytes, too short for a code"
    if not any(byte != 0xFF for byte in data):
        return "list not available (all bytes FF)"
    packed = data[HEAD:SHORTEST] if single else data[HEAD:]
    entries = [packed[i : i + SIZE] for i in range(0, len(packed) - SIZE + 1, SIZE)]
    codes = tuple(read_dtc(raw, version) for raw in entries if not (len(entries) == 1 and raw in NO_CODE))
    lamps = read_lamps(data)
    return CodeList(lamps, codes, tuple(_doubts(data, single, lamps, codes)))


def _doubts(data: bytes, single: bool, lamps: tuple[Lamp, ...], codes: tuple[Dtc, ...]) -> list[str]:
    told = []
    if single and len(data) != SINGLE:
        told.append(f"list in a frame of {len(data)} bytes instead of {SINGLE}")
    if not single and (len(data) - HEAD) % SIZE:
        told.append(f"list of {len(data)} bytes does not end with a whole code; whole ones kept")
    if any(lamp.state == "error" for lamp in lamps):
        told.append("lamp state reserved")
    if any(code.doubts for code in codes):
        told.append("list with a code that cannot be")
    return told


def read_lamps(data: bytes) -> tuple[Lamp, ...]:
    """The four lamps of the first two bytes."""
    pairs = zip(LAMPS, (6, 4, 2, 0), strict=True)
    return tuple(_lamp(name, data[0] >> shift & 3, data[1] >> shift & 3) for name, shift in pairs)


def _lamp(name: str, lit: int, flash: int) -> Lamp:
    return Lamp(name, LIT[lit], FLASH[flash] if LIT[lit] == "on" else "")


def read_dtc(raw: bytes, version: Version | None = None) -> Dtc:
    """One code of four bytes. `version` picks the older packing, where the conversion bit says that it is one."""
    b1, b2, b3, b4 = raw
    fmi, high, count = b3 & 31, b3 >> 5, b4 & 127
    today = b1 | b2 << 8 | high << 16
    if b4 & 128:
        older = (b1 << 11 | b2 << 3 | high, b2 << 11 | b1 << 3 | high, today)
        spns = (older[version - 1],) if version else tuple(dict.fromkeys(older))
    else:
        spns = (today,)
    known = count if count <= LARGEST_COUNT else None
    return Dtc(bytes(raw), spns, fmi, known, tuple(_doubts_of_code(spns, fmi)))


def _doubts_of_code(spns: tuple[int, ...], fmi: int) -> list[str]:
    told = [f"SPN {spn} is no fault" for spn in spns if len(spns) == 1 and spn in (0, LARGEST_SPN)]
    return told + ([f"FMI {fmi} is reserved"] if fmi in RESERVED_FMIS else [])


@dataclass(frozen=True, slots=True)
class FreezeFrame:
    """What a module kept when it set a code. `values` stay as they came: their order is told elsewhere (DM24) or is
    the maker's, and is not certain here.
    """

    code: Dtc
    values: bytes


def read_freeze_frames(data: bytes, version: Version | None = None) -> tuple[FreezeFrame, ...]:
    """The freeze frames of DM4 or DM25: length of what follows, code, values, again and again.

    What does not fit is left alone.
    """
    found = []
    while len(data) > SIZE and data[0] >= SIZE and len(data) > data[0]:
        raw, values = data[1 : 1 + SIZE], data[1 + SIZE : 1 + data[0]]
        if raw not in NO_CODE:
            found.append(FreezeFrame(read_dtc(raw, version), values))
        data = data[1 + data[0] :]
    return tuple(found)
