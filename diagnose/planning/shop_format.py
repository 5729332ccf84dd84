"""The shop's file of rates and prices: what may stand in it."""

from __future__ import annotations

from pathlib import Path

from diagnose.forms.fields import Amount, Field, FreeText, Map, Shape, demand
from diagnose.forms.reader import read_file
from diagnose.planning.shop import Shop

RATE = Amount(low=0, high=1e9, says="a sum of money")  # more is a slip of the pen, and sums of it overflow
USUAL = Shop()
SHOP = Shape(
    "a shop file",
    {
        "currency": Field(FreeText(), "how money is written", default=USUAL.currency),
        "labour": Field(RATE, "one hour of labour", default=USUAL.labour),
        "downtime": Field(RATE, "one hour that the machine stands", default=USUAL.downtime),
        "comeback": Field(RATE, "the machine comes back with the complaint", default=USUAL.comeback),
        "hand_over": Field(RATE, "somebody else finds it (the cure on top)", default=USUAL.hand_over),
        "horizon": Field(
            Amount(above=0, high=1e7, says="hours above 0"),
            "running hours to reckon ahead",
            default=USUAL.horizon,
        ),
        "consumables": Field(
            Amount(low=0, high=1, says="a share from 0 to 1"), "share of parts", default=USUAL.consumables
        ),
        "by": Field(FreeText(), "who notes, where nobody says (--by)", default=USUAL.by),
        "prices": Field(Map(RATE, keys=FreeText()), "own prices, by name of part", default={}),
    },
)


def read_shop(path: Path) -> Shop:
    """The rates and prices in a file, the defaults for what it leaves out. Raises DataError."""
    values = demand(SHOP, read_file(path))
    values["currency"], values["by"] = str(values["currency"]), str(values["by"])
    values["prices"] = {str(name): price for name, price in values["prices"].items()}
    return Shop(**values)
