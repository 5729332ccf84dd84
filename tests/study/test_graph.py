"""The picture of a neighbourhood: nothing lies over anything else, and it can be printed in black and white."""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import pytest

from diagnose.knowledge.loader import load, shipped_folder
from diagnose.knowledge.records import Knowledge
from diagnose.report.graph_picture import _boxes, _ordered, _placed, _stacked, picture
from diagnose.study.neighbours import MOST, columns, neighbourhood
from tests.study.small import small

SVG = "{http://www.w3.org/2000/svg}"
CENTRES = ("hp_oil_pump_worn", "oil_gallery_pressure", "cranks_no_start", "egr_cooler_leaking")


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load(shipped_folder())


@pytest.mark.parametrize("depth", [1, 2])
@pytest.mark.parametrize("centre", CENTRES)
def test_links_point_to_the_right(knowledge: Knowledge, centre: str, depth: int) -> None:
    hood = neighbourhood(knowledge, centre, depth)
    column = columns(hood)
    assert centre in hood.ids
    assert len(hood.ids) <= MOST
    assert all(column[edge.parent] < column[edge.effect] for edge in hood.edges)


@pytest.mark.parametrize("centre", CENTRES)
def test_nothing_overlaps(knowledge: Knowledge, centre: str) -> None:
    """Boxes and lanes of one column stand clear of each other, and no two links share a port."""
    boxes = _boxes(knowledge, neighbourhood(knowledge, centre, 2))
    stacks = _stacked(boxes)
    _ordered(stacks)
    _placed(stacks)
    for stack in stacks:
        for one, other in combinations(stack, 2):
            assert one.top + one.height < other.top or other.top + other.height < one.top
    for box in (box for box in boxes if box.lines):
        for side in (box.before, box.after):
            ports = sorted(box.port(other) for other in side)
            assert all(box.top < port < box.top + box.height for port in ports)
            assert all(b - a >= 14 for a, b in pairwise(ports))


@pytest.mark.parametrize("centre", CENTRES)
def test_words_fit_their_boxes_and_all_is_black_and_white(knowledge: Knowledge, centre: str) -> None:
    text = picture(knowledge, neighbourhood(knowledge, centre, 2))
    root = ET.fromstring(text)
    colours = set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]+)"', text))
    assert all(len(set(colour[1:])) == 1 for colour in colours), "shades of grey only"
    words = [one.text or "" for one in root.iter(f"{SVG}text") if one.get("text-anchor") == "middle"]
    assert max(map(len, words)) <= 30
    width, height = float(root.get("width", "0")), float(root.get("height", "0"))
    for rect in [one for one in root.iter(f"{SVG}rect") if one.get("x")]:
        assert float(rect.get("x", "0")) + float(rect.get("width", "0")) <= width
        assert float(rect.get("y", "0")) + float(rect.get("height", "0")) <= height


def test_a_small_picture_holds_all_records_and_strengths() -> None:
    knowledge = small()
    hood = neighbourhood(knowledge, "starved", 1)
    assert set(hood.ids) == {
        "starved", "stalls", "hums", "filter_plugged", "pump_worn", "first_twin", "second_twin"
    }  # fmt: skip
    words = [one.text for one in ET.fromstring(picture(knowledge, hood)).iter(f"{SVG}text")]
    for text in ("Starved", "Stalls", "Hums", "Filter plugged", "Pump worn", "80", "10", "90", "50"):
        assert text in words


def test_a_crowd_is_cut_by_strength_and_says_so() -> None:
    hood = neighbourhood(small(), "starved", 1, most=4)
    assert set(hood.ids) == {"starved", "filter_plugged", "pump_worn", "stalls"}
    assert hood.left_out == 3
    assert "3 weaker ones are left out" in picture(small(), hood)
