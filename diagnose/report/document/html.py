"""A report as one HTML file that needs nothing beside it, and as the PDF made from that."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from diagnose.report.document.blocks import Paper
from diagnose.report.document.clean import clean

Sheet = Literal["a4", "letter"]
_FOLDER = Path(__file__).parent


class NoPdf(Exception):
    """WeasyPrint, or a library of the system that it needs, is not there."""


def html(paper: Paper) -> str:
    """The whole page; what somebody typed is escaped wherever it stands."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    pages = Environment(
        loader=FileSystemLoader(_FOLDER, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=lambda value: clean(value) if type(value) is str else value,
    )
    style = (_FOLDER / "page.css").read_text(encoding="utf-8")
    return pages.get_template("page.html").render(paper=paper, style=Markup(style), drawn=Markup) + "\n"


def pdf(paper: Paper, sheet: Sheet) -> bytes:
    """The page on sheets of paper. Raises NoPdf where WeasyPrint cannot be loaded."""
    try:
        import weasyprint
    except (ImportError, OSError) as error:
        raise NoPdf(str(error)) from error
    size = weasyprint.CSS(string=f"@page {{ size: {sheet} }}")
    page = weasyprint.HTML(string=html(paper), url_fetcher=_nothing_from_elsewhere)
    made: bytes = page.write_pdf(stylesheets=[size])
    return made


def _nothing_from_elsewhere(url: str, *args: object, **options: object) -> object:
    """A report needs nothing beside itself; whatever asks for more is refused."""
    raise ValueError("a report loads nothing")
