"""Both textual forms of candump (as its own source and manual describe them, from memory), and everything else."""

from __future__ import annotations

import gzip
import io
import random
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.codes import candump
from diagnose.codes.candump import LONGEST_LINE, read_candump
from diagnose.codes.frames import (
    EMPTY,
    ERROR,
    FD,
    FOREIGN,
    LONG,
    NO_TIME,
    REMOTE,
    STANDARD,
    Frame,
    FrameCounts,
)
from diagnose.codes.log_survey import OTHER_CHANNELS, survey
from diagnose.errors import DataError
from tests.codes.bus import alone, bam, line, payload, single, write

DATA = bytes.fromhex("14FF64000101FFFF")


def read(text: bytes, every: bool = True) -> tuple[list[Frame], FrameCounts]:
    tally = FrameCounts()
    return list(read_candump(io.BytesIO(text), lambda id: every, tally, lambda: None)), tally


@pytest.mark.parametrize(
    ("text", "time", "channel"),
    [
        (b"(1700000000.250000) can0 18FECA00#14FF64000101FFFF", 1700000000.25, "can0"),
        (b"(1700000000.250000) can0 18FECA00#14FF64000101FFFF R", 1700000000.25, "can0"),
        (b"(0.25) vcan1 18feca00#14ff64000101ffff\r", 0.25, "vcan1"),
        (b" (000.250000)  can0  18FECA00   [8]  14 FF 64 00 01 01 FF FF", 0.25, "can0"),
        (b"(000.250000)  can0  RX - -  18FECA00   [8]  14 FF 64 00 01 01 FF FF", 0.25, "can0"),
        (b"  can0  18FECA00   [8]  14 FF 64 00 01 01 FF FF", NO_TIME, "can0"),
        (b"  can0  18FECA00   [8]  14 FF 64 00 01 01 FF FF   '..d.....'", NO_TIME, "can0"),
        (
            b" (2023-11-14 22:13:20.250000)  can0  18FECA00   [8]  14 FF 64 00 01 01 FF FF",
            1700000000.25,
            "can0",
        ),
    ],
)
def test_a_frame_in_each_writing(text: bytes, time: float, channel: str) -> None:
    assert read(text) == ([Frame(time, channel, 0x18FECA00, DATA)], FrameCounts(frames=1))


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (b"(1.0) can0 123#14FF", STANDARD),
        (b" (1.0)  can0  123   [2]  14 FF", STANDARD),
        (b"(1.0) can0 20000004#0004000000000000", ERROR),
        (b" (1.0)  can0  20000004   [8]  00 04 00 00 00 00 00 00   ERRORFRAME", ERROR),
        (b"(1.0) can0 18FECA00#R", REMOTE),
        (b"(1.0) can0 18FECA00#R8", REMOTE),
        (b" (1.0)  can0  18FECA00   [8]  remote request", REMOTE),
        (b"(1.0) can0 18FECA00##314FF64000101FFFF", FD),
        (b" (1.0)  can0  18FECA00  [08]  14 FF 64 00 01 01 FF FF", FD),
        (b"(1.0) can0 1FFFFFFF#", EMPTY),
        (b" (1.0)  can0  1FFFFFFF   [0]", EMPTY),
        (b"", FOREIGN),
        (b"hello", FOREIGN),
        (b"(1.0) can0 18FECA00#14F", FOREIGN),
        (b"(1.0) can0 18FECA00#14FF64000101FFFF00", FOREIGN),
        (b" (1.0)  can0  18FECA00   [8]  14 FF 64", FOREIGN),
        (b"(nan) can0 18FECA00#14FF64000101FFFF", FOREIGN),
        (b"(1_0.0) can0 18FECA00#14FF64000101FFFF", FOREIGN),
        (b"(-1.0) can0 18FECA00#14FF64000101FFFF", FOREIGN),
        (b"(1.0) can0 18FECA0G#14FF64000101FFFF", FOREIGN),
        (b"(1.0) can0 18FECA00#14FF" + b" " * LONGEST_LINE, LONG),
    ],
)
def test_what_is_no_data_frame_of_29_bits_is_counted_by_kind(text: bytes, kind: str) -> None:
    frames, tally = read(text + b"\n")
    assert frames == []
    assert {kind: 1} == +tally.skipped
    assert tally.frames == 0


