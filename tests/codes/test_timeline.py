"""What the lists of several kinds and the freeze frames come to (layouts from memory of J1939-73, not read)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.codes.dtc import read_freeze_frames
from diagnose.codes.timeline import MOST_CODES, MOST_TROUBLES, NONE, ListState
from tests.codes.bus import (
    CODE,
    DM1,
    DM2,
    DM4,
    DM6,
    DM12,
    DM25,
    alone,
    bam,
    codes,
    dtc,
    payload,
    single,
    told,
    whats,
)

ONE: list[CODE] = [(164, 18, 3)]


@pytest.mark.parametrize(
    ("pgn", "status"),
    [(DM1, "active"), (DM2, "previously active"), (DM6, "pending"), (DM12, "emission-related active")],
)
def test_lists_by_their_group(pgn: int, status: str) -> None:
    modules, _ = told([single(0, alone(ONE), pgn=pgn)])
    assert [one.status for one in modules[0].codes[0].sightings] == [status]


def test_one_code_in_two_lists_is_one_code_with_two_sightings() -> None:
    modules, _ = told([single(0, alone(ONE)), single(0, alone(ONE), 5, DM2)])
    (seen,) = modules[0].codes
    assert [(one.status, one.first) for one in seen.sightings] == [("active", 0), ("previously active", 5)]


def test_the_version_named_by_the_user_settles_the_older_packing() -> None:
    frame = single(0, b"\x04\xff" + bytes.fromhex("9700038A") + b"\xff\xff")
    assert codes(told([frame])[0][0]) == [(None, 3, 10)]
    assert codes(told([frame], 2)[0][0]) == [(1208, 3, 10)]


def test_freeze_frames_name_their_codes_and_keep_the_values_as_sent() -> None:
    frames = b"".join(
        bytes([4 + len(rest)]) + dtc(spn, 18, 1) + rest for spn, rest in [(164, b"abc"), (100, b"")]
    )
    found = read_freeze_frames(frames)
    assert [(one.code.spn, one.values) for one in found] == [(164, b"abc"), (100, b"")]
    for pgn in (DM4, DM25):
        modules, troubles = told(bam(0, frames, pgn=pgn))
        assert modules[0].freeze_frames == found
        assert (modules[0].codes, troubles) == ((), ())


@pytest.mark.parametrize("data", [bytes(8), b"\xff" * 8, b"\x0f" + bytes(3), b"\x08" + dtc(164, 18, 1), b""])
def test_no_freeze_frame_where_there_is_none_or_half_of_one(data: bytes) -> None:
    assert read_freeze_frames(data) == ()


def test_memory_has_an_end_and_says_so() -> None:
    frames = (single(0, alone([(spn, 3, 1)]), spn) for spn in range(1, MOST_CODES + 100))
    modules, troubles = told(frames)
    assert len(modules[0].codes) == MOST_CODES
    assert "not kept" in whats(troubles)
    heads = ([32, *size.to_bytes(2, "little"), 0, 255, *DM1.to_bytes(3, "little")] for size in range(9, 1700))
    frames = (single(0, bytes(head))._replace(id=0x1CECFF00) for head in heads)
    _, troubles = told(frames)
    assert len(troubles) == MOST_TROUBLES + 1
    assert sum(one.times for one in troubles) == 1691


def test_two_codes_of_a_list_keep_their_order() -> None:
    two: list[CODE] = [(651, 5, 1), (164, 18, 3)]
    assert codes(told(bam(0, payload(two)))[0][0]) == two


def test_a_module_that_had_a_code_is_not_told_as_one_without() -> None:
    """A severe code in the first list, none in the second."""
    from diagnose.report.codes_screen import _state

    state = ListState("active", read=2, whole=2, state=NONE, with_codes=1)
    assert _state(state) == "No active code in the last list; 1 of 2 had one"
    assert _state(replace(state, with_codes=0)) == "No active code (2 lists)"
