"""Eight worked examples, two of them from real buses.

Each decode but those of "no code" and of the older packings was made with the open protocol stack can-j1939 2.0.12
too (`test_oracle.py` does it again). Fields by J1939-73, from memory of it, not read.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from diagnose.codes.dtc import NO_CODE, Dtc, read_dtc
from diagnose.codes.log_survey import LogSurvey, survey
from diagnose.codes.timeline import NONE, SOME, ModuleCodes
from tests.codes.bus import codes, state

MIL, RED, AMBER, PROTECT = "malfunction lamp", "red stop lamp", "amber lamp", "protect lamp"


class Example(NamedTuple):
    frames: tuple[str, ...]
    address: int
    lit: tuple[str, ...]
    codes: tuple[tuple[int, int, int | None], ...]


EXAMPLES = {
    1: Example(("18FECA00#00FF00000000FFFF",), 0, (), ()),
    2: Example(("18FECA00#14FF64000101FFFF",), 0, (f"{RED} on", f"{AMBER} on"), ((100, 1, 1),)),
    3: Example(("18FECA00#04FF59F3FF7FFFFF",), 0, (f"{AMBER} on",), ((521049, 31, None),)),
    4: Example(
        (
            "1CECFF00#20120003FFCAFE00", "1CEBFF00#01543FA4000A02A7",
            "1CEBFF00#020207037C02027E", "1CEBFF00#038B02057FFFFFFF",
        ),
        0,
        (f"{MIL} on (slow flash)", f"{RED} on", f"{AMBER} on"),
        ((164, 10, 2), (679, 7, 3), (636, 2, 126), (651, 5, None)),
    ),
    5: Example(
        ("1CECFF3D#200E0002FFCAFE00", "1CEBFF3D#0144FDB30C00050C", "1CEBFF3D#02111201E106110C"),
        61,
        (f"{MIL} on", f"{AMBER} on"),
        ((3251, 0, 5), (4364, 18, 1), (1761, 17, 12)),
    ),
    6: Example(("18FECA0B#00FFFFFFFFFFFFFF",), 11, (), ()),
    8: Example(
        ("18ECFF1C#200E0002FFCAFE00", "14EBFF1C#0100FF7B1402030A", "14EBFF1C#02FFF3020AF8F702"),
        28,
        (),
        ((5243, 2, 3), (524042, 19, 2), (522250, 23, 2)),
    ),
}  # fmt: skip
SEVENTH = (
    "18ECFF17#20120003FFCAFE00", "18EBFF17#01C0FF53F784FE44", "18EBFF17#0201248143F5C4FE",
    "18EBFF17#0343F86481FFFFFF",
)  # fmt: skip


def surveyed(tmp_path: Path, frames: tuple[str, ...]) -> LogSurvey:
    log = tmp_path / "bus.log"
    log.write_text("".join(f"(1700000000.{n:02}0000) can0 {frame}\n" for n, frame in enumerate(frames)))
    return survey(log)


def only(found: LogSurvey) -> ModuleCodes:
    assert len(found.modules) == 1
    return found.modules[0]


@pytest.mark.parametrize("number", EXAMPLES)
def test_example(tmp_path: Path, number: int) -> None:
    example = EXAMPLES[number]
    found = surveyed(tmp_path, example.frames)
    module = only(found)
    assert module.module.address == example.address
    assert tuple(codes(module)) == example.codes
    assert tuple(str(lamp) for lamp in module.lists[0].lamps if lamp.state != "off") == example.lit
    assert state(module) == (SOME if example.codes else NONE)
    assert found.frames == len(example.frames)
    assert not found.skipped


def test_the_eighth_has_a_reserved_fmi_that_is_flagged(tmp_path: Path) -> None:
    """Real traffic; the code is kept as sent and not taken at its word."""
    sound = [seen.dtc.sound for seen in only(surveyed(tmp_path, EXAMPLES[8].frames)).codes]
    assert sound == [True, True, False]


def test_the_seventh_is_of_an_older_packing_and_shows_all_three_spns(tmp_path: Path) -> None:
    """Real traffic with the conversion bit set on all four codes."""
    module = only(surveyed(tmp_path, SEVENTH))
    assert [(seen.dtc.spns, seen.dtc.fmi, seen.sightings[0].count) for seen in module.codes] == [
        ((171964, 506524, 325459), 4, 126),
        ((139273, 2593, 65860), 4, 1),
        ((139182, 502302, 456003), 4, 126),
        ((139203, 508443, 260163), 4, 1),
    ]
    assert str(module.lists[0].lamps[0]) == "malfunction lamp not available"
    assert not any(seen.dtc.sound for seen in module.codes)


@pytest.mark.parametrize(("version", "raw"), [(1, "0097038A"), (2, "9700038A"), (3, "B804038A")])
def test_one_fault_in_the_three_older_packings(version: int, raw: str) -> None:
    """SPN 1208 FMI 3 count 10, from a public protocol header and a module manual's appendix."""
    asked = read_dtc(bytes.fromhex(raw))
    assert asked.spn is None
    assert asked.spns[version - 1] == 1208
    named = read_dtc(bytes.fromhex(raw), version)  # type: ignore[arg-type]
    assert (named.spn, named.fmi, named.count, named.sound) == (1208, 3, 10, True)


def test_the_same_fault_in_the_packing_of_today() -> None:
    found = read_dtc(bytes.fromhex("B804030A"), 1)
    assert found == Dtc(bytes.fromhex("B804030A"), (1208,), 3, 10)


@pytest.mark.parametrize(
    "frame", ["18FECA00#00FF000000000000", "18FECA00#00FF00000000FFFF", "18FECA00#00FFFFFFFFFFFFFF"]
)
def test_every_form_of_no_code_seen_on_real_buses(tmp_path: Path, frame: str) -> None:
    module = only(surveyed(tmp_path, (frame,)))
    assert state(module) == NONE
    assert not module.codes
    assert len(NO_CODE) == 2
