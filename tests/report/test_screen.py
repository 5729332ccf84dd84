"""The report on a terminal: text that wraps, no marks of a page or of Markdown, and tables that fit."""

from __future__ import annotations

import re

import pytest

from diagnose.cases.scenario import folder
from diagnose.cli.show import rendered
from diagnose.planning.shop import Shop
from diagnose.report.document.blocks import Grid, Paper
from diagnose.report.document.customer import customer_paper
from diagnose.report.document.gather import case_report
from diagnose.report.document.screen import paper_screen
from diagnose.report.document.technician import technician_paper
from tests import shipped

MARKS = re.compile(r"&[a-z]+;|</?[a-z]+>|^#+ |^\||\|$|\*\*|\\[-.|*_]", re.MULTILINE)
"""Entities, tags, headings, tables, bold and escapes of pages and Markdown."""
FEW = ["pump_worn_plough", "cooler_was_not_it_crusher", "replaced_pump_still_dead_plough"]
REST = sorted({path.stem for path in folder().glob("*.yaml")} - set(FEW))[::12]


def papers(name: str) -> list[Paper]:
    case = shipped.scenario(name).case()
    report = case_report(shipped.shipped_knowledge(), case, Shop(), "2026-03-09T12:00:00Z")
    return [technician_paper(report), customer_paper(report)]


def cells(paper: Paper) -> list[str]:
    grids = [block for section in paper.sections for block in section.blocks if isinstance(block, Grid)]
    return [cell for grid in grids for row in grid.rows for cell in row if cell]


def check(name: str) -> None:
    for paper in papers(name):
        for width in (60, 100):
            text = rendered(paper_screen(paper), width)
            lines = text.splitlines()
            assert max(map(len, lines)) <= width
            assert all(line == line.rstrip() for line in lines)
            assert not MARKS.search(text), MARKS.search(text)
            told = "".join(text.split())
            for cell in cells(
                paper
            ):  # no cell is lost or cut; words of two columns alternate where they wrap
                assert all("".join(word.split()) in told for word in cell.split())
            assert all("".join(section.title.split()) in told for section in paper.sections)
            assert ".." not in told


@pytest.mark.parametrize("name", FEW)
def test_a_report_is_text_that_fits(name: str) -> None:
    check(name)


@pytest.mark.slow
@pytest.mark.parametrize("name", REST)
def test_a_report_is_text_that_fits_elsewhere(name: str) -> None:
    check(name)


@pytest.mark.slow
@pytest.mark.parametrize("name", FEW)
def test_the_customer_is_told_the_same_next_move(name: str) -> None:
    """Seen before: the first check, where the move was a repair."""
    case = shipped.scenario(name).case()
    report = case_report(shipped.shipped_knowledge(), case, Shop(), "2026-03-09T12:00:00Z")
    text = " ".join(rendered(paper_screen(customer_paper(report)), 100).split())
    assert report.move
    assert f"Next: {report.move.words}." in text


def test_a_table_without_room_is_told_row_by_row() -> None:
    grid = Grid(
        ("Step", "What", "Time", "Labour", "Parts", "Standing"), (("1", "Look", "5 min", "8", "0", "4"),)
    )
    from diagnose.report.document.screen import _Fitted

    assert "Time: 5 min; Labour: 8; Parts: 0; Standing: 4" in " ".join(rendered(_Fitted(grid), 30).split())
    assert "Time:" not in rendered(_Fitted(grid), 60)
