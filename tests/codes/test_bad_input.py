"""Bad traffic: what must come of it. No code is ever made up, and nothing is called clear after garbage.

The rules are those of J1939-21 and -73 (from memory, not read); what a receiver without them makes of the same
frames stands in `test_oracle.py`.
"""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.codes.frames import Frame
from diagnose.codes.log_survey import messages
from diagnose.codes.timeline import NONE, SOME, UNKNOWN, Ledger
from tests.codes.bus import CODE, DM1, DM2, alone, bam, codes, payload, single, state, told, whats

THREE: list[CODE] = [(164, 10, 2), (679, 7, 3), (636, 2, 126)]
FOUR: list[CODE] = [*THREE, (651, 5, 1)]  # 18 bytes: three packets


def whole() -> list[Frame]:
    return bam(0, payload(FOUR))


def later(at: float, found: list[CODE] = FOUR) -> list[Frame]:
    return bam(0, payload(found), at)


@pytest.mark.parametrize("lost", [1, 2, 3])
def test_a_lost_packet_gives_no_code_and_the_next_list_decodes(lost: int) -> None:
    broken = [frame for place, frame in enumerate(whole()) if place != lost]
    modules, troubles = told(broken)
    assert codes(modules.get(0)) == []
    assert state(modules[0]) == UNKNOWN
    assert "0: incomplete list of active codes" in whats(troubles)
    modules, troubles = told([*broken, *later(1.0)])
    assert codes(modules[0]) == FOUR
    assert state(modules[0]) == SOME
    assert "incomplete" in whats(troubles)


def test_packets_out_of_order_are_never_put_together_as_they_come() -> None:
    head, *packets = whole()
    for order in permutations(packets):
        frames = [head, *(frame._replace(time=0.05 * n) for n, frame in enumerate(order, 1))]
        modules, troubles = told(frames)
        assert codes(modules.get(0)) == (FOUR if list(order) == packets else [])
        assert ("out of order" in whats(troubles)) == (list(order) != packets)


def test_the_same_packet_twice_changes_nothing() -> None:
    for twice in (1, 2):
        frames = whole()
        frames.insert(twice + 1, frames[twice])
        modules, troubles = told(frames)
        assert codes(modules[0]) == FOUR
        assert not troubles


def test_two_packets_of_one_number_with_different_data_end_the_list() -> None:
    frames = whole()
    frames.insert(2, frames[1]._replace(data=b"\x01" + bytes(7)))
    modules, troubles = told(frames)
    assert codes(modules.get(0)) == []
    assert "out of order" in whats(troubles)


def test_two_senders_at_once_both_decode() -> None:
    other: list[CODE] = [(3251, 0, 5), (4364, 18, 1), (1761, 17, 12)]
    mixed = sorted([*whole(), *bam(61, payload(other), 0.01)], key=lambda frame: frame.time)
    modules, troubles = told(mixed)
    assert (codes(modules[0]), codes(modules[61]), troubles) == (FOUR, other, ())


def test_one_address_on_two_buses_is_two_modules() -> None:
    mixed = sorted([*whole(), *bam(0, payload(THREE), 0.01, channel="can1")], key=lambda frame: frame.time)
    ledger = Ledger()
    for message in messages(mixed):
        ledger.take(message)
    assert [(one.module.channel, codes(one)) for one in ledger.modules()] == [("can0", FOUR), ("can1", THREE)]


def test_packets_without_an_announcement_are_ignored() -> None:
    assert told(whole()[1:]) == ({}, ())


def test_the_newest_announcement_replaces_the_one_before() -> None:
    modules, troubles = told([*whole()[:2], *later(0.2, THREE)])
    assert codes(modules[0]) == THREE
    assert "the next one began" in whats(troubles)


@pytest.mark.parametrize("packets", [0, 1, 2, 4, 255])
def test_a_number_of_packets_that_does_not_fit_the_size_is_refused(packets: int) -> None:
    head, *rest = whole()
    wrong = head._replace(data=head.data[:3] + bytes([packets]) + head.data[4:])
    modules, troubles = told([wrong, *rest])
    assert codes(modules.get(0)) == []
    assert "which cannot be" in whats(troubles)


