"""Every page of docs/ that is made, made anew: `python -m tests.pages` (minutes: machines are drawn for one)."""

from __future__ import annotations

from diagnose.knowledge.loader import load, shipped_folder
from tests import supply
from tests.pages import beside, commands, reconcile
from tests.pages.rules import DOCS, generated


def main() -> None:
    """Write them."""
    knowledge = load(shipped_folder())
    pages = generated() | {
        commands.PAGE: commands.page(),
        DOCS / "licences.md": supply.licences() + "\n",
        reconcile.PAGE: reconcile.page(knowledge),
        beside.PAGE: beside.page(knowledge),
    }
    for path, text in pages.items():
        path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
