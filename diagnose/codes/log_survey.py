"""A bus log from file to result: frames -> messages -> codes by module, and readings where wanted."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from diagnose.codes.dtc import Version
from diagnose.codes.frames import NO_TIME, Frame, FrameCounts, address
from diagnose.codes.logfile import FORMS, read_log
from diagnose.codes.parameters import BY_GROUP, BusReading, Watch
from diagnose.codes.timeline import DIAGNOSTIC, Ledger, ModuleCodes, Trouble
from diagnose.codes.transport import CONTROL, DATA, Message, Transport
from diagnose.errors import DataError, Place, Problem

MOST_CHANNELS = 32  # more names than this are not buses but garbage
BACKWARDS = 1.0  # seconds that a time may step back without a word
OTHER_CHANNELS = "frames on more buses than any machine has"


@dataclass(frozen=True, slots=True)
class LogSurvey:
    """What a log holds. `skipped`: what was passed over, by kind. `cranked`: longest cranking, seconds.

    `backwards`: how often the time stepped back; first and last sighting may then be wrong.
    """

    modules: tuple[ModuleCodes, ...]
    troubles: tuple[Trouble, ...]
    frames: int
    skipped: dict[str, int]
    broken: str = ""
    backwards: int = 0
    readings: tuple[BusReading, ...] = ()
    cranked: float = 0.0


def survey(
    path: Path,
    version: Version | None = None,
    readings: bool = False,
    told: Callable[[int], None] = lambda count: None,
) -> LogSurvey:
    """Read a log once, in constant memory. Raises CallError and DataError as `read_log` does, and DataError for a
    file without a single frame.
    """
    tally = FrameCounts()
    groups = DIAGNOSTIC | {CONTROL, DATA} | (BY_GROUP.keys() if readings else set())
    clock = _Clock()
    frames = clock.watched(read_log(path, lambda id: address(id).pgn in groups, tally, told), tally)
    ledger, watch = Ledger(version), Watch()
    for message in messages(frames):
        ledger.take(message)
        if readings:
            watch.take(message)
    if not tally.frames and not sum(count for kind, count in tally.skipped.items() if "frames" in kind):
        raise DataError([Problem("L002", Place(str(path)), "holds no CAN frame that can be read", FORMS)])
    return LogSurvey(
        ledger.modules(),
        ledger.troubles(),
        tally.frames,
        {kind: count for kind, count in sorted(tally.skipped.items()) if count},
        tally.broken,
        clock.backwards,
        tuple(watch.readings()),
        max((one.longest for one in watch.starters.values()), default=0.0),
    )


def messages(frames: Iterable[Frame]) -> Iterator[Message]:
    """The messages of these frames in order, with what was lost."""
    transport = Transport()
    for frame in frames:
        yield from transport.take(frame)
    yield from transport.end()


@dataclass
class _Clock:
    """Counts steps back in time, and keeps to a number of buses."""

    last: float = NO_TIME
    backwards: int = 0

    def watched(self, frames: Iterable[Frame], tally: FrameCounts) -> Iterator[Frame]:
        """The same frames, but for those on more buses than there can be."""
        channels: set[str] = set()
        for frame in frames:
            if frame.channel not in channels:
                if len(channels) >= MOST_CHANNELS:
                    tally.skipped[OTHER_CHANNELS] += 1
                    tally.frames -= 1
                    continue
                channels.add(frame.channel)
            self.backwards += frame.time < self.last - BACKWARDS
            self.last = frame.time
            yield frame
