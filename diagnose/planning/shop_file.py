"""The shop's own file of rates and prices; see docs/shop.md."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_config_path

from diagnose.knowledge.fields import Amount, Field, Map, Shape, Text, demand
from diagnose.planning.shop import Shop

SHOP_FILE = "DIAGNOSE_SHOP"
RATE = Amount(low=0, says="a sum of money, not negative")
USUAL = Shop()
SHOP = Shape(
    "a shop file",
    {
        "currency": Field(Text(), "how money is written", default=USUAL.currency),
        "labour": Field(RATE, "one hour of labour", default=USUAL.labour),
        "downtime": Field(RATE, "one hour that the machine stands", default=USUAL.downtime),
        "comeback": Field(RATE, "the machine comes back with the complaint", default=USUAL.comeback),
        "hand_over": Field(RATE, "somebody else finds it (the cure on top)", default=USUAL.hand_over),
        "horizon": Field(
            Amount(above=0, says="hours above 0"), "running hours to reckon ahead", default=USUAL.horizon
        ),
        "consumables": Field(
            Amount(low=0, high=1, says="a share from 0 to 1"), "share of parts", default=USUAL.consumables
        ),
        "prices": Field(Map(RATE, keys=Text()), "own prices, by name of part", default={}),
    },
)


def shop_file() -> Path:
    """Where the shop's file is looked for: DIAGNOSE_SHOP, else `shop.yaml` in the user's configuration folder."""
    named = os.environ.get(SHOP_FILE)
    return Path(named) if named else user_config_path("diesel-diagnose") / "shop.yaml"


def file_in_force(path: Path | None = None) -> Path | None:
    """The file with the shop's rates: the one named, else the one looked for; None where there is none."""
    chosen = path or shop_file()
    named = path is not None or bool(os.environ.get(SHOP_FILE))
    return chosen if named or chosen.exists() else None


def load_shop(path: Path | None = None) -> Shop:
    """The shop's rates; the defaults where there is no file and none was named. Raises DataError."""
    chosen = file_in_force(path)
    if chosen is None:
        return Shop()
    from diagnose.knowledge.reader import read_file

    values = demand(SHOP, read_file(chosen))
    values["currency"] = str(values["currency"])
    values["prices"] = {str(name): price for name, price in values["prices"].items()}
    return Shop(**values)
