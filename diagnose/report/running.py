"""May the machine run on? The line that stands above everything that can wait. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.planning.keep_running import MOVE, RUN, STOP, KeepRunning
from diagnose.planning.shop import Shop
from diagnose.report.text import WARN, Pieces, item
from diagnose.report.words import minutes, percent

MOST = 3


def running_lines(advice: Iterable[KeepRunning], shop: Shop) -> Pieces:
    """The strongest advice first, one paragraph a cause; nothing where all may run to the shop."""
    serious = [one for one in advice if one.advice != RUN]
    for one in sorted(serious, key=lambda one: one.advice != STOP)[:MOST]:
        yield item(one.advice.upper(), running_words(one, shop), mark_style=WARN)


def running_words(one: KeepRunning, shop: Shop) -> str:
    """What would be wrecked, in money, and what settles it."""
    only = ", no further than out of the way" if one.advice == MOVE else ""
    return (
        f"{one.cause.name} ({percent(one.cause.probability)}): {one.what}. Expected damage: running on "
        f"{shop.money(one.running)}, moving it{only} {shop.money(one.moving)}. {_settled_by(one, shop)}"
    )


def _settled_by(one: KeepRunning, shop: Shop) -> str:
    if one.check is None:
        return "No check of the knowledge settles it: treat it as there."
    takes = f"{minutes(one.check.minutes)}, {shop.money(one.ruling_out)} with dismantling"
    return f"Settle it first: {one.check.name} ({takes})."
