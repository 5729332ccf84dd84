"""The drawings, by what stands in them."""

from __future__ import annotations

from itertools import pairwise
from xml.etree import ElementTree

import pytest

from diagnose.report.document.case_record import Argument, CauseStanding, WeighedFinding
from diagnose.report.document.figures import argument_picture, costs_picture, nice, traces_picture
from diagnose.report.svg import spread
from tests.report.cases import CAME_BACK, DONE, MENDED, told

SVG = "{http://www.w3.org/2000/svg}"


def texts(drawing: str) -> list[str]:
    return [one.text or "" for one in ElementTree.fromstring(drawing).iter(f"{SVG}text")]


def points(line: ElementTree.Element) -> list[tuple[float, float]]:
    pairs = (pair.split(",") for pair in line.get("points", "").split())
    return [(float(x), float(y)) for x, y in pairs]


def test_the_traces_go_where_the_probabilities_went() -> None:
    report = told(*DONE)
    lines = list(ElementTree.fromstring(traces_picture(report, plain=False)).iter(f"{SVG}polyline"))
    assert len(lines) == len(report.story.traces)
    for line, one in zip(lines, report.story.traces, strict=True):
        ys = [y for _, y in points(line)]
        ups = [after > before for before, after in pairwise(one.values)]
        lower = [after < before for before, after in pairwise(ys)]
        # drawn upward where it rose; changes too small for a tenth of a point may be drawn flat
        assert all(up == low for up, low, a, b in zip(ups, lower, ys, ys[1:], strict=False) if a != b)


def test_steps_and_repairs_are_marked() -> None:
    said = texts(traces_picture(told(*MENDED), plain=False))
    assert {"start", "2", "3", "5", "6", "7", "8", "100 %"} <= set(said)
    assert "4" not in said  # a check done changes nothing by itself
    assert said.count("repair") == 1


def test_the_customers_axis_has_words() -> None:
    said = " ".join(texts(traces_picture(told(*MENDED), plain=True)))
    assert "very likely" in said
    assert "%" not in said


def test_the_cost_ends_at_the_sum() -> None:
    report = told(*CAME_BACK)
    said = texts(costs_picture(report))
    assert "in all 1,190 EUR" in said
    assert {"labour 290 EUR", "parts 900 EUR"} <= set(said)


def argument(*weights: float) -> Argument:
    cause = CauseStanding("a", "Cause a", "", 0.4, 1, "")
    return Argument(
        cause, 0, 3.0, tuple(WeighedFinding(f"finding {n}", "", w) for n, w in enumerate(weights))
    )


def test_bars_go_right_for_and_left_against_and_are_as_long_as_they_weigh() -> None:
    root = ElementTree.fromstring(argument_picture(argument(10.0, -5.0, 0.2), 20.0))
    right, left = root.iter(f"{SVG}rect")
    middle = float(right.get("x", "nan"))
    assert float(left.get("x", "nan")) < middle
    assert float(right.get("width", 0)) == pytest.approx(2 * float(left.get("width", 0)), abs=0.2)
    assert {"+10", "-5"} <= set(texts(argument_picture(argument(10.0, -5.0, 0.2), 20.0)))


def test_labels_keep_apart_and_in_order() -> None:
    found = spread([50, 51, 52, 10], 20, 0, 100)
    assert sorted(found) == [found[3], found[0], found[1], found[2]]
    gaps = [after - before for before, after in pairwise(sorted(found))]
    assert min(gaps) >= 20
    assert spread([5.0], 20, 0, 100) == [5.0]
    assert max(spread([99, 99, 99], 20, 0, 100)) == 100


@pytest.mark.parametrize(("amount", "step"), [(0, 1), (1, 1), (3, 5), (66, 100), (135, 200), (999, 1000)])
def test_an_axis_has_round_steps(amount: float, step: float) -> None:
    assert nice(amount) == step
