"""Messages of a bus in order -> which module had which codes, from when to when.

Nothing is concluded from garbage: a module is without codes only by a whole list that nothing speaks against.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import NamedTuple

from diagnose.codes.dtc import CodeList, Dtc, FreezeFrame, Lamp, Version, read_freeze_frames, read_list
from diagnose.codes.frames import NO_TIME
from diagnose.codes.transport import Message
from diagnose.codes.typed import ACTIVE, PENDING, PREVIOUS, Code

EMISSION = "emission-related active"
LISTS: Mapping[int, str] = {65226: ACTIVE, 65227: PREVIOUS, 65231: PENDING, 65236: EMISSION}
FREEZE_FRAMES = (65229, 64951)  # DM4, DM25
DIAGNOSTIC = frozenset((*LISTS, *FREEZE_FRAMES))

SOME, NONE, UNKNOWN = "codes", "no code", "not known"
MOST_CODES, MOST_TROUBLES = 2048, 500  # a module, a log: beyond this it is not traffic, and memory has an end


class Module(NamedTuple):
    """Who sent it: the bus, and the address on it."""

    channel: str
    address: int


@dataclass(frozen=True, slots=True)
class Sighting:
    """A code in one kind of list. Times in seconds (NO_TIME: not told); `times`: in how many lists it stood.

    `count`: the largest occurrence count that the module told. `still`: no later whole list was without it.
    """

    status: str
    first: float
    last: float
    times: int = 0
    count: int | None = None
    still: bool = True


@dataclass(frozen=True, slots=True)
class SeenCode:
    """A code of a module with the lists it stood in."""

    dtc: Dtc
    sightings: tuple[Sighting, ...]

    @property
    def text(self) -> str:
        """The code in its one writing; of one that is not sound all that its SPN can be."""
        if self.dtc.sound:
            return Code(spn=self.dtc.spn, fmi=self.dtc.fmi).text
        *first, last = map(str, self.dtc.spns)
        spn = f"{', '.join(first)} or {last}" if first else last
        return f"SPN {spn} FMI {self.dtc.fmi}"


@dataclass(frozen=True, slots=True)
class ListState:
    """What a module's lists of one kind come to: how many, how many of them whole and how many with a code, and
    whether codes are set."""

    status: str
    read: int = 0
    whole: int = 0
    state: str = UNKNOWN
    lamps: tuple[Lamp, ...] = ()
    with_codes: int = 0


@dataclass(frozen=True, slots=True)
class ModuleCodes:
    """All that one module told."""

    module: Module
    lists: tuple[ListState, ...]
    codes: tuple[SeenCode, ...]
    freeze_frames: tuple[FreezeFrame, ...] = ()


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something in the traffic of a module that could not be used; how often, and when first."""

    module: Module
    what: str
    times: int
    first: float


_Fault = tuple[tuple[int, ...], int]
"""All that the SPN can be, and the FMI: two codes of one fault are one code."""


@dataclass
class _Book:
    """One module while its messages come in."""

    lists: dict[str, ListState] = field(default_factory=dict)
    codes: dict[_Fault, dict[str, Sighting]] = field(default_factory=dict)
    latest: dict[_Fault, Dtc] = field(default_factory=dict)
    live: dict[str, set[_Fault]] = field(default_factory=dict)
    freeze_frames: dict[FreezeFrame, None] = field(default_factory=dict)


