"""What stands on a page of HTML, as a browser's parser takes it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta"}


@dataclass
class Page(HTMLParser):
    """Tags, attributes and texts of a page; `headings` are those of the sections."""

    tags: set[str] = field(default_factory=set)
    attributes: list[tuple[str, str, str]] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    headings: list[str] = field(default_factory=list)
    left_open: list[str] = field(default_factory=list)
    closed_wrongly: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.left_open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        if self.left_open and self.left_open[-1] == tag:
            self.left_open.pop()
        else:
            self.closed_wrongly.append(tag)

    def handle_data(self, data: str) -> None:
        if self.left_open and self.left_open[-1] not in ("style",):
            self.texts.append(data)
            if self.left_open[-1] == "h2":
                self.headings.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.texts))


def page(html: str) -> Page:
    found = Page()
    found.feed(html)
    found.close()
    return found
