"""What somebody typed stays text: on the page, in the drawings, in Markdown, on a terminal."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import pytest
from markdown_it import MarkdownIt
from markdown_it.token import Token

from diagnose.cases.events import (
    Checked,
    Closed,
    Coded,
    Event,
    Learnt,
    Noted,
    Opened,
    Reopened,
    Repaired,
    Withdrawn,
)
from diagnose.planning.shop import Shop
from diagnose.report.document.blocks import Paper
from diagnose.report.document.clean import clean
from diagnose.report.document.customer import customer_paper
from diagnose.report.document.gather import case_report
from diagnose.report.document.html import html
from diagnose.report.document.markdown import escaped, markdown
from diagnose.report.document.technician import technician_paper
from diagnose.report.svg import drawing
from diagnose.report.svg import text as label
from tests.report.cases import case_of, small
from tests.report.pages import page

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</title></style></svg><h2>No</h2>",
    "]]><!-- -->",
    "&lt;b&gt; &amp; &#60;i>",
    "{{ 7 * 7 }} {% raw %} ${7*7}",
    "| a | b |\n| --- | --- |",
    "# head\n- item\n1. item\n> quote\n---",
    "[here](javascript:alert(1)) ![x](y) <http://x.example>",
    "**bold** _thin_ `code` ~~gone~~ \\* ```",
    "\x1b[31mred\x1b]0;title\x07 \x00 \x9b2J",
    "\u202egnp.exe \u2066x\u2069",
    "lone \ud800 half",
)
NEUTRAL = {
    *(
        "html",
        "head",
        "meta",
        "title",
        "style",
        "body",
        "header",
        "main",
        "section",
        "footer",
        "h1",
        "h2",
        "h3",
    ),
    *("p", "strong", "ul", "li", "dl", "div", "dt", "dd", "table", "thead", "tbody", "tr", "th", "td"),
    *("figure", "figcaption", "svg", "desc", "text", "line", "polyline", "polygon", "rect", "circle"),
}


def papers(text: str) -> tuple[Paper, Paper]:
    """Both reports of a case in which everything that can be typed is this text."""
    events: tuple[Event, ...] = (
        Opened(text, text, {"duty": text, text: text}, 5200.0, {text: 1.0}, text),
        Noted("no_start", "present", text=text),
        Noted("rail_pressure", "low", text=text, value=2.0, unit=text),
        Coded(text, text),
        Noted(text, text, text=text),
        Learnt({text: text}, 5300.0, {}, text),
        Checked("cut_filter", text),
        Noted("metal_in_filter", "present"),
        Repaired(("replace_pump", text), ("pump_worn", text), text=text),
        Noted("no_start", "absent"),
        Closed(("pump_worn", text), "by sight", True, text),
        Reopened(text),
        Noted("no_start", "present", text=text),
        Noted("steam_white", "present", text=text),
        Withdrawn(14, text),
    )
    shop = Shop(currency=text, consumables=0.0)
    report = case_report(small(), case_of(*events), shop, text)
    report = replace(report, impossible=()) if report.impossible else report
    return customer_paper(report), technician_paper(report)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_page_holds_no_tag_that_was_typed(text: str) -> None:
    for paper in papers(text):
        made = html(paper)
        made.encode("utf-8")  # a lone surrogate could not be
        found = page(made)
        assert found.tags <= NEUTRAL
        assert (found.left_open, found.closed_wrongly) == ([], [])
        assert not [
            name for _, name, _ in found.attributes if name.startswith("on") or name in ("src", "href")
        ]
        assert [tag for tag, name, _ in found.attributes if name == "http-equiv"] == ["meta"]


@pytest.mark.parametrize("text", HOSTILE)
def test_the_page_shows_what_was_typed(text: str) -> None:
    for paper in papers(text):
        assert clean(text) in page(html(paper)).text


@pytest.mark.parametrize("text", HOSTILE)
def test_markdown_shows_what_was_typed_and_nothing_of_it_is_markup(text: str) -> None:
    """Parsed by markdown-it, an implementation of CommonMark with its own test suite."""
    reader = MarkdownIt("commonmark").enable(["table", "strikethrough"])
    for paper in papers(text):
        inline = [token for token in reader.parse(markdown(paper)) if token.type == "inline"]
        kinds = {child.type for token in inline for child in token.children or ()}
        assert kinds <= {"text", "strong_open", "strong_close", "em_open", "em_close", "text_special"}
        assert not [
            token
            for token in reader.parse(markdown(paper))
            if token.type in ("html_block", "fence", "code_block")
        ]
        assert clean(text) in " ".join(map(shown, inline))


@pytest.mark.parametrize("text", HOSTILE)
def test_an_escaped_text_alone_is_one_paragraph_that_reads_as_typed(text: str) -> None:
    tokens = MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(escaped(text))
    assert [token.type for token in tokens] == ["paragraph_open", "inline", "paragraph_close"]
    assert shown(tokens[1]) == clean(text)


def shown(token: Token) -> str:
    """The text of an inline token as a reader sees it."""
    return "".join(child.content for child in token.children or () if child.type in ("text", "text_special"))


@pytest.mark.parametrize("text", HOSTILE)
def test_a_drawing_holds_no_tag_that_was_typed(text: str) -> None:
    root = ElementTree.fromstring(drawing(10, 10, text, text, [label(1, 2, text)]))
    assert [child.tag.partition("}")[2] for child in root] == ["title", "desc", "text"]
    assert [child.text for child in root] == [clean(text)] * 3


def test_nothing_reaches_a_terminal_that_it_would_obey() -> None:
    for text in HOSTILE:
        for paper in papers(text):
            made = markdown(paper)
            assert not [letter for letter in made if ord(letter) < 32 and letter != "\n"]
            assert not [
                letter for letter in made if 0x7F <= ord(letter) < 0xA0 or 0x202A <= ord(letter) <= 0x202E
            ]


def test_letters_of_all_kinds_stay() -> None:
    for text in ("Überdruck ≥ 3,5 MPa", "油圧 低い", "ضغط الزيت", "µm · Ω – 12 °C", "e\u0301"):
        assert clean(text) == text