@pytest.mark.parametrize("size", [0, 6, 8, 1786, 65535])
def test_a_size_that_no_transport_has_is_refused(size: int) -> None:
    head = bytes([0x20, *size.to_bytes(2, "little"), -(-size // 7) & 255, 255, *DM1.to_bytes(3, "little")])
    modules, troubles = told([Frame(0, "can0", 0x1CECFF00, head), *whole()[1:]])
    assert codes(modules.get(0)) == []
    assert "which cannot be" in whats(troubles)


@pytest.mark.parametrize("extra", [1, 2, 3])
def test_a_list_that_ends_within_a_code_gives_the_whole_ones_and_a_warning(extra: int) -> None:
    modules, troubles = told(bam(0, payload(THREE) + bytes([7] * extra)))
    assert codes(modules[0]) == THREE
    assert "does not end with a whole code" in whats(troubles)


@pytest.mark.parametrize("length", range(8))
def test_a_short_announcement_is_ignored(length: int) -> None:
    head, *packets = whole()
    assert told([head._replace(data=head.data[:length]), *packets]) == ({}, ())


@pytest.mark.parametrize("length", [6, 7])
def test_a_short_frame_with_one_code_is_taken_with_a_warning(length: int) -> None:
    modules, troubles = told([single(0, alone(THREE[:1])[:length])])
    assert codes(modules[0]) == THREE[:1]
    assert f"a frame of {length} bytes" in whats(troubles)


@pytest.mark.parametrize("length", range(1, 6))
def test_a_frame_too_short_for_a_code_is_refused_and_not_called_clear(length: int) -> None:
    modules, troubles = told([single(0, alone(THREE[:1])[:length])])
    assert codes(modules[0]) == []
    assert state(modules[0]) == UNKNOWN
    assert "too short" in whats(troubles)


@pytest.mark.parametrize(("step", "kept"), [(0.7, True), (0.76, False), (60.0, False)])
def test_a_pause_of_more_than_750_ms_ends_the_list(step: float, kept: bool) -> None:
    modules, troubles = told(bam(0, payload(FOUR), step=step))
    assert codes(modules.get(0)) == (FOUR if kept else [])
    assert ("the pause was too long" in whats(troubles)) != kept


def test_repeated_lists_are_one_code_with_first_last_and_largest_count() -> None:
    counts = (1, 3, 2, 127)
    modules, _ = told(single(0, alone([(100, 1, n)]), at) for at, n in enumerate(counts))
    (seen,) = modules[0].codes
    (sighting,) = seen.sightings
    assert (sighting.first, sighting.last, sighting.times, sighting.count) == (0, 3, 4, 3)
    assert sighting.still


def test_a_code_that_a_later_whole_list_lacks_is_no_longer_active() -> None:
    frames = [single(0, alone([(100, 1, 1)])), single(0, alone([(110, 0, 1)]), 1)]
    modules, _ = told(frames)
    assert [(seen.dtc.spn, seen.sightings[0].still) for seen in modules[0].codes] == [
        (100, False),
        (110, True),
    ]
    modules, _ = told([*frames, single(0, alone([]), 2)])
    assert not any(seen.sightings[0].still for seen in modules[0].codes)
    assert state(modules[0]) == NONE


def test_a_broken_list_takes_no_code_away() -> None:
    for broken in (whole()[:3], [single(0, b"\x04\xff\x00", 1)], [single(0, b"\xff" * 8, 1)]):
        modules, _ = told([single(0, alone([(100, 1, 1)])), *broken])
        assert modules[0].codes[0].sightings[0].still
        assert state(modules[0]) == SOME


@pytest.mark.parametrize(
    ("bits", "why"),
    [
        (alone([(0, 5, 1)]), "SPN 0 is no fault"),
        (alone([(524287, 30, 1)]), "SPN 524287 is no fault"),
        (alone([(524287, 31, 127)]), "SPN 524287 is no fault"),
        *((alone([(100, fmi, 1)]), f"FMI {fmi} is reserved") for fmi in range(22, 31)),
    ],
)
def test_a_code_that_cannot_be_is_kept_flagged_and_not_sound(bits: bytes, why: str) -> None:
    modules, troubles = told([single(0, bits)])
    (seen,) = modules[0].codes
    assert why in seen.dtc.doubts
    assert not seen.dtc.sound
    assert seen.dtc.raw == bits[2:6]
    assert "a code that cannot be" in whats(troubles)
    assert state(modules[0]) == SOME


def test_a_reserved_lamp_state_is_flagged_and_nothing_is_called_clear() -> None:
    modules, troubles = told([single(0, alone([], b"\x80\xff"))])
    assert state(modules[0]) == UNKNOWN
    assert "lamp state reserved" in whats(troubles)


def test_a_list_of_not_available_is_no_clear_list() -> None:
    modules, troubles = told([single(0, b"\xff" * 8)])
    assert state(modules[0]) == UNKNOWN
    assert "not available" in whats(troubles)


def test_a_clear_list_before_garbage_does_not_count_after_it() -> None:
    clear = single(0, alone([]))
    assert state(told([clear])[0][0]) == NONE
    for garbage in (whole()[:2], [single(0, b"\x00")], [single(0, b"\xff" * 8)]):
        assert state(told([clear, *garbage])[0][0]) == UNKNOWN
        assert state(told([clear, *garbage, single(0, alone([]), 9)])[0][0]) == NONE


def test_one_part_with_two_kinds_of_fault_is_two_codes() -> None:
    two: list[CODE] = [(5571, 0, 1), (5571, 3, 2)]
    modules, _ = told(bam(0, payload(two)))
    assert codes(modules[0]) == two


def test_a_lamp_on_without_a_code_is_told() -> None:
    modules, troubles = told([single(0, alone([], b"\x10\xff"))])
    assert state(modules[0]) == NONE
    assert "a lamp is on" in whats(troubles)


def test_lists_of_another_kind_change_nothing_of_the_active_ones() -> None:
    modules, _ = told([single(0, alone([(100, 1, 1)])), single(0, alone([]), 1, DM2)])
    assert modules[0].codes[0].sightings[0].still
    assert (state(modules[0]), state(modules[0], "previously active")) == (SOME, NONE)


real = st.tuples(st.integers(1, 524286), st.integers(0, 21), st.integers(1, 126))


@given(st.lists(real, min_size=2, max_size=8, unique_by=lambda code: code[:2]), st.data())
def test_no_frame_lost_or_doubled_ever_makes_up_a_code(sent: list[CODE], data: st.DataObject) -> None:
    frames = bam(0, payload(sent))
    places = data.draw(st.lists(st.sampled_from(range(len(frames))), max_size=3 * len(frames)))
    chosen = [frames[place]._replace(time=0.05 * n) for n, place in enumerate(places)]
    modules, _ = told(chosen)
    assert codes(modules.get(0)) in ([], sent)
