"""Logs of other forms, written by python-can itself and read back through it."""

from __future__ import annotations

import base64
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import can
import pytest

from diagnose.codes.frames import EMPTY, ERROR, FD, FOREIGN, REMOTE, STANDARD, Frame
from diagnose.codes.log_survey import survey
from diagnose.codes.logfile import BY_PYTHON_CAN
from diagnose.errors import CallError, DataError
from tests.codes.bus import CODE, alone, bam, codes, payload, single, write

FOUR: list[CODE] = [(164, 10, 2), (679, 7, 3), (636, 2, 126), (651, 5, 1)]


def traffic() -> list[Frame]:
    return [*bam(0, payload(FOUR), 1.0), single(61, alone([(3251, 0, 5)]), 2.0)]


def by_python_can(path: Path, messages: Iterable[can.Message]) -> Path:
    with can.Logger(path) as writer:
        for message in messages:
            writer.on_message_received(message)
    return path


def as_message(frame: Frame) -> can.Message:
    return can.Message(
        timestamp=1700000000 + frame.time,
        arbitration_id=frame.id,
        is_extended_id=True,
        data=frame.data,
        channel=0,
    )


@pytest.mark.parametrize("ending", BY_PYTHON_CAN)
def test_every_form_says_the_same(tmp_path: Path, ending: str) -> None:
    log = by_python_can(tmp_path / f"bus{ending}", map(as_message, traffic()))
    found = {one.module.address: codes(one) for one in survey(log).modules}
    assert found == {0: FOUR, 61: [(3251, 0, 5)]}


@pytest.mark.parametrize("ending", [".asc", ".blf"])
def test_other_frames_are_counted(tmp_path: Path, ending: str) -> None:
    others = [
        can.Message(timestamp=1.0, arbitration_id=0x123, is_extended_id=False, data=b"\x01"),
        can.Message(timestamp=1.1, is_error_frame=True),
        can.Message(timestamp=1.2, arbitration_id=0x18FECA00, is_remote_frame=True, dlc=8),
        can.Message(timestamp=1.3, arbitration_id=0x18FECA00, is_fd=True, data=bytes(12)),
        can.Message(timestamp=1.4, arbitration_id=0x18FECA00, data=b""),
    ]
    log = by_python_can(tmp_path / f"bus{ending}", others)
    assert survey(log).skipped == {STANDARD: 1, ERROR: 1, REMOTE: 1, FD: 1, EMPTY: 1}


def test_a_form_whose_file_is_something_else_is_an_error(tmp_path: Path) -> None:
    for ending in (".blf", ".csv", ".trc", ".asc"):
        log = tmp_path / f"bus{ending}"
        log.write_bytes(b"hello\x00 world\n" * 5)
        with pytest.raises(DataError, match=r"L00[12]"):
            survey(log)


def test_lines_that_their_reader_passes_over_are_counted_and_not_printed(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    log = by_python_can(tmp_path / "bus.trc", map(as_message, traffic()))
    log.write_text(log.read_text() + "hello\n" * 3)
    found = survey(log)
    assert found.skipped == {FOREIGN: 3}
    assert len(found.modules) == 2
    assert capfd.readouterr().err == ""


def test_a_file_that_breaks_off_keeps_what_stands_before(tmp_path: Path) -> None:
    log = tmp_path / "bus.csv"
    data = base64.b64encode(alone([(100, 1, 1)])).decode()
    head = "timestamp,arbitration_id,extended,remote,error,dlc,data\n"
    log.write_text(f"{head}1.0,0x18FECA00,1,0,0,8,{data}\n2.0,oh no\n")
    found = survey(log)
    assert codes(found.modules[0]) == [(100, 1, 1)]
    assert "breaks off after 1 frames" in found.broken


def test_without_python_can_the_way_to_get_it_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = by_python_can(tmp_path / "bus.asc", map(as_message, traffic()))
    monkeypatch.setitem(sys.modules, "can", None)
    with pytest.raises(CallError, match=r"diesel-diagnose\[can\]"):
        survey(log)


def test_candump_needs_no_further_package(tmp_path: Path) -> None:
    log = write(tmp_path / "bus.log", traffic())
    code = (
        "import sys; from pathlib import Path; from diagnose.codes.log_survey import survey; "
        f"print(len(survey(Path({str(log)!r})).modules), 'can' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["2", "False"]
