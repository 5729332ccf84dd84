"""A plan drawn for the wall: A3 landscape, black on white, the main line down the left side."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import FancyBboxPatch

from diagnose.knowledge.records import Knowledge
from diagnose.planning.decide import Decision
from diagnose.planning.shop import Shop
from diagnose.report.outline import OutlineStep, Way, outline
from diagnose.report.plan_text import not_shown, step_money
from diagnose.report.screen_words import CAUTION, minutes, percent

A3 = (16.54, 11.69)  # inches, landscape
MOST_ROWS, MOST_COLUMNS = 13, 4  # boxes that stay legible on the page
RARITIES = (0.005, *(0.01 * step for step in range(1, 31)))
"""How rare a way must be to be left out: the first of these that leaves a picture that fits."""
WIDEST = 5.4  # inches, a column
TOP, BOTTOM, EDGE = 0.9, 0.4, 0.3  # margins, inches
POINTS = 72.0  # an inch
LETTER = 0.56  # width of a letter, in its height
LARGEST, SMALLEST = 9.0, 5.0  # letters, points
INSET = 0.12  # room left and right of the words in a box, inches


@dataclass(frozen=True, slots=True)
class Box:
    """A step on the grid, and the way that led there from `before` (None for the first)."""

    stop: OutlineStep
    row: int
    column: int
    way: Way | None = None
    before: tuple[int, int] | None = None


def draw(knowledge: Knowledge, decision: Decision, shop: Shop, title: str, file: Path) -> None:
    """Write the plan to a .svg or .png. Rare ways are left out until the page holds the rest."""
    boxes = arranged(knowledge, decision)
    figure = Figure(figsize=A3)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, A3[0])
    axes.set_ylim(0, A3[1])
    axes.axis("off")
    grid = PlanLayout(max(box.row for box in boxes) + 1, max(box.column for box in boxes) + 1)
    _head(axes, decision, shop, title)
    size = min(_size(grid, box, shop) for box in boxes)
    for box in boxes:
        _edge(axes, grid, box, size)
        _box(axes, grid, box, shop, size)
    figure.savefig(file, dpi=150)


def arranged(knowledge: Knowledge, decision: Decision) -> tuple[Box, ...]:
    """Every step shown with its place on the grid; no two on one place."""
    found: tuple[Box, ...] = ()
    for rare in RARITIES:
        found = tuple(_placed(outline(knowledge, decision, rare), 0, 0))
        if max(b.row for b in found) < MOST_ROWS and max(b.column for b in found) < MOST_COLUMNS:
            break
    return found


def _placed(
    stop: OutlineStep, row: int, column: int, way: Way | None = None, before: tuple[int, int] | None = None
) -> Iterator[Box]:
    """The step, the ways beside it from its own row on, the main line below all of them."""
    yield Box(stop, row, column, way, before)
    here, below = (row, column), row
    for side in stop.sides:
        yield from _placed(side.to, below, column + 1, side, here)
        below += _height(side.to)
    if stop.main:
        yield from _placed(stop.main.to, max(below, row + 1), column, stop.main, here)


def _height(stop: OutlineStep) -> int:
    """Rows that a step takes with everything after it."""
    beside = sum(_height(side.to) for side in stop.sides)
    return max(1, beside) + (_height(stop.main.to) if stop.main else 0)


@dataclass(frozen=True, slots=True)
class PlanLayout:
    """Places in inches. Between two columns and two rows there is room for the words on the ways."""

    rows: int
    columns: int

    @property
    def cell(self) -> tuple[float, float]:
        """Width and height of a cell."""
        width = (A3[0] - 2 * EDGE) / self.columns
        return min(width, WIDEST), (A3[1] - TOP - BOTTOM) / self.rows

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of a box."""
        width, height = self.cell
        return min(0.66 * width, 3.6), min(0.62 * height, 0.95)

    def corner(self, row: int, column: int) -> tuple[float, float]:
        """The lower left corner of a box."""
        width, height = self.cell
        return EDGE + column * width, A3[1] - TOP - row * height - self.size[1]


