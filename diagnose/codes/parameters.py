"""Values on the bus with a certain layout -> lowest, highest, and while cranking. Kept as numbers only, no series.

SPN, parameter group, unit and resolution are in two public tables; the byte positions are from memory of SAE
J1939-71 (not read). Those of 190, 110, 164, 157 and 168 agree with public signal definitions seen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

from diagnose.codes.frames import NO_TIME
from diagnose.codes.timeline import Module
from diagnose.codes.transport import Message

TURNING, RUNNING = 30.0, 400.0
"""1/min between which an engine that stood is being cranked (common practice)."""
LONGEST_STEP = 1.0  # seconds without engine speed that still count as the same cranking
ENGINE_SPEED = 190  # SPN (SAE J1939-71)


@dataclass(frozen=True, slots=True)
class Parameter:
    """A value of a parameter group: first byte (from 1), bytes (little end first), unit of one step, offset."""

    spn: int
    name: str
    pgn: int
    byte: int
    size: int
    step: float
    offset: float
    unit: str

    def value(self, data: bytes) -> float | str | None:
        """The value in its unit; "error" where the module says so; None where it is not there."""
        raw = data[self.byte - 1 : self.byte - 1 + self.size]
        if len(raw) < self.size:
            return None
        top = raw[-1]  # the last byte tells: to FA a value, FE an error, FF not available, else reserved
        if top <= 0xFA:
            return int.from_bytes(raw, "little") * self.step + self.offset
        return "error" if top == 0xFE else None


PARAMETERS = (
    Parameter(190, "engine speed", 61444, 4, 2, 0.125, 0, "1/min"),
    Parameter(168, "battery voltage at the module", 65271, 5, 2, 0.05, 0, "V"),
    Parameter(100, "engine oil pressure", 65263, 4, 1, 4, 0, "kPa"),
    Parameter(110, "coolant temperature", 65262, 1, 1, 1, -40, "degC"),
    Parameter(102, "boost pressure", 65270, 2, 1, 2, 0, "kPa"),
    Parameter(164, "injection control pressure", 65243, 1, 2, 1 / 256, 0, "MPa"),
    Parameter(157, "injector metering rail pressure", 65243, 3, 2, 1 / 256, 0, "MPa"),
)
BY_GROUP: Mapping[int, tuple[Parameter, ...]] = {
    pgn: tuple(found)
    for pgn, found in groupby(sorted(PARAMETERS, key=lambda one: one.pgn), key=lambda one: one.pgn)
}


@dataclass(slots=True)
class ValueRange:
    """Lowest, highest, mean and number of values."""

    low: float = float("inf")
    high: float = float("-inf")
    total: float = 0.0
    count: int = 0

    @property
    def mean(self) -> float:
        """The mean of all values."""
        return self.total / self.count

    def take(self, value: float) -> None:
        """One value more."""
        if value < self.low:
            self.low = value
        if value > self.high:
            self.high = value
        self.total += value
        self.count += 1


@dataclass(frozen=True, slots=True)
class BusReading:
    """A parameter of one module over the log. `errors`: how often the module said that its sensor is at fault."""

    module: Module
    parameter: Parameter
    all: ValueRange
    cranking: ValueRange
    errors: int = 0


@dataclass(slots=True)
class Starter:
    """Whether the engine is being cranked, told by its speed alone.

    A slow engine counts as cranked only after it was seen to stand: running down from speed looks the same.
    """

    phase: str = "not known"
    time: float = NO_TIME
    lasted: float = 0.0
    longest: float = 0.0

    @property
    def cranking(self) -> bool:
        """Whether it is being cranked now."""
        return self.phase == "cranked"

    def take(self, speed: float, time: float) -> None:
        """The engine turns at this speed (1/min) at this time."""
        was = self.phase
        if speed < TURNING:
            self.phase = "stands"
        elif speed >= RUNNING:
            self.phase = "runs"
        elif self.phase == "stands":
            self.phase = "cranked"
        step = time - self.time if NO_TIME not in (time, self.time) else 0.0
        going_on = was == self.phase == "cranked" and 0 <= step <= LONGEST_STEP
        self.lasted = self.lasted + step if going_on else 0.0
        self.longest, self.time = max(self.longest, self.lasted), time


@dataclass(slots=True)
class _ParameterRow:
    parameter: Parameter
    all: ValueRange
    cranking: ValueRange
    errors: int = 0


class Watch:
    """Takes messages one by one and keeps the span of every parameter of every module."""

    def __init__(self) -> None:
        self.starters: dict[Module, Starter] = {}
        self._rows: dict[tuple[str, int, int], tuple[_ParameterRow, ...]] = {}
        self._cranking: set[str] = set()  # buses on which an engine is being cranked now

    def take(self, message: Message) -> None:
        """Enter the values of one message of one frame; others change nothing."""
        if message.pgn not in BY_GROUP or not message.single:
            return
        key = (message.channel, message.source, message.pgn)
        rows = self._rows.get(key)
        if rows is None:
            rows = self._rows[key] = tuple(
                _ParameterRow(one, ValueRange(), ValueRange()) for one in BY_GROUP[message.pgn]
            )
        for row in rows:
            value = row.parameter.value(message.data)
            if isinstance(value, str):
                row.errors += 1
            elif value is not None:
                self._value(row, value, message)

    def readings(self) -> Iterator[BusReading]:
        """What was seen, by module, in the order of `PARAMETERS`."""
        places = {parameter.spn: place for place, parameter in enumerate(PARAMETERS)}
        found = [
            BusReading(Module(channel, source), row.parameter, row.all, row.cranking, row.errors)
            for (channel, source, _), rows in self._rows.items()
            for row in rows
            if row.all.count or row.errors
        ]
        yield from sorted(found, key=lambda one: (one.module, places[one.parameter.spn]))

    def _value(self, row: _ParameterRow, value: float, message: Message) -> None:
        if row.parameter.spn == ENGINE_SPEED:
            self._turns(Module(message.channel, message.source), value, message.time)
        row.all.take(value)
        if message.channel in self._cranking:
            row.cranking.take(value)

    def _turns(self, module: Module, speed: float, time: float) -> None:
        """The engine of this module turns at this speed: keep track of who is being cranked."""
        starter = self.starters.setdefault(module, Starter())
        was = starter.cranking
        starter.take(speed, time)
        if was != starter.cranking:
            engines = self.starters.items()
            self._cranking = {at.channel for at, one in engines if one.cranking}
