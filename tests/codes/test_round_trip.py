"""Codes -> frames -> log -> codes, with several senders mixed at random, frames lost and frames doubled.

What was sent is known, so the answer is known without any second decoder: whole lists come back exactly, and no
loss or doubling may ever add a code.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.codes.frames import Frame
from diagnose.codes.log_survey import survey
from diagnose.codes.timeline import SOME
from tests.codes.bus import CODE, alone, bam, codes, payload, single, state, told, write

code = st.tuples(st.integers(1, 524286), st.integers(0, 21), st.integers(1, 126))
a_list = st.lists(code, min_size=1, max_size=30, unique_by=lambda one: one[:2])
senders = st.dictionaries(st.integers(0, 253), a_list, min_size=1, max_size=4)


def sent_by(source: int, found: list[CODE]) -> list[Frame]:
    return [single(source, alone(found))] if len(found) == 1 else bam(source, payload(found))


@st.composite
def mixed(draw: st.DrawFn) -> tuple[dict[int, list[CODE]], list[Frame]]:
    """Several senders, their frames in one order drawn at random that keeps each sender's own."""
    sent = draw(senders)
    queues = {source: sent_by(source, found) for source, found in sent.items()}
    order: list[Frame] = []
    while queues:
        source = draw(st.sampled_from(sorted(queues)))
        order.append(queues[source].pop(0)._replace(time=0.001 * len(order)))
        if not queues[source]:
            del queues[source]
    return sent, order


@given(mixed())
def test_what_was_sent_comes_back(case: tuple[dict[int, list[CODE]], list[Frame]]) -> None:
    sent, frames = case
    modules, troubles = told(frames)
    assert {source: codes(one) for source, one in modules.items()} == sent
    assert all(state(one) == SOME for one in modules.values())
    assert troubles == ()


@settings(max_examples=25, deadline=None)
@given(mixed())
def test_also_by_way_of_a_file(case: tuple[dict[int, list[CODE]], list[Frame]]) -> None:
    sent, frames = case
    with tempfile.TemporaryDirectory() as folder:
        found = survey(write(Path(folder) / "bus.log", frames))
    assert {one.module.address: codes(one) for one in found.modules} == sent
    assert (found.frames, found.skipped) == (len(frames), {})


@given(mixed(), st.data())
def test_loss_takes_whole_lists_and_adds_nothing(
    case: tuple[dict[int, list[CODE]], list[Frame]], data: st.DataObject
) -> None:
    sent, frames = case
    gone = data.draw(st.sets(st.integers(0, len(frames) - 1), min_size=1))
    kept = [frame for place, frame in enumerate(frames) if place not in gone]
    hit = {frames[place].id & 255 for place in gone}
    modules, _ = told(kept)
    for source, found in sent.items():
        assert codes(modules.get(source)) == ([] if source in hit else found)


@given(mixed(), st.data())
def test_doubled_frames_change_nothing(
    case: tuple[dict[int, list[CODE]], list[Frame]], data: st.DataObject
) -> None:
    """A frame logged twice, the copy right behind: the codes stay (an announcement twice begins anew, and does)."""
    sent, frames = case
    twice = data.draw(st.sets(st.integers(0, len(frames) - 1)))
    doubled = [
        f for place, frame in enumerate(frames) for f in ([frame, frame] if place in twice else [frame])
    ]
    modules, _ = told(doubled)
    assert {source: codes(one) for source, one in modules.items()} == sent