def test_frames_not_wanted_are_only_counted() -> None:
    assert read(line(single(0, DATA)).encode(), every=False) == ([], FrameCounts(frames=1))


lines = st.lists(st.binary(max_size=60) | st.just(line(single(0, DATA, 1.0)).encode().rstrip()), max_size=20)


@given(lines, st.integers(1, 70))
def test_the_size_of_a_block_changes_nothing(texts: list[bytes], block: int) -> None:
    text = b"\n".join(texts)
    once = read(text)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(candump, "BLOCK", block)
        assert read(text) == once


@pytest.mark.parametrize("ending", [b"", b"\n"])
def test_a_very_long_line_is_counted_once(ending: bytes) -> None:
    good = line(single(0, DATA, 1.0)).encode()
    frames, tally = read(good + b"A" * 5_000_000 + b"\n" + good.rstrip() + ending)
    assert len(frames) == 2
    assert +tally.skipped == {LONG: 1}


def test_a_line_without_end_is_not_held_in_memory() -> None:
    class Endless(io.BytesIO):
        """Sixty blocks without the end of a line."""

        left = 60

        def read1(self, size: int | None = -1) -> bytes:
            self.left -= 1
            return b"A" * 1_000_000 if self.left >= 0 else b""

    tally = FrameCounts()
    tracemalloc.start()
    try:
        assert list(read_candump(Endless(), lambda id: True, tally, lambda: None)) == []
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert +tally.skipped == {LONG: 1}
    assert peak < 10_000_000


def test_memory_does_not_grow_with_the_log() -> None:
    class Endless(io.BytesIO):
        """One list a second, again and again."""

        left = 40

        def read1(self, size: int | None = -1) -> bytes:
            self.left -= 1
            return block if self.left >= 0 else b""

    block = line(single(0, alone([(100, 1, 1)]), 1.0)).encode() * 2_000
    tracemalloc.start()
    try:
        tally = FrameCounts()
        found = read_candump(Endless(), lambda id: False, tally, lambda: None)
        assert list(found) == []
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert tally.frames == 80_000
    assert peak < 10 * len(block) < 40 * len(block)


def test_a_packed_log_reads_like_the_plain_one(tmp_path: Path) -> None:
    plain = write(tmp_path / "bus.log", bam(0, payload([(164, 18, 3), (100, 1, 1)])))
    packed = tmp_path / "bus.log.gz"
    packed.write_bytes(gzip.compress(plain.read_bytes()))
    assert survey(packed) == survey(plain)


def test_a_packed_log_that_breaks_off_keeps_what_stands_before(tmp_path: Path) -> None:
    noise = random.Random(1)
    frames = [single(0, alone([(100, 1, 1)]), at) for at in range(3)]
    text = "".join(map(line, frames)) + "".join(
        f"(9.0) can0 18FEF000#{noise.randbytes(8).hex()}\n" for _ in range(9999)
    )
    packed = tmp_path / "bus.log.gz"
    packed.write_bytes(gzip.compress(text.encode())[:-20000])
    found = survey(packed)
    assert found.modules[0].codes[0].dtc.spn == 100
    assert "breaks off" in found.broken


@pytest.mark.parametrize(
    "content", [b"", b"\n\n", b"hello\n", b"\x00\xff" * 5000, "(1.0) can0".encode("utf-16")]
)
def test_a_file_without_a_frame_is_an_error(tmp_path: Path, content: bytes) -> None:
    log = tmp_path / "bus.log"
    log.write_bytes(content)
    with pytest.raises(DataError, match="L002 holds no CAN frame"):
        survey(log)


def test_more_buses_than_any_machine_has_are_counted_not_kept(tmp_path: Path) -> None:
    frames = [single(0, alone([(100, 1, 1)]), 1.0, channel=f"x{n}") for n in range(100)]
    found = survey(write(tmp_path / "bus.log", frames))
    assert (len(found.modules), found.skipped) == (32, {OTHER_CHANNELS: 68})


def test_a_clock_that_steps_back_is_told(tmp_path: Path) -> None:
    frames = [single(0, alone([(100, 1, 1)]), at) for at in (10, 11, 2, 3)]
    found = survey(write(tmp_path / "bus.log", frames))
    assert found.backwards == 1
    (sighting,) = found.modules[0].codes[0].sightings
    assert (sighting.first, sighting.last) == (2, 11)
