"""Where the shop's own file of rates and prices is looked for; see docs/shop.md."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_config_path

from diagnose.planning.shop import Shop

SHOP_FILE = "DIAGNOSE_SHOP"


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
    from diagnose.planning.shop_format import read_shop  # YAML takes its time; most shops have no file

    return read_shop(chosen)
