"""Times are told as local ones with their offset; a clock that jumped is told."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest

from diagnose.cases.events import Noted
from diagnose.cases.times import day, jumps, stamp
from tests.cli.conftest import Call, call

__all__ = ["call"]

In = Callable[[str], None]


@pytest.fixture
def living_in(monkeypatch: pytest.MonkeyPatch) -> Iterator[In]:
    """Sets the zone of this computer, in the form of POSIX."""

    def zone(name: str) -> None:
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield zone
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("zone", "told"),
    [
        ("UTC0", "2026-12-31 23:30+00"),
        ("AAA-1", "2027-01-01 00:30+01"),
        ("AAA-5:30", "2027-01-01 05:00+0530"),
        ("AAA+3:30", "2026-12-31 20:00-0330"),
        ("AAA-10", "2027-01-01 09:30+10"),
    ],
)
def test_a_time_is_local_with_its_year_and_offset(zone: str, told: str, living_in: In) -> None:
    """Worked by hand from the definition of the offset; POSIX writes the offset with the sign turned round."""
    living_in(zone)
    assert stamp("2026-12-31T23:30:00Z") == told
    assert day("2026-12-31T23:30:00Z") == told[:10]


def test_what_is_no_time_stands_as_it_is() -> None:
    assert (stamp(""), stamp("t"), day("2024-Q3"), stamp("2024-08-17")) == ("", "t", "2024-Q3", "2024-08-17")


NOW = datetime(2026, 6, 1, tzinfo=UTC)


def told(*times: str) -> dict[int, str]:
    return jumps((Noted("a", "b", sequence=n, time=time) for n, time in enumerate(times, 1)), NOW)


def test_a_clock_that_jumped_is_told() -> None:
    first, second = "2026-05-01T10:00:00Z", "2026-05-01T10:01:00Z"
    assert told(first, second) == {}
    assert told(second, first) == {}  # a minute: the clock was set right
    assert told(first, "1970-01-01T00:00:10Z", second) == {2: "the clock was not set"}
    assert told("2099-01-01T00:00:00Z", first) == {1: "the clock was ahead: this time is still to come"}
    assert told(first, "2026-04-30T10:00:00Z") == {2: "the clock went back: number 1 came before"}
    assert told("", "t") == {}


def test_the_history_tells_it(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    from diagnose.append_only import log

    class Wrong(datetime):
        @classmethod
        def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
            return datetime(1970, 1, 1, tzinfo=UTC)

    call("new", "D-07")
    monkeypatch.setattr(log, "datetime", Wrong)
    assert "Number 2: the clock was not set" in call("note", "rail_pressure = low").stderr
    assert "1970-01-01" in call("cases", "1").output
    assert "the clock was not set" in " ".join(call("cases", "1").output.split())
