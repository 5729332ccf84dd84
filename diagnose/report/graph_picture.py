"""A neighbourhood of the knowledge as a picture: causes at the left, what they lead to further right.

Boxes stand in columns, one above the other; a link that skips a column runs through a lane of its own there
(Sugiyama, Tagawa & Toda, IEEE Trans. SMC-11, 1981, from memory), and every link ends at a port of its own with its
strength beside it. So nothing can lie over anything else. Kinds differ by shape and line, never by colour.
"""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from diagnose.knowledge.records import Knowledge
from diagnose.report import svg
from diagnose.study.neighbours import Edge, Neighbourhood, columns

WIDTH, GAP, BETWEEN = 210, 150, 14
"""Of a box, between columns, between boxes; in units of the drawing, as all below."""
LINE, PORT, LANE = 15, 15, 18
"""Height of a line of words, of an end of a curve, of a curve that passes through a column."""
LETTERS = 30  # of a line in a box
STRIP = 42  # before each column, for the numbers: curves end there, so none crosses a number
MARGIN, HEAD, FOOT = 24, 56, 64  # round the picture, above and below it
SWEEPS = 12  # rounds of ordering; the crossings stop falling well before (Sugiyama et al. 1981)
INK, PAPER, SOFT = "#000", "#fff", "#666"


@dataclass(eq=False)
class _Box:
    """A record, or a lane (`lines` empty) that lets a link pass through a column."""

    id: str
    column: int
    lines: list[str] = field(default_factory=list)
    before: list[_Box] = field(default_factory=list)
    after: list[_Box] = field(default_factory=list)
    strengths: dict[int, float] = field(default_factory=dict)
    top: float = 0.0

    @property
    def height(self) -> float:
        """Room for the words and for a port for every link that comes in."""
        if not self.lines:
            return LANE
        return max(LINE * len(self.lines) + 14, PORT * max(len(self.before), len(self.after)) + 8)

    @property
    def left(self) -> float:
        return MARGIN + self.column * (WIDTH + GAP)

    @property
    def middle(self) -> float:
        return self.top + self.height / 2

    def port(self, other: _Box) -> float:
        """Height of the port of a link from or to the other box."""
        side = self.before if other in self.before else self.after
        return self.middle + (side.index(other) - (len(side) - 1) / 2) * PORT


def picture(knowledge: Knowledge, hood: Neighbourhood) -> str:
    """The SVG text of a neighbourhood."""
    boxes = _boxes(knowledge, hood)
    stacks = _stacked(boxes)
    _ordered(stacks)
    _placed(stacks)
    width = max(MARGIN * 2 + len(stacks) * (WIDTH + GAP) - GAP, 640)
    height = max(box.top + box.height for box in boxes) + FOOT
    title = f"Around: {_record(knowledge, hood.centre)[1]}"
    shapes = [
        svg.box(0, 0, width, height, PAPER),
        _text(MARGIN, MARGIN + 12, title, bold=True, size=16),
        _text(MARGIN, MARGIN + 30, _note(hood), fill=SOFT),
        *(shape for box in boxes for other in box.after for shape in _link(box, other)),
        *(shape for box in boxes for shape in _drawn(knowledge, hood, box)),
        *_legend(height),
    ]
    return svg.drawing(width, height, title, _note(hood), shapes, INK, svg.sized(width, height))


def _boxes(knowledge: Knowledge, hood: Neighbourhood) -> list[_Box]:
    """A box for each record, and a lane for each column that a link passes."""
    column = columns(hood)
    first = min(column.values())
    boxes = {id: _Box(id, column[id] - first, _words(knowledge, id)) for id in hood.ids}
    lanes: list[_Box] = []
    for edge in hood.edges:
        at, end = boxes[edge.parent], boxes[edge.effect]
        for number in range(at.column + 1, end.column):
            lane = _Box("", number)
            lanes.append(lane)
            _join(at, lane, edge)
            at = lane
        _join(at, end, edge)
    return [*boxes.values(), *lanes]


def _join(left: _Box, right: _Box, edge: Edge) -> None:
    left.after.append(right)
    right.before.append(left)
    right.strengths[id(left)] = edge.strength


def _words(knowledge: Knowledge, id: str) -> list[str]:
    return textwrap.wrap(_record(knowledge, id)[1], LETTERS) or [id]


def _record(knowledge: Knowledge, id: str) -> tuple[str, str]:
    """Kind and name."""
    for kind, section in (("cause", "causes"), ("condition", "conditions"), ("finding", "findings")):
        if id in getattr(knowledge, section):
            return kind, getattr(knowledge, section)[id].name
    raise KeyError(id)


def _stacked(boxes: Iterable[_Box]) -> list[list[_Box]]:
    stacks: dict[int, list[_Box]] = defaultdict(list)
    for box in boxes:
        stacks[box.column].append(box)
    return [stacks[number] for number in range(max(stacks) + 1)]