def _head(axes: Axes, decision: Decision, shop: Shop, title: str) -> None:
    left = EDGE, A3[1] - 0.4
    axes.text(*left, title, fontsize=15, weight="bold", va="center")
    told = (
        f"Expected {shop.money(decision.cost)} and {minutes(60 * decision.hours)} of work; repairing at once "
        f"{shop.money(decision.repair_only)}; worst path {shop.money(decision.worst)}. "
        "Rare results are not shown: note them and plan again."
    )
    axes.text(EDGE, A3[1] - 0.68, told, fontsize=9, va="center")
    foot = f"Cautions and steps of each check: diagnose next; of each repair: diagnose repair. {CAUTION}"
    axes.text(EDGE, 0.18, foot, fontsize=8, va="center")


def _size(grid: PlanLayout, box: Box, shop: Shop) -> float:
    """The largest letters that this box holds, in points."""
    width, height = grid.size
    return fitted(list(_words(box.stop, shop)), width - INSET, height - INSET / 2)[0]


def _box(axes: Axes, grid: PlanLayout, box: Box, shop: Shop, size: float) -> None:
    """Checks have thin edges, repairs thick ones, handing over is dashed: to be told apart without colour."""
    (x, y), (width, height) = grid.corner(box.row, box.column), grid.size
    kind = box.stop.step.kind
    line = {"check": 0.8, "repair": 2.4}.get(kind, 1.2)
    style = "--" if kind == "hand over" else "-"
    axes.add_patch(
        FancyBboxPatch(
            (x, y),
            width,
            height,
            boxstyle="round,pad=0,rounding_size=0.06",
            facecolor="white",
            edgecolor="black",
            linewidth=line,
            linestyle=style,
        )
    )
    _, lines = fitted(list(_words(box.stop, shop)), width - INSET, height - INSET / 2, size)
    axes.text(x + 0.06, y + height / 2, "\n".join(lines), fontsize=size, va="center", linespacing=1.15)


def _words(stop: OutlineStep, shop: Shop) -> Iterator[str]:
    """What stands in a box; what stops everything stands first."""
    yield from (f"STOP FIRST: {hazard.name}" for hazard in stop.step.hazards if hazard.stop)
    yield f"{stop.step.kind.upper()}: {stop.step.name}"
    yield step_money(stop, shop)
    if not (stop.main or stop.sides) and not_shown(stop):
        yield not_shown(stop)


def fitted(
    texts: list[str], width: float, height: float, largest: float = LARGEST
) -> tuple[float, list[str]]:
    """The largest letters (points) with which the texts, wrapped, fit into a box of this size (inches)."""
    size = largest
    while True:
        letters = max(8, int(width * POINTS / (LETTER * size)))
        lines = [line for text in texts for line in wrap(text, letters)]
        most = max(1, int(height * POINTS / (1.25 * size)))
        if len(lines) <= most:
            return size, lines
        if size <= SMALLEST:
            return size, [*lines[: most - 1], "..."]
        size -= 0.5


def _edge(axes: Axes, grid: PlanLayout, box: Box, largest: float) -> None:
    """The way from the step before: straight down the main line, or out to the right."""
    if box.before is None or box.way is None:
        return
    (x, y), (width, height) = grid.corner(box.row, box.column), grid.size
    (x0, y0) = grid.corner(*box.before)
    arrow = {"arrowstyle": "-|>", "color": "black", "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}
    words = f"{box.way.words} ({percent(box.way.probability)})".replace(" %", "\u00a0%")  # never broken
    if box.column == box.before[1]:
        middle = x + 0.2
        axes.annotate("", (middle, y + height), (middle, y0), arrowprops=arrow)
        room = grid.cell[1] - height - 0.04, grid.size[0] - 0.3
        size, lines = fitted([words], room[1], min(room[0], 0.5), largest)
        axes.text(
            middle + 0.08, y + height + 0.03, "\n".join(lines), fontsize=size, va="bottom", linespacing=1.1
        )
        return
    turn = x0 + width + 0.12
    end = y + height / 2
    axes.plot([x0 + width, turn, turn], [y0 + height / 2, y0 + height / 2, end], color="black", linewidth=0.8)
    axes.annotate("", (x, end), (turn, end), arrowprops=arrow)
    size, lines = fitted([words], x - turn - 0.16, height / 2 + 0.1, largest)
    axes.text(turn + 0.05, end + 0.03, "\n".join(lines), fontsize=size, va="bottom", linespacing=1.1)
