"""Machines as they arrive, as plain values and on the screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.knowledge.records import Knowledge
from diagnose.report.text import QUIET, STRONG, grid, line, titled
from diagnose.study.arrivals import Arrivals, Estimate

SHOWN = 5
"""Systems and causes shown of each family, as a rule."""


def arrivals_data(knowledge: Knowledge, found: Sequence[Arrivals]) -> dict[str, Any]:
    """What arrives, as plain values; an error is one standard error."""
    return {"families": [_family(knowledge, one) for one in found]}


def _family(knowledge: Knowledge, one: Arrivals) -> dict[str, Any]:
    means = {
        "roots_per_arrival": one.roots_per_arrival,
        "none_listed": one.none_listed,
        "complaints_per_arrival": one.complaints_per_arrival,
        "consequences_per_arrival": one.consequences_per_arrival,
        "came_in": one.came_in,
        "events_per_1000_hours": one.events_per_1000_hours,
    }
    return {
        "family": one.family,
        "machines": one.machines,
        "drawn": one.drawn,
        "window_hours": one.window,
        **{name: mean.value for name, mean in means.items()},
        "errors": {name: mean.error for name, mean in means.items()},
        "systems": {id: share.value for id, share in one.systems.items()},
        "system_errors": {id: share.error for id, share in one.systems.items()},
        "system_events_per_1000_hours": {id: rate.value for id, rate in one.per_1000_hours.items()},
        "first": [
            {
                "cause": often.cause,
                "name": knowledge.causes[often.cause].name,
                "system": knowledge.causes[often.cause].system,
                "share": often.share.value,
                "error": often.share.error,
            }
            for often in one.first
        ],
    }


def arrivals_screen(knowledge: Knowledge, found: Sequence[Arrivals], limit: int = SHOWN) -> RenderableType:
    """A line for each family, then what stands behind its complaints."""
    return Group(
        line("Machines as they arrive", style=STRONG),
        line(
            f"{found[0].machines} machines with a complaint, drawn for each family. A fault counts where it "
            "arose of itself and is behind a complaint. After +- one standard error."
        ),
        Text(""),
        _summary(knowledge, found),
        *(piece for one in found for piece in _detail(knowledge, one, limit)),
    )


def _summary(knowledge: Knowledge, found: Sequence[Arrivals]) -> RenderableType:
    table = grid("right", "right", "right", "left")
    table.add_row(*(Text(head, QUIET) for head in ("faults", "complaints", "not listed", "")))
    for one in found:
        table.add_row(
            _number(one.roots_per_arrival),
            _number(one.complaints_per_arrival),
            _in_100(one.none_listed),
            family_name(knowledge, one.family),
        )
    return table


def _detail(knowledge: Knowledge, one: Arrivals, limit: int) -> Iterator[RenderableType]:
    systems = sorted(one.systems.items(), key=lambda item: -item[1].value)
    rows = [(share, knowledge.systems[id].name) for id, share in systems if share.value > 0]
    causes = [(often.share, f"{knowledge.causes[often.cause].name} ({often.cause})") for often in one.first]
    yield titled(family_name(knowledge, one.family), *_shares("By system of the fault", rows, limit))
    yield from _shares("Faults most often there", causes, limit)


def _shares(title: str, rows: Sequence[tuple[Estimate, str]], limit: int) -> Iterator[RenderableType]:
    table = grid("right", "left")
    for share, words in rows[:limit]:
        table.add_row(_in_100(share), words)
    if len(rows) > limit:
        table.add_row("", Text(f"and {len(rows) - limit} more: --limit {len(rows)} shows all", QUIET))
    yield line(title, style=QUIET)
    yield table


def family_name(knowledge: Knowledge, id: str) -> str:
    """The family's name; without one, any machine."""
    return knowledge.families[id].name if id else "A machine of which nothing is known"


def _number(one: Estimate) -> str:
    return f"{one.value:.2f} +- {one.error:.2f}"


def _in_100(one: Estimate) -> str:
    return f"{100 * one.value:.1f} +- {100 * one.error:.1f} %"