def _ordered(stacks: Sequence[list[_Box]]) -> None:
    """Sort each column by the mean place of its neighbours, to and fro, so that few links cross."""
    for sweep in range(SWEEPS):
        rank = {id(box): i / len(stack) for stack in stacks for i, box in enumerate(stack)}
        forward = sweep % 2 == 0
        for stack in stacks if forward else reversed(stacks):
            around = {
                id(box): (box.before if forward else box.after) or box.after or box.before for box in stack
            }
            stack.sort(key=lambda box: _mean(rank, around[id(box)], rank[id(box)]))
            rank.update({id(box): i / len(stack) for i, box in enumerate(stack)})
    rank = {id(box): i for stack in stacks for i, box in enumerate(stack)}
    for box in (box for stack in stacks for box in stack):
        box.before.sort(key=lambda other: rank[id(other)])
        box.after.sort(key=lambda other: rank[id(other)])


def _mean(rank: dict[int, float], around: Sequence[_Box], otherwise: float) -> float:
    return sum(rank[id(box)] for box in around) / len(around) if around else otherwise


def _placed(stacks: Sequence[list[_Box]]) -> None:
    """Stack each column; shorter columns stand in the middle of the tallest."""
    tall = [sum(box.height + BETWEEN for box in stack) - BETWEEN for stack in stacks]
    for stack, height in zip(stacks, tall, strict=True):
        top = MARGIN + HEAD + (max(tall) - height) / 2
        for box in stack:
            box.top = top
            top += box.height + BETWEEN


def _note(hood: Neighbourhood) -> str:
    words = "Links point to the right; the number at each is how often it comes about, in 100."
    return words + (f" {hood.left_out} weaker ones are left out." if hood.left_out else "")


def _link(left: _Box, right: _Box) -> Iterator[str]:
    """A curve from port to port, thicker where the link is stronger; the number stands before the box."""
    x1, x2 = left.left + WIDTH, right.left
    y1 = left.port(right) if left.lines else left.middle
    y2 = right.port(left) if right.lines else right.middle
    strength = right.strengths[id(left)]
    end = x2 - STRIP
    bend = (end - x1) / 2
    path = f"M{x1:g},{y1:g} C{x1 + bend:g},{y1:g} {end - bend:g},{y2:g} {end:g},{y2:g}"
    path += "" if right.lines else f" H{x2:g}"
    yield svg.element("path", d=path, fill="none", stroke=INK, stroke_width=_thick(strength))
    if right.lines:
        yield _text(x2 - 25, y2 + 4, _percent(strength), "middle", size=11)
        head = f"M{x2 - 9:g},{y2 - 4:g} L{x2 - 1:g},{y2:g} L{x2 - 9:g},{y2 + 4:g} Z"
        yield svg.element("path", d=head, fill=INK)


def _percent(strength: float) -> str:
    return f"{100 * strength:.0f}" if strength >= 0.01 else f"{100 * strength:.1g}"


def _thick(strength: float) -> float:
    return round(0.6 + 2.2 * strength, 2)


def _drawn(knowledge: Knowledge, hood: Neighbourhood, box: _Box) -> Iterator[str]:
    """A record with its words, or the link that passes through a lane."""
    if not box.lines:
        thick = _thick(next(iter(box.strengths.values())))
        ends = {"x1": box.left, "y1": box.middle, "x2": box.left + WIDTH, "y2": box.middle}
        yield svg.element("line", **ends, stroke=INK, stroke_width=thick)
        return
    kind, centre = _record(knowledge, box.id)[0], box.id == hood.centre
    yield _frame(box.left, box.top, WIDTH, box.height, kind)
    if centre:
        yield _frame(box.left + 4, box.top + 4, WIDTH - 8, box.height - 8, kind)
    top = box.middle - LINE * len(box.lines) / 2 + 11
    for number, words in enumerate(box.lines):
        yield _text(box.left + WIDTH / 2, top + number * LINE, words, "middle", bold=centre)


_SHAPES: Mapping[str, Mapping[str, str]] = {
    "cause": {"stroke_width": "2.4"},
    "condition": {"stroke_width": "1.2", "rx": "9", "stroke_dasharray": "5 3"},
    "finding": {"stroke_width": "1"},
}
"""Cause: heavy frame; condition: round and dashed, it is hidden; finding: thin frame."""


def _frame(x: float, y: float, width: float, height: float, kind: str) -> str:
    place = {"x": x, "y": y, "width": width, "height": height}
    return svg.element("rect", **place, fill=PAPER, stroke=INK, **_SHAPES[kind])


def _legend(height: float) -> Iterator[str]:
    x = float(MARGIN)
    for kind, words in (("cause", "cause"), ("condition", "condition (hidden)"), ("finding", "finding")):
        yield _frame(x, height - 36, 34, 18, kind)
        yield _text(x + 42, height - 23, words)
        x += 60 + 8 * len(words)


_text = partial(svg.text, fill=INK, size=12)
