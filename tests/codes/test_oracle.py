"""The open protocol stack can-j1939 2.0.12 as second reader of the same frames.

On good traffic it must agree. On bad traffic and on "no code" it is known to be wrong; those answers are written
down here, so that a change of it is seen and nobody takes it for an oracle there.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator

import j1939
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.codes.frames import Frame
from diagnose.codes.timeline import NONE
from tests.codes.bus import CODE, alone, bam, codes, payload, single, state, told

LAMPS = {"mil": "malfunction lamp", "rsl": "red stop lamp", "awl": "amber lamp", "pl": "protect lamp"}
STATES = {0: "off", 1: "on", 2: "on (slow flash)", 3: "on (fast flash)", 4: "not available"}
FOUR: list[CODE] = [(164, 10, 2), (679, 7, 3), (636, 2, 126), (651, 5, 1)]


class Peer:
    """Their stack with its DM1 reader; `lists` is what it has told, one entry a notification."""

    def __init__(self) -> None:
        self.ecu = j1939.ElectronicControlUnit(send_message=lambda *args, **kwargs: None)
        self.lists: list[tuple[int, dict[str, int], list[tuple[int, int, int]]]] = []
        reader = j1939.Dm1(self.ecu)
        reader.subscribe(self._heard)

    def _heard(self, source: int, lamps: dict[str, int], found: list[dict[str, int]], time: float) -> None:
        self.lists.append((source, lamps, [(one["spn"], one["fmi"], one["oc"]) for one in found]))

    def read(self, frames: Iterable[Frame]) -> list[list[tuple[int, int, int]]]:
        self.lists.clear()
        for frame in frames:
            self.ecu.notify(frame.id, bytearray(frame.data), frame.time)
        return [found for _, _, found in self.lists]


@pytest.fixture(scope="module")
def peer() -> Iterator[Peer]:
    logging.getLogger("j1939").setLevel(logging.CRITICAL)
    made = Peer()
    yield made
    made.ecu.stop()


code = st.tuples(st.integers(1, 524286), st.integers(0, 21), st.integers(1, 127))
lit = st.integers(0, 1)
flash = st.sampled_from([0, 1, 3])


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(
    st.lists(code, min_size=1, max_size=12, unique_by=lambda one: one[:2]),
    st.tuples(lit, lit, lit, lit),
    st.tuples(flash, flash, flash, flash),
)
def test_good_traffic_reads_the_same(
    peer: Peer, sent: list[CODE], on: tuple[int, ...], flashes: tuple[int, ...]
) -> None:
    lamps = bytes(sum(bits << 2 * place for place, bits in enumerate(one)) for one in (on, flashes))
    frames = [single(7, alone(sent, lamps))] if len(sent) == 1 else bam(7, payload(sent, lamps))
    (theirs,) = peer.read(frames)
    modules, troubles = told(frames)
    ours = [(spn, fmi, 127 if count is None else count) for spn, fmi, count in codes(modules[7])]
    assert ours == theirs == sent
    assert not troubles
    shown = {str(lamp) for lamp in modules[7].lists[0].lamps}
    assert shown == {f"{LAMPS[key]} {STATES[value]}" for key, value in peer.lists[0][1].items()}


def test_two_senders_at_once_read_the_same(peer: Peer) -> None:
    mixed = [
        frame for pair in zip(bam(7, payload(FOUR)), bam(8, payload(FOUR)), strict=True) for frame in pair
    ]
    assert peer.read(mixed) == [FOUR, FOUR]
    assert [codes(one) for one in told(mixed)[0].values()] == [FOUR, FOUR]


# ---- where it is known to be wrong ----


@pytest.mark.parametrize(
    ("data", "theirs"),
    [
        ("00FF00000000FFFF", (0, 0, 0)),
        ("00FFFFFFFFFFFFFF", (524287, 31, 127)),
        ("00FF000000000000", (0, 0, 0)),
    ],
)
def test_it_takes_no_code_for_a_code(peer: Peer, data: str, theirs: CODE) -> None:
    frames = [single(7, bytes.fromhex(data))]
    assert peer.read(frames) == [[theirs]]
    modules, _ = told(frames)
    assert (codes(modules[7]), state(modules[7])) == ([], NONE)


def test_it_puts_packets_together_as_they_come(peer: Peer) -> None:
    head, one, two, three = bam(7, payload(FOUR))
    frames = [head, one, three, two]
    (theirs,) = peer.read(frames)
    assert theirs != FOUR
    assert theirs[0] == FOUR[0]
    assert codes(told(frames)[0].get(7)) == []


def test_it_takes_a_packet_that_came_twice_for_the_next_one(peer: Peer) -> None:
    head, one, two, three = bam(7, payload(FOUR))
    frames = [head, one, one, two, three]
    (theirs,) = peer.read(frames)
    assert theirs != FOUR
    assert codes(told(frames)[0][7]) == FOUR


def test_it_accepts_a_number_of_packets_that_does_not_fit(peer: Peer) -> None:
    head, *packets = bam(7, payload(FOUR))
    wrong = head._replace(data=head.data[:3] + b"\x07" + head.data[4:])
    assert peer.read([wrong, *packets]) == [FOUR]
    assert codes(told([wrong, *packets])[0].get(7)) == []


def test_it_fails_on_a_short_announcement(peer: Peer) -> None:
    frame = bam(7, payload(FOUR))[0]
    short = frame._replace(data=frame.data[:4])
    with pytest.raises(IndexError):
        peer.read([short])
    assert told([short]) == ({}, ())


def test_it_tells_an_empty_list_where_a_frame_is_too_short(peer: Peer) -> None:
    frames = [single(9, b"\x04\xff\x64\x00\x01")]
    fresh = Peer()
    try:
        assert fresh.read(frames) == [[]]
    finally:
        fresh.ecu.stop()
    assert state(told(frames)[0][9]) != NONE


def test_it_reads_the_older_packings_as_that_of_today(peer: Peer) -> None:
    frames = [single(7, bytes.fromhex("04FF0097038AFFFF"))]
    assert peer.read(frames) == [[(0x9700, 3, 10)]]
    assert codes(told(frames)[0][7]) == [(None, 3, 10)]
    assert codes(told(frames, 1)[0][7]) == [(1208, 3, 10)]
