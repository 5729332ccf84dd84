"""The screen of the shop's rates: what is reckoned with, and where it comes from."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.knowledge.records import Knowledge
from diagnose.planning.shop import Shop
from diagnose.planning.shop_format import SHOP
from diagnose.report.screen_words import listed
from diagnose.report.text import QUIET, STRONG, WARN, Pieces, grid, line, titled

IN_MONEY = ("labour", "downtime", "comeback", "hand_over")


def shop_screen(shop: Shop, file: Path | None, looked_for: Path, unknown: Iterable[str]) -> RenderableType:
    """The rates in force; `file`: where they stand, `looked_for`: where they would be looked for."""
    table = grid("left", "right", "left")
    for label, amount, meaning in _rates(shop):
        table.add_row(label, Text(amount, STRONG), Text(meaning, QUIET))
    return Group(
        Text("Rates and prices in force", STRONG),
        line(_origin(file, looked_for), style=QUIET),
        Text(""),
        table,
        *([line(f"Entries are noted by {shop.by}, where nobody says (--by).")] if shop.by else []),
        *_prices(shop),
        *_unknown(unknown),
    )


def unknown_parts(knowledge: Knowledge, shop: Shop) -> tuple[str, ...]:
    """Parts with an own price that no repair of the knowledge asks for: most often a misspelt name."""
    known = {part.name for repair in knowledge.repairs.values() for part in repair.parts}
    return tuple(name for name in shop.prices if name not in known)


def _rates(shop: Shop) -> list[tuple[str, str, str]]:
    return [
        *((name, exactly(shop, getattr(shop, name)), SHOP.fields[name].about) for name in IN_MONEY),
        ("horizon", f"{shop.horizon:,g} h", "running hours reckoned ahead"),
        ("consumables", f"{shop.consumables:.1%}", "added to the price of parts"),
    ]


def exactly(shop: Shop, amount: float) -> str:
    """A rate or price as it was set, not rounded as sums are."""
    return f"{amount:,.2f} {shop.currency}"


def _origin(file: Path | None, looked_for: Path) -> str:
    if file is not None:
        return f"From {file}; what it does not set is a usual figure."
    return f"Usual figures, meant to be replaced: there is no file {looked_for} (or set DIAGNOSE_SHOP, or --shop)."


def _prices(shop: Shop) -> Pieces:
    if shop.prices:
        table = grid("right", "left")
        for name, price in shop.prices.items():
            table.add_row(exactly(shop, price), name)
        yield titled("Own prices of parts", table)


def _unknown(unknown: Iterable[str]) -> Pieces:
    if names := list(unknown):
        yield line(
            f"No repair of the knowledge asks for {listed(names, 'or')}: is the name spelt so?", style=WARN
        )
