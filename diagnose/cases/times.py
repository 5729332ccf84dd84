"""Times of events as people read them: recorded in UTC, told as local time with its offset; jumps of the clock."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from diagnose.cases.events import Event

SMALL = timedelta(minutes=2)
"""Steps back that nobody needs to hear of: clocks are set right by as much."""
AHEAD = timedelta(hours=1)
"""A time later than now by more than this was told by a clock that was wrong."""
EARLIEST = datetime(2020, 1, 1, tzinfo=UTC)
"""The program is younger: an empty clock battery starts at 1970 or 2000."""


def day(time: str) -> str:
    """The local day of a recorded time; what is no time as it stands."""
    moment = _moment(time)
    return f"{moment.astimezone():%Y-%m-%d}" if moment else time[:10]


def stamp(time: str) -> str:
    """Local day and minute of a recorded time with the offset from UTC: `2026-11-29 15:46+01`; empty where there is
    none, and what is no time as it stands."""
    moment = _moment(time)
    if moment is None:
        return f"{time[:10]} {time[11:16]}".strip()
    local = moment.astimezone()
    offset = f"{local:%z}".removesuffix("00") if local.utcoffset() else "+00"
    return f"{local:%Y-%m-%d %H:%M}{offset}"


def jumps(events: Iterable[Event], now: datetime | None = None) -> dict[int, str]:
    """By number of the event: what is wrong with the time that the clock told. `now`: the time to compare with."""
    now = now or datetime.now(UTC)
    wrong: dict[int, str] = {}
    latest, number = EARLIEST, 0
    for event in events:
        moment = _moment(event.time)
        if moment is None:
            continue
        if moment > now + AHEAD:
            wrong[event.sequence] = "the clock was ahead: this time is still to come"
        elif moment < EARLIEST:
            wrong[event.sequence] = "the clock was not set"
        elif moment < latest - SMALL:
            wrong[event.sequence] = f"the clock went back: number {number} came before"
        else:
            latest, number = max(latest, moment), event.sequence
    return wrong


def _moment(time: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(time)
    except ValueError:
        return None
    return moment if moment.tzinfo else None
