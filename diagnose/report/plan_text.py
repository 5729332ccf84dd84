"""The screen of a plan: what to do first, and then, result by result, to the end."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.moves.advice import Advice
from diagnose.planning.decide import Decision
from diagnose.planning.shop import Shop
from diagnose.report.checklist import what_to_type
from diagnose.report.move import move_lines
from diagnose.report.outline import OutlineStep, Way, end_words, outline
from diagnose.report.screen_words import listed, minutes, percent
from diagnose.report.text import QUIET, STRONG, WARN, Pieces, foot, head, item, line

RARE = 0.02
"""Ways reached less often than this are not shown unless all are asked for (judgement)."""
LONGEST_INDENT = 12  # columns; deeper, nothing would be left of 60


def plan_screen(
    advice: Advice,
    decision: Decision,
    everything: bool = False,
) -> RenderableType:
    """The next move, totals, then the tree: rarer results stand indented, the main line goes straight down."""
    diagnosis, shop = advice.diagnosis, advice.shop
    first = outline(diagnosis.knowledge, decision, 0.0 if everything else RARE)
    return Group(
        *head(diagnosis.knowledge, diagnosis.case),
        *move_lines(advice, everything),
        Text(""),
        *totals(decision, shop),
        line(
            "Cautions by name where they first come; before the steps of next and repair in words.",
            style=QUIET,
        ),
        Text(""),
        *_tree(first, shop, 0),
        *foot(what_to_type(advice, None)),
    )


def totals(decision: Decision, shop: Shop) -> Pieces:
    """What the plan costs in expectation and at worst, and what it saves against repairing at once."""
    saved = decision.repair_only - decision.cost
    alone = shop.money(decision.repair_only)
    against = f"{shop.money(saved)} less than" if saved > 1 else "no less than"
    yield line(
        f"Expected {shop.money(decision.cost)} and {minutes(60 * decision.hours)} of work to a proven repair; "
        f"{against} repairing at once without checks ({alone}).",
        style=STRONG,
    )
    yield line(f"Worst path, the dearest one in a hundred left out: {shop.money(decision.worst)}.")


def _tree(stop: OutlineStep, shop: Shop, indent: int, told: frozenset[str] = frozenset()) -> Pieces:
    """A step, its rarer ways indented, then the main line. `told`: cautions that the way so far has named."""
    yield from _step(stop, shop, indent, told)
    told |= {hazard.id for hazard in stop.step.hazards}
    for way in stop.sides:
        yield line(f"if {_seen(way)}:", indent + 2, STRONG)
        yield from _tree(way.to, shop, min(indent + 4, LONGEST_INDENT), told)
        if indent + 4 > LONGEST_INDENT:
            yield line("(end of this way)", LONGEST_INDENT, QUIET)
    yield from _not_shown(stop, indent)
    if stop.main:
        yield line(f"{_lead(stop)}{_seen(stop.main)}:", indent, STRONG)
        yield from _tree(stop.main.to, shop, indent, told)


def _lead(stop: OutlineStep) -> str:
    if stop.step.kind == "repair":
        return "if "
    return "otherwise, " if stop.sides else "then, "


def _not_shown(stop: OutlineStep, indent: int) -> Pieces:
    if words := not_shown(stop):
        yield line(words, indent + 2, QUIET)


def not_shown(stop: OutlineStep) -> str:
    """That there are other results; on a way that is rare itself, that all are left out."""
    if stop.rarer < 0.005:
        return ""
    if stop.step.kind == "repair":
        return "if still broken: note it, then plan again"
    if stop.main or stop.sides:
        return f"rarer results ({percent(stop.rarer)}): note them, then plan again"
    return "then: note what it shows, and plan again"


def _seen(way: Way) -> str:
    return f"{way.words} ({percent(way.probability)})"


def _step(stop: OutlineStep, shop: Shop, indent: int, told: frozenset[str]) -> Pieces:
    """The step with the cautions that are new on this way, by name, and its money."""
    step = stop.step
    yield item(step.kind.upper(), step.name, indent, mark_style=STRONG)
    new = [hazard.name for hazard in step.hazards if hazard.id not in told]
    if new:
        yield item("CAUTION", listed(new), indent + 2, mark_style=WARN)
    yield line(step_money(stop, shop), indent + 2, QUIET)


def step_money(stop: OutlineStep, shop: Shop) -> str:
    """`47 EUR; cured in 92 %; from here 3,570 EUR`: this step, and what is expected from here to the end."""
    counted = " with comebacks" if stop.step.kind == "repair" and stop.step.branches else ""
    own = f"{shop.money(stop.step.own_cost)}{counted}"
    rest = f"from here {shop.money(stop.step.cost)}" if stop.step.branches else ""
    return "; ".join(words for words in (own, end_words(stop), rest) if words)
