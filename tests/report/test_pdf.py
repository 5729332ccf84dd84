"""The report on sheets of paper, where WeasyPrint is there."""

from __future__ import annotations

import re
import sys
import warnings
import zlib
from importlib import import_module
from pathlib import Path
from typing import Literal

import pytest

from diagnose.report.document.customer import customer_paper
from diagnose.report.document.html import NoPdf, pdf
from tests.report.cases import DONE, told


def why_not(module: str) -> str:
    """Why this module cannot be used here, empty where it can. Whatever goes wrong counts: it may be missing, or a
    library below it may be, or be so old that loading it warns."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            import_module(module)
    except Exception as error:
        return f"{module} cannot be loaded with its libraries: {error!r}"
    return ""


MISSING = why_not("weasyprint")

# A4 is 210 mm x 297 mm (ISO 216), Letter 8.5 in x 11 in (ANSI/ASME Y14.1); a point is 1/72 in.
POINTS = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (8.5 * 72, 11 * 72)}


def inflated(made: bytes) -> bytes:
    """The file with its packed streams unpacked (PDF, ISO 32000: FlateDecode is zlib's format)."""
    packed = re.findall(rb"stream\r?\n(.*?)endstream", made, re.DOTALL)
    return made + b"".join(zlib.decompressobj().decompress(one) for one in packed if one[:1] == b"x")


@pytest.mark.skipif(bool(MISSING), reason=MISSING)
@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_a_pdf_has_sheets_of_the_size_asked_for(sheet: Literal["a4", "letter"]) -> None:
    made = pdf(customer_paper(told(*DONE)), sheet)
    assert made.startswith(b"%PDF-")
    sizes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", inflated(made))
    assert sizes
    assert {(round(float(w)), round(float(h))) for w, h in sizes} == {tuple(map(round, POINTS[sheet]))}


def test_without_weasyprint_it_says_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(NoPdf):
        pdf(customer_paper(told(*DONE)), "a4")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("raise OSError('no such library')", "no such library"),
        ("import no_such_module_at_all", "no_such_module_at_all"),
        ("import warnings; warnings.warn('too old', DeprecationWarning)", "too old"),
        ("", ""),
    ],
)
def test_whatever_stops_the_import_is_a_reason_to_skip(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str, said: str
) -> None:
    (tmp_path / "paper_maker.py").write_text(text, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "paper_maker", raising=False)
    assert said in why_not("paper_maker")
    assert bool(said) == bool(why_not("paper_maker"))
    monkeypatch.delitem(sys.modules, "paper_maker", raising=False)
