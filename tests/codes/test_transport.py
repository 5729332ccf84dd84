"""Messages to one receiver: request, clear to send, packets (J1939-21, from memory, not read)."""

from __future__ import annotations

import pytest

from diagnose.codes.frames import NO_TIME, Address, Frame, address
from tests.codes.bus import CODE, DM2, bam, codes, payload, rts, told, whats

FOUR: list[CODE] = [(164, 10, 2), (679, 7, 3), (636, 2, 126), (651, 5, 1)]
TOOL, ENGINE = 249, 0


def sent() -> list[Frame]:
    return rts(ENGINE, TOOL, payload(FOUR))


def clear_to_send(count: int, following: int, at: float) -> Frame:
    data = bytes([17, count, following, 255, 255]) + DM2.to_bytes(3, "little")
    return Frame(at, "can0", 0x1CEC0000 | ENGINE << 8 | TOOL, data)


def test_a_list_to_one_receiver_decodes() -> None:
    modules, troubles = told(sent())
    assert codes(modules[ENGINE]) == FOUR
    assert [one.status for one in modules[ENGINE].lists] == ["previously active"]
    assert not troubles


def test_a_packet_asked_for_again_takes_the_place_of_the_first() -> None:
    head, cts, one, two, three, end = sent()
    bad = two._replace(data=b"\x02" + bytes(7))
    frames = [head, cts, one, bad, clear_to_send(2, 2, 0.03), two, three, end]
    modules, troubles = told([frame._replace(time=0.01 * n) for n, frame in enumerate(frames)])
    assert codes(modules[ENGINE]) == FOUR
    assert not troubles


def test_a_receiver_may_ask_to_wait() -> None:
    head, cts, one, *rest = sent()
    hold = [clear_to_send(0, 255, at) for at in (1.0, 2.0)]
    frames = [head, cts, one, *hold, *(frame._replace(time=frame.time + 2) for frame in rest)]
    assert codes(told(frames)[0][ENGINE]) == FOUR


def test_a_request_for_a_packet_beyond_what_was_seen_says_that_one_is_missing() -> None:
    head, cts, one, _, three, end = sent()
    modules, troubles = told([head, cts, one, clear_to_send(1, 3, 0.025), three, end])
    assert codes(modules.get(ENGINE)) == []
    assert "a packet is missing" in whats(troubles)


def aborted(pgn: int, by_receiver: bool) -> Frame:
    pair = (ENGINE, TOOL) if by_receiver else (TOOL, ENGINE)
    data = bytes([255, 2, 255, 255, 255]) + pgn.to_bytes(3, "little")
    return Frame(0.015, "can0", 0x1CEC0000 | pair[0] << 8 | pair[1], data)


@pytest.mark.parametrize("by_receiver", [True, False])
def test_an_aborted_message_gives_nothing(by_receiver: bool) -> None:
    head, cts, one, *rest = sent()
    modules, troubles = told([head, cts, one, aborted(DM2, by_receiver), *rest])
    assert codes(modules.get(ENGINE)) == []
    assert "aborted" in whats(troubles)


@pytest.mark.parametrize("by_receiver", [True, False])
def test_an_abort_for_another_group_ends_nothing(by_receiver: bool) -> None:
    """Bytes 6 to 8 of an abort name the group that it ends (SAE J1939-21, from memory)."""
    head, cts, one, *rest = sent()
    modules, troubles = told([head, cts, one, aborted(0xFEE3, by_receiver), *rest])
    assert codes(modules[ENGINE]) == FOUR
    assert not troubles


def test_an_announcement_to_all_does_not_disturb_one_to_a_receiver() -> None:
    mixed = sorted([*sent(), *bam(ENGINE, payload(FOUR[:2]), 0.002)], key=lambda frame: frame.time)
    modules, troubles = told(mixed)
    assert {one.status: one.read for one in modules[ENGINE].lists} == {"active": 1, "previously active": 1}
    assert not troubles


def test_without_times_nothing_is_too_late() -> None:
    frames = [frame._replace(time=NO_TIME) for frame in bam(ENGINE, payload(FOUR))]
    assert codes(told(frames)[0][ENGINE]) == FOUR


def test_another_group_in_transport_is_no_trouble() -> None:
    assert told(bam(ENGINE, bytes(30), pgn=0xFEE3)[:3]) == ({}, ())


@pytest.mark.parametrize(
    ("id", "parts"),
    [
        (0x18FECA00, Address(65226, 0, 255)),
        (0x1CECFF3D, Address(60416, 61, 255)),
        (0x18EA00F9, Address(59904, 249, 0)),
        (0x0CF00400, Address(61444, 0, 255)),
        (0x19FECA00, Address(130762, 0, 255)),
    ],
)
def test_identifiers(id: int, parts: Address) -> None:
    """The last: with the data page bit set it is another group."""
    assert address(id) == parts


@pytest.mark.parametrize(
    ("size", "packets", "taken"),
    [(8, 2, False), (9, 2, True), (1785, 255, True), (1786, 255, False), (16, 2, False), (14, 3, False)],
)
def test_an_announcement_that_cannot_be_is_told(size: int, packets: int, taken: bool) -> None:
    """A message of several packets has 9 to 1785 bytes, seven in a packet (SAE J1939-21, from memory)."""
    head, cts, *rest = rts(ENGINE, TOOL, payload(FOUR).ljust(min(size, 1785), b"\xff"))
    announced = head.data[:1] + size.to_bytes(2, "little") + bytes([packets]) + head.data[4:]
    _, troubles = told([head._replace(data=announced), cts, *rest])
    assert ("which cannot be" in whats(troubles)) == (not taken)


def late(frames: list[Frame], first_late: int, pause: float) -> list[Frame]:
    """The frames, with a pause of so many seconds before one of them and no time between the others."""
    return [frame._replace(time=pause if n >= first_late else 0.0) for n, frame in enumerate(frames)]


@pytest.mark.parametrize(
    ("frames", "before", "longest"),
    [(bam(ENGINE, payload(FOUR)), 2, 0.75), (sent(), 3, 1.25), (sent(), 1, 1.25)],
)
def test_the_longest_pause(frames: list[Frame], before: int, longest: float) -> None:
    """T1 = 750 ms between the packets of a message to all, T2 = T3 = 1250 ms to one (SAE J1939-21, from memory)."""
    modules, troubles = told(late(frames, before, longest))
    assert codes(modules[ENGINE]) == FOUR
    assert not troubles
    modules, troubles = told(late(frames, before, longest + 0.01))
    assert codes(modules.get(ENGINE)) == []
    assert "the pause was too long" in whats(troubles)


def test_a_control_frame_that_is_cut_short_says_nothing() -> None:
    """Eight bytes, always (SAE J1939-21, from memory)."""
    head, cts, *rest = sent()
    for length in range(8):
        modules, troubles = told([head, cts, head._replace(data=head.data[:length]), *rest])
        assert codes(modules[ENGINE]) == FOUR
        assert not troubles


@pytest.mark.parametrize("left", [[0, 2, 3], [0, 1, 3], [0, 2, 1, 3]])
def test_a_packet_out_of_its_place_ends_the_message(left: list[int]) -> None:
    frames = bam(ENGINE, payload(FOUR))
    modules, troubles = told([frames[n]._replace(time=0.0) for n in left])
    assert codes(modules.get(ENGINE)) == []
    assert "a packet is missing or out of order" in whats(troubles)
