"""The few shapes that the drawings need, as SVG with every text escaped and no style sheet to depend on."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from html import escape
from typing import Literal

from diagnose.report.document.clean import clean

Anchor = Literal["start", "middle", "end"]
INK, FAINT, RULE = "#1f2933", "#5b6770", "#d5dbe0"
FONT = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"


def drawing(
    width: float, height: float, title: str, words: str, shapes: Iterable[str], ink: str = INK, size: str = ""
) -> str:
    """A drawing that is as wide as its place, or of the `size` that `sized` writes; `title` and `words` are read
    out where it cannot be seen."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{size} viewBox="0 0 {width:g} {height:g}" role="img" '
        f'font-family="{FONT}" font-size="11" fill="{ink}">'
        f"<title>{escape(clean(title))}</title><desc>{escape(clean(words))}</desc>{''.join(shapes)}</svg>"
    )


def sized(width: float, height: float) -> str:
    """The size of a drawing that stands by itself."""
    return f' width="{width:g}" height="{height:g}"'


def element(tag: str, **style: str | float) -> str:
    """One element; an underscore in a name stands for a hyphen."""
    told = (f'{name.replace("_", "-")}="{_short(value)}"' for name, value in style.items())
    return f"<{tag} {' '.join(told)}/>"


def _short(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def text(
    x: float,
    y: float,
    words: str,
    anchor: Anchor = "start",
    fill: str = INK,
    bold: bool = False,
    size: float = 0,
) -> str:
    """One line of text with its base at y; `size`: of its letters, where they are not as the rest."""
    style = (f' font-size="{size:g}"' if size else "") + (' font-weight="bold"' if bold else "")
    inside = escape(clean(words))
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{fill}"{style}>{inside}</text>'


def line(x1: float, y1: float, x2: float, y2: float, stroke: str = RULE, dash: str = "") -> str:
    """A thin straight line."""
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{stroke}"{broken}/>'


def path(points: Sequence[tuple[float, float]], stroke: str, dash: str = "", width: float = 2.0) -> str:
    """A line through points."""
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    through = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{through}" fill="none" stroke="{stroke}" stroke-width="{width:g}"{broken}/>'


def area(points: Sequence[tuple[float, float]], fill: str) -> str:
    """A filled area."""
    through = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polygon points="{through}" fill="{fill}"/>'


def box(x: float, y: float, width: float, height: float, fill: str) -> str:
    """A filled box."""
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{max(width, 0):.1f}" height="{height:.1f}" fill="{fill}"/>'


def dot(x: float, y: float, fill: str) -> str:
    """A small disc."""
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.6" fill="{fill}"/>'


def wrapped(words: str, columns: int, most: int = 2) -> list[str]:
    """Words in at most so many lines, cut with dots."""
    return textwrap.wrap(words, columns, max_lines=most, placeholder=" ...") or [""]


def spread(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """The places moved so that neighbours keep a gap, between low and high while there is room; order is kept."""
    order = sorted(range(len(places)), key=lambda i: places[i])
    found = [0.0] * len(places)
    floor = low
    for i in order:
        found[i] = max(places[i], floor)
        floor = found[i] + gap
    ceiling = high
    for i in reversed(order):
        found[i] = min(found[i], ceiling)
        ceiling = found[i] - gap
    return found
