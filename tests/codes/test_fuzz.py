"""Logs damaged at random: no exception but ours, every line accounted for, no code that was not sent.

`python -m tests.codes.test_fuzz SECONDS` runs the same for longer.
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.codes.candump import read_candump
from diagnose.codes.frames import Frame, FrameCounts
from diagnose.codes.log_survey import LogSurvey, survey
from diagnose.errors import DataError
from tests.codes.bus import CODE, alone, bam, line, payload, rts, single

SENT: list[CODE] = [(164, 18, 2), (679, 7, 3), (636, 2, 126), (100, 1, 1), (110, 0, 9)]
PIECES = [
    b"(1.0) can0 ", b"18FECA00", b"1CECFF00", b"1CEBFF00", b"#", b"##", b"#R", b"  [8] ", b"(", b")", b" ", b"\n",
    b"\r", b"0A", b"FF", b"2012", b"remote request", b"ERRORFRAME", b"\x00", b"\xff", b"'", b"x" * 1100, b"-",
]  # fmt: skip
soup = st.lists(st.sampled_from(PIECES) | st.binary(max_size=4), max_size=40).map(b"".join)


def good() -> list[Frame]:
    return [*bam(0, payload(SENT[:3])), single(3, alone(SENT[3:4]), 1), *rts(61, 249, payload(SENT[1:]), 2)]


LOG = "".join(map(line, good())).encode()
damage = st.lists(st.tuples(st.integers(0, len(LOG) - 1), st.binary(min_size=1, max_size=1)), max_size=12)

no_digits = st.lists(
    st.tuples(st.integers(0, len(LOG) - 1), st.sampled_from(list(b"xyz.\x00\x80\n "))), max_size=12
)


def surveyed(text: bytes) -> LogSurvey | None:
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "bus.log"
        log.write_bytes(text)
        try:
            return survey(log, readings=True)
        except DataError:
            return None


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(soup)
def test_every_line_is_accounted_for(text: bytes) -> None:
    tally = FrameCounts()
    for frame in read_candump(io.BytesIO(text), lambda id: True, tally, lambda: None):
        assert 1 <= len(frame.data) <= 8
    *lines, rest = text.split(b"\n")
    assert tally.frames + sum(tally.skipped.values()) == len(lines) + bool(rest)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(soup)
def test_nothing_raises_but_our_own_error(text: bytes) -> None:
    found = surveyed(text)
    assert found is None or found.frames >= 0


@settings(deadline=None)
@given(no_digits)
def test_damage_that_is_no_digit_never_makes_up_a_code(hits: list[tuple[int, int]]) -> None:
    """What is not a hexadecimal digit can break lines, never change a byte of them."""
    text = bytearray(LOG)
    for place, byte in hits:
        text[place] = byte
    found = surveyed(bytes(text))
    for module in found.modules if found else ():
        for seen in module.codes:
            assert (seen.dtc.spn, seen.dtc.fmi) in {code[:2] for code in SENT}


@settings(deadline=None)
@given(damage)
def test_any_damage_is_survived(hits: list[tuple[int, bytes]]) -> None:
    text = bytearray(LOG)
    for place, byte in hits:
        text[place : place + 1] = byte
    found = surveyed(bytes(text))
    for module in found.modules if found else ():
        assert all(seen.sightings for seen in module.codes)
        assert {one.status for one in module.lists} <= {
            "active",
            "previously active",
            "pending",
            "emission-related active",
        }


ALL = (
    (test_every_line_is_accounted_for, soup),
    (test_nothing_raises_but_our_own_error, soup),
    (test_damage_that_is_no_digit_never_makes_up_a_code, no_digits),
    (test_any_damage_is_survived, damage),
)

if __name__ == "__main__":
    end, logs, many = time.monotonic() + float(sys.argv[1]), 0, 2000
    long = settings(max_examples=many, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    while time.monotonic() < end:
        for test, strategy in ALL:
            long(given(strategy)(test.hypothesis.inner_test))()  # type: ignore[attr-defined]
            logs += many
        print(f"up to {logs} damaged logs, nothing found", flush=True)
