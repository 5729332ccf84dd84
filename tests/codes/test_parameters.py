"""Values on the bus. Resolutions and offsets: two public tables; byte positions: public signal definitions where
`SEEN`, else from memory of J1939-71 (not read)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pytest

from diagnose.codes.frames import Frame
from diagnose.codes.log_survey import messages
from diagnose.codes.parameters import PARAMETERS, BusReading, Parameter, Starter, Watch
from tests.codes.bus import bam, single

SPEED, VOLTS, OIL, COOLANT, BOOST, RAIL = 0xF004, 0xFEF7, 0xFEEF, 0xFEEE, 0xFEF6, 0xFEDB
NONE = b"\xff" * 8


def of(spn: int) -> Parameter:
    return next(one for one in PARAMETERS if one.spn == spn)


def speed(rpm: float, at: float) -> Frame:
    return single(0, NONE[:3] + round(rpm / 0.125).to_bytes(2, "little") + NONE[:3], at, SPEED)


def rail(mpa: float, at: float) -> Frame:
    return single(0, round(mpa * 256).to_bytes(2, "little") + NONE[:6], at, RAIL)


def read(frames: Iterable[Frame]) -> tuple[dict[int, BusReading], Watch]:
    watch = Watch()
    for message in messages(frames):
        watch.take(message)
    return {one.parameter.spn: one for one in watch.readings()}, watch


@pytest.mark.parametrize(
    ("pgn", "spn", "data", "value"),
    [
        (SPEED, 190, "FFFFFF0014FFFFFF", 640),  # seen: bits 24 to 39
        (SPEED, 190, "000000FFFA000000", 8031.875),  # seen: the highest value there is
        (VOLTS, 168, "FFFFFFFFFA00FFFF", 12.5),  # seen: bytes 5 and 6
        (COOLANT, 110, "7DFFFFFFFFFFFFFF", 85),  # seen: byte 1
        (COOLANT, 110, "00FFFFFFFFFFFFFF", -40),
        (RAIL, 164, "8003FFFFFFFFFFFF", 3.5),  # seen: bytes 1 and 2
        (RAIL, 157, "FFFF0064FFFFFFFF", 100),  # seen: bytes 3 and 4
        (OIL, 100, "FFFFFF64FFFFFFFF", 400),
        (BOOST, 102, "FF4BFFFFFFFFFFFF", 150),
    ],
)
def test_a_value_from_its_bytes(pgn: int, spn: int, data: str, value: float) -> None:
    assert of(spn).pgn == pgn
    found, _ = read([single(0, bytes.fromhex(data), 0, pgn)])
    assert list(found) == [spn]
    assert found[spn].all.low == found[spn].all.high == pytest.approx(value)


@pytest.mark.parametrize("spn", [one.spn for one in PARAMETERS])
def test_what_is_no_value_is_none(spn: int) -> None:
    """To FA a value, FE an error, FB to FD and FF not available or reserved (J1939-71, from memory)."""
    parameter = of(spn)
    head = b"\x00" * (parameter.byte - 1) + b"\x10" * (parameter.size - 1)
    values = [parameter.value(head + bytes([top])) for top in range(256)]
    assert all(isinstance(value, float | int) for value in values[:0xFB])
    assert values[0xFB:] == [None, None, None, "error", None]


def test_short_data_has_no_value() -> None:
    assert of(190).value(bytes(4)) is None


def test_errors_of_a_sensor_are_counted_apart() -> None:
    found, _ = read([single(0, b"\xfe" + NONE[:7], at, COOLANT) for at in range(3)])
    assert (found[110].errors, found[110].all.count) == (3, 0)


def test_messages_of_several_frames_are_no_values() -> None:
    assert read(bam(0, bytes(16), pgn=RAIL))[0] == {}


def start(rpms: Iterable[float], step: float = 0.1) -> Iterator[Frame]:
    for n, rpm in enumerate(rpms):
        yield speed(rpm, n * step)
        yield rail(rpm / 100, n * step + 0.01)


def test_lowest_highest_and_mean_while_cranking() -> None:
    rpms = [0] * 5 + [180] * 40 + [220] * 40 + [0] * 5
    found, watch = read(start(rpms))
    assert (found[190].cranking.low, found[190].cranking.high) == (180, 220)
    assert found[190].cranking.mean == pytest.approx(200)
    assert found[164].cranking.high == pytest.approx(2.2, abs=0.01)
    (starter,) = watch.starters.values()
    assert starter.longest == pytest.approx(7.9)


def test_an_engine_that_fires_is_cranked_only_until_then() -> None:
    found, _ = read(start([0] * 3 + [200] * 10 + [450, 650, 700, 700]))
    assert (found[190].cranking.high, found[190].all.high) == (200, 700)


def test_an_engine_that_runs_down_is_not_cranked() -> None:
    found, watch = read(start([700, 700, 390, 250, 100, 20, 0]))
    assert found[190].cranking.count == 0
    assert watch.starters[next(iter(watch.starters))].longest == 0


def test_a_log_that_begins_with_a_turning_engine_does_not_say_that_it_is_cranked() -> None:
    assert read(start([200] * 10))[0][190].cranking.count == 0


def test_a_gap_in_the_log_is_not_time_spent_cranking() -> None:
    starter = Starter()
    for rpm, at in [(0, 0), (200, 1), (200, 1.5), (200, 60), (200, 60.5)]:
        starter.take(rpm, at)
    assert starter.longest == pytest.approx(0.5)