class Ledger:
    """Takes messages one by one; memory grows with what differs, not with how much there is."""

    def __init__(self, version: Version | None = None) -> None:
        self._version: Version | None = version
        self._books: dict[Module, _Book] = {}
        self._troubles: dict[tuple[Module, str], Trouble] = {}

    def take(self, message: Message) -> None:
        """Enter one message; those of other parameter groups change nothing."""
        status = LISTS.get(message.pgn)
        module = Module(message.channel, message.source)
        if status is not None:
            self._list(module, status, message)
        elif message.pgn in FREEZE_FRAMES:
            self._freeze_frames(module, message)

    def modules(self) -> tuple[ModuleCodes, ...]:
        """What each module told, by bus and address."""
        return tuple(_closed(module, self._books[module]) for module in sorted(self._books))

    def troubles(self) -> tuple[Trouble, ...]:
        """What could not be used, by module."""
        return tuple(sorted(self._troubles.values(), key=lambda trouble: trouble.module))

    def _book(self, module: Module) -> _Book:
        return self._books.setdefault(module, _Book())

    def _list(self, module: Module, status: str, message: Message) -> None:
        found = _read(message.data, message.single, self._version) if not message.lost else message.lost
        book = self._book(module)
        if isinstance(found, str):
            what = f"incomplete list of {status} codes: {found}" if message.lost else found
            self._note(module, what, message.time)
            before = book.lists.get(status, ListState(status))
            book.lists[status] = replace(before, state=SOME if before.state == SOME else UNKNOWN)
            return
        for doubt in found.doubts:
            self._note(module, doubt, message.time)
        for dtc in found.codes:
            self._code(module, book, status, dtc, message.time)
        _settle(book, status, found)
        if not found.codes and any(lamp.state == "on" for lamp in found.lamps):
            self._note(module, f"a lamp is on in a list of {status} codes without a code", message.time)

    def _code(self, module: Module, book: _Book, status: str, dtc: Dtc, time: float) -> None:
        key = (dtc.spns, dtc.fmi)
        if key not in book.codes and len(book.codes) >= MOST_CODES:
            self._note(
                module, "more different codes than any module has; the further ones are not kept", time
            )
            return
        seen = book.codes.setdefault(key, {})
        seen[status] = _again(seen.get(status) or Sighting(status, time, time), dtc, time)
        book.latest[key] = dtc
        book.live.setdefault(status, set()).add(key)

    def _freeze_frames(self, module: Module, message: Message) -> None:
        if message.lost:
            self._note(module, f"incomplete freeze frame: {message.lost}", message.time)
            return
        kept = self._book(module).freeze_frames
        for found in read_freeze_frames(message.data, self._version):
            if len(kept) < MOST_CODES:
                kept[found] = None

    def _note(self, module: Module, what: str, time: float) -> None:
        if (module, what) not in self._troubles and len(self._troubles) >= MOST_TROUBLES:
            what = "further trouble of other kinds"
        before = self._troubles.get((module, what)) or Trouble(module, what, 0, time)
        self._troubles[module, what] = replace(before, times=before.times + 1)


@lru_cache(maxsize=4096)
def _read(data: bytes, single: bool, version: Version | None) -> CodeList | str:
    """Modules say the same every second."""
    return read_list(data, single, version)


def _again(before: Sighting, dtc: Dtc, time: float) -> Sighting:
    count = max((n for n in (before.count, dtc.count) if n is not None), default=None)
    first = time if before.first == NO_TIME else min(before.first, time) if time != NO_TIME else before.first
    return Sighting(before.status, first, max(before.last, time), before.times + 1, count)


def _settle(book: _Book, status: str, found: CodeList) -> None:
    """What this list says of the module: a whole one also says what is gone."""
    before = book.lists.get(status, ListState(status))
    whole = not found.doubts
    state = SOME if found.codes else NONE if whole else before.state if before.state == SOME else UNKNOWN
    with_codes = before.with_codes + bool(found.codes)
    book.lists[status] = ListState(
        status, before.read + 1, before.whole + whole, state, found.lamps, with_codes
    )
    if whole:
        _gone(book, status, {(dtc.spns, dtc.fmi) for dtc in found.codes})


def _gone(book: _Book, status: str, listed: set[_Fault]) -> None:
    live = book.live.get(status, set())
    for key in live - listed:
        book.codes[key][status] = replace(book.codes[key][status], still=False)
    live &= listed


def _closed(module: Module, book: _Book) -> ModuleCodes:
    codes = (SeenCode(book.latest[key], tuple(seen.values())) for key, seen in book.codes.items())
    return ModuleCodes(module, tuple(book.lists.values()), tuple(codes), tuple(book.freeze_frames))
