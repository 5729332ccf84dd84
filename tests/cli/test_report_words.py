"""Numbers in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.report.screen_words import BAR_CELLS, bar, count, listed, minutes, percent, weight


@given(st.floats(0, 1))
def test_a_probability_is_never_shown_as_certain(p: float) -> None:
    shown = percent(p)
    assert shown not in ("0 %", "100 %")
    if not shown.startswith(("under", "over")):
        assert abs(float(shown.removesuffix(" %")) - 100 * p) <= 0.5 + 1e-9


@pytest.mark.parametrize(
    ("p", "shown"),
    [
        (0, "under 1 %"),
        (0.0049, "under 1 %"),
        (0.005, "1 %"),
        (0.71, "71 %"),
        (0.9949, "99 %"),
        (0.995, "over 99 %"),
        (1, "over 99 %"),
    ],
)
def test_percent(p: float, shown: str) -> None:
    assert percent(p) == shown


@given(st.floats(0, 1))
def test_a_bar_is_always_as_long(p: float) -> None:
    assert len(bar(p)) == BAR_CELLS
    assert abs(bar(p).count("|") - BAR_CELLS * p) <= 0.5 + 1e-9


@pytest.mark.parametrize(
    ("value", "shown"), [(0, "0 min"), (0.2, "1 min"), (59.6, "1 h"), (80, "1 h 20 min"), (120, "2 h")]
)
def test_minutes(value: float, shown: str) -> None:
    assert minutes(value) == shown


@pytest.mark.parametrize(
    ("decibans", "shown"),
    [
        (12.2, "strongly for (+12 dB)"),
        (-12.2, "strongly against (-12 dB)"),
        (10.0, "clearly for (+10 dB)"),  # ten times the odds (Good 1950: 10 decibans = 1 ban)
        (-2.0, "slightly against (-2 dB)"),
        (0.1, "says nothing more (0 dB)"),
    ],
)
def test_weight(decibans: float, shown: str) -> None:
    assert weight(decibans) == shown


def test_lists_and_counts() -> None:
    assert [listed("abc"[:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
    assert [count(n, "entry", "entries") for n in range(3)] == ["no entries", "1 entry", "2 entries"]
