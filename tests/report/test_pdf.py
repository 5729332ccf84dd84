"""The report on sheets of paper, where WeasyPrint is there."""

from __future__ import annotations

import re
import zlib
from typing import Literal

import pytest

from diagnose.report.document.customer import customer_paper
from diagnose.report.document.html import NoPdf, pdf
from tests.report.cases import DONE, told

try:
    import weasyprint  # noqa: F401 - its libraries may be missing as well
except (ImportError, OSError):
    pytest.skip("WeasyPrint or a library that it needs is not installed", allow_module_level=True)

# A4 is 210 mm x 297 mm (ISO 216), Letter 8.5 in x 11 in (ANSI/ASME Y14.1); a point is 1/72 in.
POINTS = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (8.5 * 72, 11 * 72)}


def inflated(made: bytes) -> bytes:
    """The file with its packed streams unpacked (PDF, ISO 32000: FlateDecode is zlib's format)."""
    packed = re.findall(rb"stream\r?\n(.*?)endstream", made, re.DOTALL)
    return made + b"".join(zlib.decompressobj().decompress(one) for one in packed if one[:1] == b"x")


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_a_pdf_has_sheets_of_the_size_asked_for(sheet: Literal["a4", "letter"]) -> None:
    made = pdf(customer_paper(told(*DONE)), sheet)
    assert made.startswith(b"%PDF-")
    sizes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", inflated(made))
    assert sizes
    assert {(round(float(w)), round(float(h))) for w, h in sizes} == {tuple(map(round, POINTS[sheet]))}


def test_without_weasyprint_it_says_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(NoPdf):
        pdf(customer_paper(told(*DONE)), "a4")
